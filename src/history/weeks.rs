//! Ten invented weeks of an invented team, to see what habits look like before there are any of one's own.
//!
//! All names, labels and numbers are made up. What the weeks hold is stated in numbers here, so that what is said about them can be
//! checked by hand.

use super::record::{Observation, Record};

const PLACE: &str = "Tallow Street Arts Hall";
/// Length of an evening, in seconds.
const DURATION_S: f64 = 5400.0;
/// The version that all invented numbers share.
const RULE_VERSION: &str = "invented";

/// One evening: date, operator, whether a rehearsal, late entries of entries, channels without high-pass of channels, and whether
/// the keyboard hums.
struct Evening(&'static str, &'static str, bool, Option<[u32; 2]>, Option<[u32; 2]>, bool);

const EVENINGS: [Evening; 17] = [
    Evening("2031-02-06", "heron", true, None, Some([3, 8]), true),
    Evening("2031-02-08", "wren", false, Some([5, 9]), None, true),
    Evening("2031-02-13", "heron", true, None, Some([4, 9]), true),
    Evening("2031-02-15", "wren", false, Some([4, 8]), None, true),
    Evening("2031-02-20", "kestrel", true, Some([3, 8]), None, true),
    Evening("2031-02-22", "wren", false, Some([5, 10]), None, true),
    Evening("2031-02-27", "heron", true, None, Some([3, 8]), false),
    Evening("2031-03-01", "wren", false, Some([3, 9]), None, false),
    Evening("2031-03-06", "kestrel", true, Some([2, 9]), None, true),
    Evening("2031-03-08", "wren", false, Some([2, 8]), None, true),
    Evening("2031-03-13", "heron", true, None, Some([4, 8]), true),
    Evening("2031-03-15", "wren", false, Some([2, 9]), None, true),
    Evening("2031-03-22", "wren", false, Some([1, 10]), None, false),
    Evening("2031-03-27", "heron", true, None, Some([3, 9]), true),
    Evening("2031-03-29", "wren", false, Some([1, 9]), None, true),
    Evening("2031-04-05", "kestrel", false, Some([3, 9]), None, true),
    Evening("2031-04-12", "heron", false, None, Some([4, 9]), true),
];

/// The inputs of the desk: name and role.
const INPUTS: [(&str, &str); 24] = [
    ("Kik", "kick"),
    ("Sn Top", "snare-top"),
    ("sn bot", "snare-bottom"),
    ("HiHat", "hi-hat"),
    ("Rack", "tom"),
    ("FloorTom", "tom"),
    ("OH L", "overhead"),
    ("OH R", "overhead"),
    ("Cajon", "percussion"),
    ("Bs DI", "bass"),
    ("AcGtr", "acoustic-guitar"),
    ("E Git", "electric-guitar"),
    ("KB L", "keys"),
    ("KB R", "keys"),
    ("Fiddle", "strings"),
    ("Tpt", "brass"),
    ("LV", "lead-vocal"),
    ("BV 1", "backing-vocal"),
    ("bvox2", "backing-vocal"),
    ("Choir", "choir"),
    ("Host HH", "speech"),
    ("Trax L", "playback"),
    ("Trax R", "playback"),
    ("Lectern", "speech"),
];

/// Who enters after a rest.
const ENTERING: [&str; 5] = ["Host HH", "Tpt", "LV", "Fiddle", "BV 1"];
/// Channels that need a high-pass.
const OPEN_VOICES: [&str; 9] =
    ["Host HH", "BV 1", "bvox2", "Fiddle", "LV", "Choir", "Tpt", "AcGtr", "Lectern"];

/// The sessions of the ten weeks, oldest first.
pub fn weeks() -> Vec<Record> {
    (0..).zip(&EVENINGS).map(|(idx, evening)| record(idx, evening)).collect()
}

fn record(idx: u32, evening: &Evening) -> Record {
    let Evening(date, operator, is_rehearsal, cues, passes, hums) = evening;
    let mut observations = Vec::new();
    if let Some([n_late, n_entries]) = cues {
        observations.extend(late(idx, *n_late, *n_entries));
    }
    if let Some([n_missing, n_channels]) = passes {
        observations.extend(without_high_pass(*n_missing, *n_channels));
    }
    observations.extend(hum(*hums));
    Record {
        name: format!("{PLACE}, {}", if *is_rehearsal { "rehearsal" } else { "evening" }),
        date: Some((*date).to_owned()),
        operator: Some((*operator).to_owned()),
        place: Some(PLACE.to_owned()),
        style: "song-led".to_owned(),
        is_rehearsal: *is_rehearsal,
        is_good: None,
        duration_s: DURATION_S,
        inputs: INPUTS.iter().map(|(name, _)| (*name).to_owned()).collect(),
        observations,
        ..Record::default()
    }
}

/// Entries spread over those who enter, the late ones on other channels every night.
fn late(idx: u32, n_late: u32, n_entries: u32) -> Vec<Observation> {
    let mut counts = [(0, 0); ENTERING.len()];
    for entry in 0..n_entries {
        let place = (entry + idx) as usize % ENTERING.len();
        counts[place].0 += u32::from(entry < n_late);
        counts[place].1 += 1;
    }
    let late_s = 0.3 * f64::from(n_late);
    let entering = ENTERING.iter().zip(counts);
    let heard = entering.filter(|(_, (_, n_chances))| *n_chances > 0);
    heard
        .map(|(channel, (n_hits, n_chances))| Observation {
            n_hits,
            n_chances,
            severity: (n_hits > 0).then(|| "amber".to_owned()),
            number: Some("latest entry".to_owned()),
            value: Some(if n_hits > 0 { late_s } else { 0.0 }),
            unit: Some("s".to_owned()),
            ..observation("cue-late", channel)
        })
        .collect()
}

fn without_high_pass(n_missing: u32, n_channels: u32) -> Vec<Observation> {
    let voices = (0..n_channels).zip(OPEN_VOICES);
    voices
        .map(|(place, channel)| {
            let is_missing = place < n_missing;
            Observation {
                n_hits: u32::from(is_missing),
                severity: is_missing.then(|| "red".to_owned()),
                number: Some("rumble".to_owned()),
                value: Some(if is_missing { -10.0 } else { -31.0 }),
                unit: Some("dB".to_owned()),
                ..observation("hpf-missing", channel)
            }
        })
        .collect()
}

fn hum(hums: bool) -> [Observation; 2] {
    let known = |channel: &str, level_db: f64| Observation {
        n_hits: u32::from(level_db > -60.0),
        severity: (level_db > -60.0).then(|| "red".to_owned()),
        number: Some("hum re the loud level".to_owned()),
        value: Some(level_db),
        unit: Some("dB".to_owned()),
        ..observation("hum-buzz", channel)
    };
    [known("KB L", if hums { -42.0 } else { -71.0 }), known("KB R", -80.0)]
}

fn observation(rule: &str, channel: &str) -> Observation {
    let role = INPUTS.iter().find(|(name, _)| *name == channel).map_or("", |(_, role)| role);
    Observation {
        rule: rule.to_owned(),
        rule_version: RULE_VERSION.to_owned(),
        channel: channel.to_owned(),
        role: role.to_owned(),
        tap: "raw".to_owned(),
        n_chances: 1,
        confidence: 0.9,
        ..Observation::default()
    }
}
