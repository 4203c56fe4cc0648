//! The whole way on small invented stages: faults of sound that only a look at the other channels tells.
//!
//! Source: planted truth; what a fault is and what is none is common practice.

use deskside::audio::TrustHeader;
use deskside::coach::{Aims, NoteLimit, Options, Outcome, coach};
use deskside::reading::{Channel, Reading};
use deskside::run;
use deskside::session::Session;

use crate::support::planted::{Dice, RATE_HZ, amplitude, float, samples};
use crate::support::wave;

/// Moments are told in steps of 10 ms.
const NEAR_S: f64 = 0.03;

/// Length of a stage, in seconds.
const LENGTH_S: f64 = 40.0;

/// A channel before it is written: its file's name and what it holds.
type Track = (&'static str, Vec<f64>);

/// What the program reads of these files, and of this note if it holds anything.
fn reading(tracks: &[Track], note: &str) -> Reading {
    let folder = tempfile::tempdir().unwrap();
    for (name, x) in tracks {
        wave::write_pcm24(&folder.path().join(format!("{name}.wav")), RATE_HZ, &[&float(x)]);
    }
    if !note.is_empty() {
        std::fs::write(folder.path().join("session.toml"), note).unwrap();
    }
    let session = Session::open(folder.path(), TrustHeader::No).unwrap();
    run::read(&session, TrustHeader::No, &|_| {}).unwrap()
}

fn channel<'a>(reading: &'a Reading, name: &str) -> &'a Channel {
    reading.channels.iter().find(|channel| channel.name == name).unwrap()
}

/// Sounds of 1.4 s with rests of 0.6 s from `from_s` to `to_s`, over a steady hiss.
fn phrases(seed: u64, length_s: f64, [from_s, to_s]: [f64; 2]) -> Vec<f64> {
    let mut x = Dice::new(seed).noise(amplitude(-72.0), samples(length_s));
    let sound = Dice::new(seed + 100).dark_noise(1500.0, amplitude(-26.0), x.len());
    for (n, x) in x.iter_mut().enumerate() {
        let at_s = n as f64 / f64::from(RATE_HZ);
        if (from_s..to_s).contains(&at_s) && (at_s - from_s) % 2.0 < 1.4 {
            *x += sound[n];
        }
    }
    x
}

/// Adds a bang that falls by 500 dB a second.
fn bang(x: &mut [f64], at_s: f64, top_db: f64) {
    let start = samples(at_s);
    for n in 0..samples(0.2) {
        let since_s = n as f64 / f64::from(RATE_HZ);
        let sign = if n / 24 % 2 == 0 { 1.0 } else { -1.0 };
        x[start + n] += sign * amplitude(top_db - 500.0 * since_s);
    }
}

/// Turns a channel down from a moment on: its line is open, only the input's own noise is left.
fn unplug(x: &mut [f64], at_s: f64) {
    x[samples(at_s)..].iter_mut().for_each(|x| *x *= amplitude(-20.0));
}

/// Bass that rests from 20 s on, a voice and keys that go on; the moment lies within their phrases.
const PULLED_S: f64 = 24.6;

fn band() -> [Track; 3] {
    [
        ("01 Bass DI", phrases(1, LENGTH_S, [1.0, 20.0])),
        ("02 Lead Vox", phrases(2, LENGTH_S, [2.0, 38.0])),
        ("03 Keys", phrases(3, LENGTH_S, [2.0, 38.0])),
    ]
}

#[test]
fn a_plug_that_is_pulled_is_told_and_a_knock_is_not() {
    let pulled_s = |tracks: &[Track]| -> Vec<f64> {
        let reading = reading(tracks, "");
        channel(&reading, "Bass DI").plug_pops.at_s.clone()
    };
    let mut pulled = band();
    bang(&mut pulled[0].1, PULLED_S, -8.0);
    unplug(&mut pulled[0].1, PULLED_S);
    let found = pulled_s(&pulled);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0] - PULLED_S).abs() <= NEAR_S, "{found:?}");
    // The same, but the voice's microphone hears it as well: something fell.
    bang(&mut pulled[1].1, PULLED_S, -1.0);
    assert!(pulled_s(&pulled).is_empty(), "both hear it");
    let mut knocked = band();
    bang(&mut knocked[0].1, PULLED_S, -8.0);
    assert!(pulled_s(&knocked).is_empty(), "nothing changes behind it");
}

#[test]
fn a_spike_in_a_mix_for_ears_is_told_and_a_hit_is_not() {
    // 60 s of sound are needed. The mix holds both; the spike falls into their phrases.
    const MIX_S: f64 = 96.0;
    const SPIKE_S: f64 = 40.6;
    let inputs = [2, 3].map(|seed| phrases(seed, MIX_S, [2.0, 94.0]));
    let mix: Vec<f64> = inputs[0].iter().zip(&inputs[1]).map(|(a, b)| 0.5 * (a + b)).collect();
    let spikes = |struck: bool, note: &str| -> Option<Vec<f64>> {
        let mut tracks = [
            ("01 Lead Vox", inputs[0].clone()),
            ("02 Keys", inputs[1].clone()),
            ("03 IEM Vox", mix.clone()),
        ];
        bang(&mut tracks[2].1, SPIKE_S, -1.0);
        if struck {
            bang(&mut tracks[0].1, SPIKE_S, -1.0);
        }
        let found = channel(&reading(&tracks, note), "IEM Vox").ear_spikes.clone();
        found.map(|spikes| spikes.at_s)
    };
    let note = "[[channel]]\nname = \"IEM Vox\"\nrole = \"monitor-mix\"\nin_ear = true\n";
    let found = spikes(false, note).unwrap();
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0] - SPIKE_S).abs() <= NEAR_S, "{found:?}");
    assert!(spikes(true, note).unwrap().is_empty(), "the singer's microphone was hit");
    assert_eq!(spikes(false, ""), None, "nobody noted that it goes to ears");
}

#[test]
fn a_wireless_link_that_fades_is_told_and_a_gap_of_all_is_not() {
    const FADED_S: [f64; 2] = [10.5, 24.7];
    let shut = |x: &mut [f64], at_s: f64| {
        let noise = Dice::new(50).noise(amplitude(-100.0), samples(0.2));
        x[samples(at_s)..samples(at_s + 0.2)].copy_from_slice(&noise);
    };
    let fades_s = |tracks: &[Track], note: &str| -> Option<Vec<f64>> {
        let reading = reading(tracks, note);
        channel(&reading, "Lead Vox").microphone.fades.clone().map(|fades| fades.at_s)
    };
    let mut tracks = band();
    for at_s in FADED_S {
        shut(&mut tracks[1].1, at_s);
    }
    let found = fades_s(&tracks, "").unwrap();
    assert_eq!(found.len(), 2, "{found:?}");
    for (found_s, planted_s) in found.iter().zip(FADED_S) {
        assert!((found_s - planted_s).abs() <= NEAR_S, "{found:?}");
    }
    let wired = "[[channel]]\nname = \"Lead Vox\"\nwireless = false\n";
    assert_eq!(fades_s(&tracks, wired), None, "it has a cable");
    // The keys are cut at the first of these moments as well: the recorder lost it.
    shut(&mut tracks[2].1, FADED_S[0]);
    let found = fades_s(&tracks, "").unwrap();
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0] - FADED_S[1]).abs() <= NEAR_S, "{found:?}");
    let steady = fades_s(&band(), "").unwrap();
    assert!(steady.is_empty(), "pauses are none: {steady:?}");
}

/// Outcomes of a rule for a channel that judge it, whole way.
fn outcomes(reading: &Reading, rule: &str, name: &str) -> Vec<Outcome> {
    let id = &channel(reading, name).id;
    let options = Options { notes: NoteLimit::All, ..Options::default() };
    let judgements = coach(reading, &Aims::default(), &options).judgements;
    let of_it = judgements.iter().filter(|one| one.rule.id == rule && one.channels.contains(id));
    of_it.map(|one| one.outcome.clone()).collect()
}

/// A link that loses blocks, and a cable that crackles: no other channel shows either.
#[test]
fn a_channel_that_breaks_alone_is_told() {
    const STAGE_S: f64 = 96.0;
    let parts = [2, 3].map(|seed| phrases(seed, STAGE_S, [2.0, 94.0]));
    let read = |voice: &[f64]| {
        let [_, keys] = parts.clone();
        reading(&[("01 Lead Vox", voice.to_vec()), ("02 Keys", keys)], "")
    };
    let whole = read(&parts[0]);
    let mut torn = parts[0].clone();
    for at_s in [10.7, 30.5, 52.4] {
        torn[samples(at_s)..samples(at_s + 0.005)].fill(0.0);
    }
    let block = samples(70.3);
    torn.copy_within(block..block + 512, block + 512);
    torn.copy_within(block..block + 512, block + 1024);
    let torn = read(&torn);
    let found_s = &channel(&torn, "Lead Vox").dropouts.at_s;
    assert_eq!(found_s.len(), 4, "three gaps and a block that comes again: {found_s:?}");
    let mut crackling = parts[0].clone();
    for n in 0..40 {
        crackling[samples(4.6 + 2.0 * f64::from(n))] += 0.5;
    }
    let crackling = read(&crackling);
    for broken in [&torn, &crackling] {
        assert_eq!(outcomes(broken, "dropout", "Lead Vox"), [Outcome::Outside]);
        assert_eq!(outcomes(broken, "dropout", "Keys"), [], "it goes on");
    }
    assert_eq!(outcomes(&whole, "dropout", "Lead Vox"), [], "nothing breaks");
}

/// Drum hits of 80 ms over a soft stage, and the same behind a gate with 3 dB of make-up.
fn gated() -> [Vec<f64>; 2] {
    const STAGE_S: f64 = 60.0;
    let mut raw = Dice::new(60).noise(amplitude(-52.0), samples(STAGE_S));
    let sound = Dice::new(61).noise(amplitude(-14.0), raw.len());
    let mut behind = vec![0.0; raw.len()];
    for n in 0..raw.len() {
        let since_s = (n as f64 / f64::from(RATE_HZ)) % 0.5;
        raw[n] += sound[n] * (-since_s / 0.08).exp();
        let gain_db = if since_s < 0.25 { 3.0 } else { -37.0 };
        behind[n] = raw[n] * amplitude(gain_db);
    }
    [raw, behind]
}

#[test]
fn a_gate_between_two_recordings_is_no_compressor() {
    let [raw, behind] = gated();
    let [_, voice, keys] = band();
    let tracks = [("01 Snare", raw), voice, keys, ("31 Snare post", behind)];
    let reading = reading(&tracks, "");
    let (_, between) = reading.between_taps().next().expect("both recordings of the snare");
    let gate = between.gate.as_ref().expect("a gate");
    let depth_db = gate.depth_db.value().expect("its depth");
    assert!((depth_db - 40.0).abs() < 3.0, "{depth_db}");
    // What rests in the pauses is the closed gate: no gain at rest, no reduction.
    for fact in [&between.static_gain_db, &between.usual_reduction_db, &between.threshold_dbfs] {
        let reason = fact.reason().expect("nothing is told of a compressor").to_string();
        assert!(reason.contains("gate"), "{reason}");
    }
    assert!(between.reduction_db.is_empty(), "no trace is drawn");
}
