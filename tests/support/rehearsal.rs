//! A rendered rehearsal, reviewed: what was planted in it against what is found.

use std::path::Path;

use deskside::audio::TrustHeader;
use deskside::coach::{Advice, Aims, Judgement, NoteLimit, Options, Outcome, coach};
use deskside::reading::Reading;
use deskside::run;
use deskside::session::Session;
use serde_json::Value;

use super::demo;

/// Times are told to about a tenth of a second; a note has to name its place within a second.
const WITHIN_S: f64 = 1.0;

/// A rendered rehearsal, its reading and what the coach says.
pub(crate) struct Rehearsal {
    truth: Value,
    pub(crate) reading: Reading,
    advice: Advice,
}

impl Rehearsal {
    pub(crate) fn of_folder(folder: &Path) -> Reading {
        let session = Session::open(folder, TrustHeader::No).unwrap();
        run::read(&session, TrustHeader::No, &|_| {}).unwrap()
    }

    pub(crate) fn of(folder: &Path) -> Self {
        let reading = Self::of_folder(folder);
        let options = Options { notes: NoteLimit::All, ..Options::default() };
        let advice = coach(&reading, &Aims::default(), &options);
        Self { truth: demo::truth(folder), reading, advice }
    }

    pub(crate) fn ids(&self, names: &Value) -> Vec<&str> {
        let names = names.as_array().unwrap().iter().map(|name| name.as_str().unwrap());
        names
            .map(|name| {
                let channel = self.reading.channels.iter().find(|channel| channel.name == name);
                channel.unwrap_or_else(|| panic!("no channel {name}")).id.as_str()
            })
            .collect()
    }

    /// What a rule finds that is off target and no mere check.
    pub(crate) fn findings(&self, rule: &str) -> Vec<&Judgement> {
        self.advice
            .judgements
            .iter()
            .filter(|one| one.rule.id == rule && !one.is_check)
            .filter(|one| matches!(one.outcome, Outcome::Near | Outcome::Outside))
            .collect()
    }

    /// Asserts that a planted thing is found in its channels and at its time.
    pub(crate) fn finds(&self, rule: &str) {
        let planted = self.truth["planted"].as_array().unwrap();
        let planted: Vec<&Value> = planted.iter().filter(|one| one["rule"] == rule).collect();
        assert!(!planted.is_empty(), "{rule} is planted");
        for plant in planted {
            let ids = self.ids(&plant["channels"]);
            let found = self.findings(rule);
            let is_meant = |one: &&&Judgement| {
                let told = channels_of(one);
                ids.iter().all(|id| told.iter().any(|other| other == id))
            };
            let meant: Vec<&&Judgement> = found.iter().filter(is_meant).collect();
            assert!(!meant.is_empty(), "{rule} is found on {ids:?}: {plant}");
            if let (Some(start_s), Some(end_s)) =
                (plant["start_s"].as_f64(), plant["end_s"].as_f64())
            {
                let evidence: Vec<(f64, f64)> =
                    meant.iter().flat_map(|finding| evidence_of(finding)).collect();
                let is_there = evidence.iter().any(|(from_s, to_s)| {
                    let middle_s = 0.5 * (from_s + to_s);
                    start_s - WITHIN_S <= middle_s && middle_s <= end_s + WITHIN_S
                });
                assert!(is_there, "{rule} at {start_s} to {end_s} s, found {evidence:?}");
            }
        }
    }

    /// Asserts that the jump of the main mix into the recording is found, which was planted in the recording's channels.
    pub(crate) fn level_jumps_into_playback(&self) {
        let planted = self.truth["planted"].as_array().unwrap();
        let jump = planted.iter().find(|one| one["rule"] == "segment-jump").unwrap();
        let [start_s, end_s] = ["start_s", "end_s"].map(|key| jump[key].as_f64().unwrap());
        let found = self.findings("segment-jump");
        let evidence: Vec<(f64, f64)> = found.iter().flat_map(|one| evidence_of(one)).collect();
        let is_there = |&(from_s, to_s): &(f64, f64)| from_s < end_s && start_s < to_s;
        assert!(evidence.iter().any(is_there), "planted {jump}, found {evidence:?}");
    }

    /// Asserts that the trainee reads the expected strength, notes and focus, and the lead what is the lead's.
    pub(crate) fn the_page_says_what_is_expected(&self) {
        let expected = &self.truth["expected"];
        let words = |list: &Value| -> Vec<String> {
            list.as_array().unwrap().iter().map(|one| one.as_str().unwrap().to_owned()).collect()
        };
        let advice = coach(&self.reading, &Aims::default(), &Options::default());
        let notes: Vec<&str> = advice.notes.iter().map(|note| note.rule.id).collect();
        assert_eq!(notes, words(&expected["trainee_notes"]), "notes, the first that matters most");
        let strength = expected["strength"].as_str().unwrap();
        assert_eq!(advice.strengths[0].rule, strength, "what worked well");
        assert_eq!(advice.focus.unwrap().rule, expected["focus"].as_str().unwrap(), "focus");
        let mut lead: Vec<&str> = advice.lead.iter().map(|note| note.rule.id).collect();
        let mut expected = words(&expected["lead"]);
        lead.sort_unstable();
        expected.sort_unstable();
        assert_eq!(lead, expected, "hall and gear");
    }

    /// Asserts that no trap of the take springs.
    pub(crate) fn no_trap_fires(&self) {
        let traps = self.truth["traps"].as_array().unwrap();
        assert!(!traps.is_empty(), "the take has traps");
        for trap in traps {
            let ids = self.ids(&trap["channels"]);
            for rule in trap["rules"].as_array().unwrap() {
                for finding in self.findings(rule.as_str().unwrap()) {
                    let is_hit =
                        channels_of(finding).iter().any(|channel| ids.contains(&channel.as_str()));
                    assert!(!is_hit, "{rule} is fooled by: {} ({finding:?})", trap["what"]);
                }
            }
        }
    }

    /// Asserts that the mix is explained, and that rumble is found where the desk let it through.
    pub(crate) fn the_mix_is_told(&self) {
        let rumbling = self.findings("hpf-missing");
        for name in ["Host HH", "BV 1", "bvox2", "Fiddle"] {
            let id = self.ids(&serde_json::json!([name]))[0];
            let is_found =
                rumbling.iter().any(|one| channels_of(one).iter().any(|told| told == id));
            assert!(is_found, "{name} rumbles in the mix: its high-pass is off");
        }
        let mix = self.reading.mix.as_ref().unwrap();
        let share = mix.explained_share.value().unwrap();
        assert!(share > 0.94, "all that is in the mix was recorded: {share} is explained");
    }

    /// Rules with a finding, each once, in register order.
    pub(crate) fn rules(&self) -> Vec<&str> {
        let mut rules: Vec<&str> = Vec::new();
        for one in &self.advice.judgements {
            let is_off = matches!(one.outcome, Outcome::Near | Outcome::Outside) && !one.is_check;
            if is_off && !rules.contains(&one.rule.id) {
                rules.push(one.rule.id);
            }
        }
        rules
    }

    /// Asserts that every channel has the role that it was given on the stage.
    pub(crate) fn roles_are_right(&self) {
        for planted in self.truth["channels"].as_array().unwrap() {
            let name = planted["name"].as_str().unwrap();
            let channel = self.reading.channels.iter().find(|channel| channel.name == name);
            let Some(channel) = channel else { continue };
            let role = serde_json::to_value(channel.role).unwrap();
            assert_eq!(role, planted["role"], "role of {name}");
            assert_eq!(channel.role_by_sound, None, "{name} sounds like what it is");
        }
    }

    /// Share of channels whose loud level lies within a decibel of the source alone, of those that are measured, 0 to 100.
    pub(crate) fn levels_right_percent(&self) -> f64 {
        let (mut n_right, mut n_measured) = (0.0, 0.0);
        for planted in self.truth["channels"].as_array().unwrap() {
            // Overheads hear the whole kit: the truth knows their cymbals alone.
            if planted["role"] == "overhead" {
                continue;
            }
            let channel = self.reading.channels.iter().find(|one| one.name == planted["name"]);
            let loud = channel.and_then(|one| one.loud_level_dbfs.value());
            if let (Some(loud_dbfs), Some(own_dbfs)) = (loud, planted["own_loud_dbfs"].as_f64()) {
                n_measured += 1.0;
                n_right += f64::from(u8::from((loud_dbfs - own_dbfs).abs() <= 1.0));
            }
        }
        assert!(n_measured >= 15.0, "enough channels are measured, found {n_measured}");
        100.0 * n_right / n_measured
    }

    /// Asserts that the three songs of the full take begin when they do.
    pub(crate) fn songs_begin_when_they_do(&self) {
        let songs: Vec<f64> = self
            .reading
            .segments_of(deskside::reading::SegmentKind::Song)
            .map(|song| song.span.start_s)
            .collect();
        for (found_s, planted_s) in songs.iter().zip([80.0, 215.0, 350.0]) {
            assert!(
                (found_s - planted_s).abs() <= WITHIN_S,
                "song at {planted_s} s, found {found_s}"
            );
        }
        assert_eq!(songs.len(), 3, "three songs");
    }

    /// Planted amounts of a rule, in order.
    pub(crate) fn amounts(&self, rule: &str) -> Vec<f64> {
        let planted = self.truth["planted"].as_array().unwrap();
        let of_rule = planted.iter().filter(|one| one["rule"] == rule);
        of_rule.map(|one| one["amount"]["value"].as_f64().unwrap()).collect()
    }

    /// Asserts that decay, howl and wedges read what was planted.
    pub(crate) fn hall_and_feedback_are_told(&self) {
        let room = self.reading.room.as_ref().expect("there is a hall microphone");
        // Claps: 93 of 100 octaves within the just noticeable difference, 5 % (ISO 3382-1, table A.1).
        for (rule, found) in [("room-long", &room.decay_s), ("room-boom", &room.low_decay_ratio)] {
            let (found, planted) = (found.value().unwrap(), self.amounts(rule)[0]);
            assert!((found / planted - 1.0).abs() <= 0.05, "{rule}: {planted}, found {found}");
        }
        // Planted is what the hall microphone hears of the stage alone, rendered without loudspeakers, over the rest.
        for (song, planted_db) in room.songs.iter().zip(self.amounts("stage-loud")) {
            let [low, high] = song.stage_db.ends().unwrap();
            assert!(low <= planted_db && planted_db <= high, "{planted_db}: {low} to {high}");
        }
        let howls = &self.reading.feedback.howls;
        assert_eq!(howls.len(), 1, "one howl: {howls:?}");
        let planted_hz = self.amounts("feedback-howl")[0];
        assert!((howls[0].frequency_hz - planted_hz).abs() <= 1.0, "{:?}", howls[0]);
        for planted_db in self.amounts("wedge-off-null") {
            let is_near = |level_db: f64| (level_db + planted_db).abs() <= 0.3;
            let wedges = &self.reading.feedback.wedges;
            let found = wedges.iter().any(|one| one.level_db.value().is_some_and(is_near));
            assert!(found, "a wedge heard at -{planted_db} dB: {wedges:?}");
        }
        let rings = || self.reading.feedback.ringing.iter().flat_map(|one| &one.rings);
        let planted_hz = self.amounts("ring-near")[0];
        for ring in rings() {
            assert!((ring.frequency_hz - planted_hz).abs() <= 3.0, "{ring:?} is planted");
        }
        let n_told: usize = rings().map(|ring| ring.at.len()).sum();
        assert!(n_told >= 2, "two of five planted rings are told, found {n_told}");
    }
}

/// Channels that a judgement is about, as JSON tells them.
fn channels_of(judgement: &Judgement) -> Vec<String> {
    let told = serde_json::to_value(judgement).unwrap();
    let channels = told["channels"].as_array().unwrap().iter();
    channels.map(|id| id.as_str().unwrap().to_owned()).collect()
}

/// Where a judgement can be heard, as JSON tells it.
fn evidence_of(judgement: &Judgement) -> Vec<(f64, f64)> {
    let told = serde_json::to_value(judgement).unwrap();
    let evidence = told["evidence"].as_array().unwrap().iter();
    evidence
        .map(|span| (span["start_s"].as_f64().unwrap(), span["end_s"].as_f64().unwrap()))
        .collect()
}
