//! The whole way on the demo: planted things are found in the right channel at the right time, traps stay silent.

use std::path::Path;

use deskside::audio::TrustHeader;
use deskside::coach::{Advice, Aims, Judgement, NoteLimit, Options, Outcome, coach};
use deskside::demo::{Which, render};
use deskside::measure::decay::after_impulse;
use deskside::reading::{DecayFrom, Kinship, Reading};
use deskside::run;
use deskside::session::Session;
use serde_json::Value;

use crate::support::noise::Noise;
use crate::support::paths::{add_delayed, delayed};
use crate::support::signals::programme;
use crate::support::{demo, rooms, wave};

/// Times are told to about a tenth of a second; a note has to name its place within a second.
const WITHIN_S: f64 = 1.0;

/// A rendered evening, its reading and what the coach says.
struct Evening {
    truth: Value,
    reading: Reading,
    advice: Advice,
}

impl Evening {
    fn of_folder(folder: &Path) -> Reading {
        let session = Session::open(folder, TrustHeader::No).unwrap();
        run::read(&session, TrustHeader::No, &|_| {}).unwrap()
    }

    fn of(folder: &Path) -> Self {
        let reading = Self::of_folder(folder);
        let options = Options { notes: NoteLimit::All, ..Options::default() };
        let advice = coach(&reading, &Aims::default(), &options);
        Self { truth: demo::truth(folder), reading, advice }
    }

    fn ids(&self, names: &Value) -> Vec<&str> {
        let names = names.as_array().unwrap().iter().map(|name| name.as_str().unwrap());
        names
            .map(|name| {
                let channel = self.reading.channels.iter().find(|channel| channel.name == name);
                channel.unwrap_or_else(|| panic!("no channel {name}")).id.as_str()
            })
            .collect()
    }

    /// What a rule finds that is off target and no mere check.
    fn findings(&self, rule: &str) -> Vec<&Judgement> {
        self.advice
            .judgements
            .iter()
            .filter(|one| one.rule.id == rule && !one.is_check)
            .filter(|one| matches!(one.outcome, Outcome::Near | Outcome::Outside))
            .collect()
    }

    /// Asserts that a planted thing is found in its channels and at its time.
    fn finds(&self, rule: &str) {
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

    /// Asserts that no trap of the take springs.
    fn no_trap_fires(&self) {
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
    fn the_mix_is_told(&self) {
        let rumbling = self.findings("hpf-missing");
        for name in ["Host HH", "BV 1", "bvox2"] {
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
    fn rules(&self) -> Vec<&str> {
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
    fn roles_are_right(&self) {
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
    fn levels_right_percent(&self) -> f64 {
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
    fn songs_begin_when_they_do(&self) {
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
    fn amounts(&self, rule: &str) -> Vec<f64> {
        let planted = self.truth["planted"].as_array().unwrap();
        let of_rule = planted.iter().filter(|one| one["rule"] == rule);
        of_rule.map(|one| one["amount"]["value"].as_f64().unwrap()).collect()
    }

    /// Asserts that decay, howl and wedges read what was planted.
    fn hall_and_feedback_are_told(&self) {
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

/// The reading of a folder of short noise files, each with its name and rate.
fn reading_of(files: &[(&str, u32)]) -> Reading {
    let folder = tempfile::tempdir().unwrap();
    for (idx, (name, rate_hz)) in files.iter().enumerate() {
        let plane = Noise::new(idx as u64 + 1).samples(4 * *rate_hz as usize);
        wave::write_pcm24(&folder.path().join(format!("{name}.wav")), *rate_hz, &[&plane]);
    }
    let session = Session::open(folder.path(), TrustHeader::No).unwrap();
    run::read(&session, TrustHeader::No, &|_| {}).unwrap()
}

#[test]
fn partners_stay_partners_when_an_earlier_recording_is_left_out() {
    // 192,001 and 48,000 Hz have no common step: the resampler refuses them.
    let files = [("01 Flute", 192_001), ("02 Keys L", 48_000), ("03 Keys R", 48_000)];
    let reading = reading_of(&files);
    let told: Vec<(&str, Option<&str>)> = reading
        .channels
        .iter()
        .map(|channel| (channel.name.as_str(), channel.partner.as_deref()))
        .collect();
    assert_eq!(told, [("Keys L", Some("ch03")), ("Keys R", Some("ch02"))], "left and right");
    assert!(reading.warnings.iter().any(|warning| warning.contains("01 Flute")), "it is told");
}

#[test]
fn two_kick_microphones_are_one_source_and_three_are_not_paired() {
    let n_pairs = |names: &[(&str, u32)]| {
        let pairs = reading_of(names).pairs;
        pairs.iter().filter(|pair| pair.kinship == Kinship::SameSource).count()
    };
    assert_eq!(n_pairs(&[("01 Kick In", 48_000), ("02 Kick Out", 48_000)]), 1, "in and out");
    assert_eq!(
        n_pairs(&[("01 Kick In", 48_000), ("02 Kick Out", 48_000), ("03 Kick 2", 48_000)]),
        0,
        "whose partner the third is can't be known"
    );
}

#[test]
fn the_cut_gives_what_was_planted_and_nothing_that_was_not() {
    let evening = Evening::of(demo::cut());
    for rule in ["gain-too-low", "hum-buzz", "twin-channel"] {
        evening.finds(rule);
    }
    evening.no_trap_fires();
    evening.roles_are_right();
    // The rest is honest: the mix is brighter than records are, and above 5.6 kHz the voices lie 5 to 12 dB over what their
    // microphones hear in pauses while the hi-hat plays (computed from the tracks). The lead voice is soft at the input and in the mix,
    // and so below kick, fiddle, keys and backing voices.
    assert_eq!(
        evening.rules(),
        [
            "drums-loud",
            "gain-too-low",
            "fader-far",
            "mix-tilt",
            "voice-buried",
            "backing-over-lead",
            "lead-taken-over",
            "overheads-high",
            "hum-buzz",
            "twin-channel"
        ],
        "rules with a finding"
    );
    // Twenty channels and 40 s of song: the full take holds nine of ten.
    let percent = evening.levels_right_percent();
    assert!(percent >= 85.0, "85 % of the loud levels are the source's own, found {percent} %");
}

#[test]
fn the_full_take_gives_what_was_planted_in_raw_tracks_and_main() {
    let folder = tempfile::tempdir().unwrap();
    render(Which::Full, folder.path(), &mut |_| {}).unwrap();
    let evening = Evening::of(folder.path());
    for rule in [
        "gain-too-low",
        "hum-buzz",
        "twin-channel",
        "cue-late",
        "voice-buried",
        "speech-mic-in-songs",
        "feedback-howl",
        "room-long",
        "room-boom",
        "stage-loud",
    ] {
        evening.finds(rule);
    }
    evening.no_trap_fires();
    evening.roles_are_right();
    // The choir's microphone hears 10 dB more band than choir (computed from the truth). Kick, backing voices and overheads stand over
    // a lead voice that is 9 dB too soft in the first song.
    assert_eq!(
        evening.rules(),
        [
            "stage-loud",
            "drums-loud",
            "room-long",
            "room-boom",
            "choir-spill",
            "gain-too-low",
            "fader-far",
            "pair-polarity",
            "hpf-missing",
            "low-pile",
            "ess-hot",
            "mix-tilt",
            "comp-heavy",
            "voice-buried",
            "voice-masked",
            "backing-over-lead",
            "lead-taken-over",
            "solo-missed",
            "overheads-high",
            "fx-on-speech",
            "feedback-howl",
            "wedge-off-null",
            "segment-jump",
            "hum-buzz",
            "twin-channel",
            "cue-late",
            "speech-mic-in-songs"
        ],
        "rules with a finding"
    );
    evening.the_mix_is_told();
    evening.hall_and_feedback_are_told();
    let heard = evening.reading.line_check.heard_percent.value().unwrap();
    assert!(heard >= 80.0, "each of 24 inputs is alone for 2 s, heard {heard} %");
    let percent = evening.levels_right_percent();
    assert!(percent >= 90.0, "90 % of the loud levels are the source's own, found {percent} %");
    evening.songs_begin_when_they_do();
}

#[test]
fn one_instrument_on_two_nameless_inputs_is_recognised_and_strangers_are_not() {
    const RATE_HZ: u32 = 48_000;
    const LATER_SAMPLES: f64 = 61.5;
    let folder = tempfile::tempdir().unwrap();
    let players: Vec<Vec<f32>> = (1..=3).map(|seed| programme(seed, RATE_HZ, 40.0)).collect();
    let mut amplifier = delayed(&players[0], LATER_SAMPLES, 0.5);
    add_delayed(&mut amplifier, &players[1], 400.0, 0.02);
    let silent = vec![0.0; players[0].len()];
    let inputs = [&players[0], &amplifier, &players[1], &players[2]];
    for (number, plane) in (1..).zip(inputs) {
        let path = folder.path().join(format!("Input {number:02}.wav"));
        wave::write_pcm24(&path, RATE_HZ, &[plane]);
    }
    wave::write_pcm24(&folder.path().join("05 KB L.wav"), RATE_HZ, &[&players[2]]);
    wave::write_pcm24(&folder.path().join("06 KB R.wav"), RATE_HZ, &[&silent]);
    let reading = Evening::of_folder(folder.path());
    let of_one: Vec<_> =
        reading.pairs.iter().filter(|pair| pair.kinship == Kinship::SameSource).collect();
    assert_eq!(of_one.len(), 1, "one instrument on two inputs: {of_one:?}");
    assert_eq!((of_one[0].source.as_str(), of_one[0].mic.as_str()), ("ch01", "ch02"));
    let later = of_one[0].delay_s.value().unwrap() * f64::from(RATE_HZ);
    assert!((later - LATER_SAMPLES).abs() < 0.1, "{later} samples later");
    let told = |words: &str| reading.warnings.iter().any(|one| one.contains(words));
    assert!(told("carry one source"), "{:?}", reading.warnings);
    assert!(told("6 KB R is silent or far softer than 5 KB L"), "{:?}", reading.warnings);
}

/// Five players on a line, each with a microphone close by, overheads and a pair in front of them; `front` and `over` name its sides.
fn reading_of_stage(over: [&str; 2], front: [&str; 2]) -> Reading {
    const RATE_HZ: u32 = 48_000;
    /// Places from left to right, in metres, and how far behind a close microphone and each pair stand.
    const PLAYERS: [(&str, f64); 5] =
        [("Floor Tom", -1.0), ("Kick", -0.7), ("Gtr", 0.1), ("Snare", 0.8), ("Rack Tom", 1.1)];
    const CLOSE_M: f64 = 0.1;
    let sounds: Vec<Vec<f32>> =
        (0..PLAYERS.len()).map(|seed| programme(40 + seed as u64, RATE_HZ, 40.0)).collect();
    let mut mics: Vec<(&str, [f64; 2])> =
        PLAYERS.iter().map(|&(name, at_m)| (name, [at_m, CLOSE_M])).collect();
    mics.extend([(over[0], [-0.7, 0.9]), (over[1], [0.7, 0.9])]);
    mics.extend([(front[0], [-1.5, 1.5]), (front[1], [1.5, 1.5])]);
    let folder = tempfile::tempdir().unwrap();
    for (number, (name, [x_m, y_m])) in (1..).zip(mics) {
        let mut plane = Noise::new(number).samples(sounds[0].len());
        plane.iter_mut().for_each(|sample| *sample *= 1e-4);
        for ((_, at_m), sound) in PLAYERS.iter().zip(&sounds) {
            let way_m = (x_m - at_m).hypot(y_m);
            add_delayed(&mut plane, sound, way_m / 343.0 * f64::from(RATE_HZ), 0.1 / way_m);
        }
        let path = folder.path().join(format!("{number:02} {name}.wav"));
        wave::write_pcm24(&path, RATE_HZ, &[&plane]);
    }
    Evening::of_folder(folder.path())
}

#[test]
fn pairs_that_are_swapped_against_each_other_are_told_and_right_ones_are_not() {
    let told = |reading: &Reading| -> Vec<String> {
        reading.warnings.iter().filter(|one| one.contains("the other way round")).cloned().collect()
    };
    let right = reading_of_stage(["OH L", "OH R"], ["Room L", "Room R"]);
    assert_eq!(told(&right), Vec::<String>::new(), "both as they should be");
    let swapped = told(&reading_of_stage(["OH R", "OH L"], ["Room L", "Room R"]));
    assert_eq!(swapped.len(), 1, "{swapped:?}");
    assert!(
        swapped[0].contains("7 OH L and 6 OH R") && swapped[0].contains("8 Room L"),
        "{swapped:?}"
    );
    let both = reading_of_stage(["OH R", "OH L"], ["Room R", "Room L"]);
    assert_eq!(told(&both), Vec::<String>::new(), "alike: nothing tells that both are wrong");
}

/// A hall of known decay, swept for 3 s behind a second of its noise; what the note of the session says of it.
fn swept(note: &str) -> Reading {
    let sound = rooms::sweep(40.0, 18_000.0, 3.0);
    let [heard, _] = rooms::in_a_hall(41, &sound, 50.0);
    let peak = heard.iter().fold(0.0f32, |peak, x| peak.max(x.abs()));
    let mut dice = Noise::new(41);
    let before = (0..48_000).map(|_| 0.001 * dice.next());
    let plane: Vec<f32> = before.chain(heard.iter().map(|x| 0.5 * x / peak)).collect();
    let scratch = tempfile::tempdir().unwrap();
    wave::write_pcm24(&scratch.path().join("hall.wav"), 48_000, &[&plane]);
    let channel = "[[channel]]\nfile = \"hall.wav\"\nname = \"Hall\"\nrole = \"room\"\nlevel_control = \"off\"\n";
    std::fs::write(scratch.path().join("session.toml"), format!("{note}{channel}")).unwrap();
    Evening::of_folder(scratch.path())
}

#[test]
fn a_stated_sweep_gives_the_decay_of_the_hall() {
    let [_, response] = rooms::in_a_hall(41, &[1.0], 120.0);
    let truth = after_impulse(&response, 48_000);
    let note = "[hall.sweep]\nstart = 1.5\nlength_s = 3.0\nfrom_hz = 40.0\nto_hz = 18000.0\n";
    let room = swept(note).room.expect("there is a hall microphone");
    assert_eq!(room.decay_from, DecayFrom::Sweep);
    let [half, one] = [3, 4].map(|at: usize| truth[at].t30.clone().unwrap().t60_s);
    let (told_s, truth_s) = (room.decay_s.value().unwrap(), f64::midpoint(half, one));
    // The just noticeable difference (ISO 3382-1, table A.1).
    assert!((told_s / truth_s - 1.0).abs() < 0.05, "{told_s} s, the hall has {truth_s} s");
    assert!(room.low_decay_ratio.value().is_some(), "63 Hz is told too");
    assert_ne!(swept("").room.unwrap().decay_from, DecayFrom::Sweep, "nobody stated it");
}
