//! The scores on cases whose answers are counted by hand, and the naive ways on signals that they must get right.

use deskside::reading::{Kinship, Switched};
use deskside::unit::{Fact, Span};

use super::score::mix::desk::{Desk, Given, Kind, Mixed};
use super::score::mix::strip::Strip;
use super::score::told::{Pair, Told};
use super::score::truth::{Alone, Channel, Row, Truth};
use super::score::{activity, delay, kin, mix, percentile, spill, table, witness};
use crate::support::noise::Noise;
use crate::support::wave;

const RATE_HZ: u32 = 48_000;

fn alone(thing: &str, level_dbfs: Vec<Option<f64>>) -> Option<Alone> {
    Some(Alone { thing: thing.to_owned(), is_mic: true, step_s: 1.0, level_dbfs })
}

fn channel(name: &str, role: &str, thing: &str) -> Channel {
    Channel {
        name: name.to_owned(),
        role: role.to_owned(),
        file: format!("{name}.wav"),
        own_alone: alone(thing, vec![Some(-20.0); 10]),
    }
}

fn row(source: &str, mic: &str, bleed_db: Option<f64>) -> Row {
    Row {
        source: source.to_owned(),
        mic: mic.to_owned(),
        one_thing: false,
        bleed_db,
        delay_s: None,
        polarity: None,
        is_direct_loudest: false,
    }
}

fn truth(channels: Vec<Channel>, spill: Vec<Row>) -> Truth {
    Truth { scene: "case".to_owned(), channels, spill }
}

fn bleed(source: &str, mic: &str, bleed_db: Fact) -> Pair {
    Pair { bleed_db, ..Pair::new(source, mic, Kinship::Spill) }
}

fn told(pairs: Vec<Pair>) -> Told {
    Told { active: Vec::new(), pairs }
}

/// Sums of a few exact terms.
fn close(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-9, "expected {expected}, found {found}");
}

#[test]
fn percentile_takes_the_nearest_rank() {
    let ten: Vec<f64> = (1..=10).map(f64::from).collect();
    for (percent, expected) in [(10.0, 1.0), (50.0, 5.0), (95.0, 10.0), (0.0, 1.0), (100.0, 10.0)] {
        close(percentile(&ten, percent).unwrap(), expected);
    }
    assert_eq!(percentile(&[], 50.0), None);
}

#[test]
fn forty_one_hits_and_nine_misses_are_an_f1_of_82_by_91() {
    // Frames of 2 s, each second: 50 s of sound, 10 s fading through the levels that nobody can tell, 40 s of silence and of a murmur.
    let mut levels = vec![Some(-20.0); 50];
    levels.extend([Some(-45.0); 10]);
    levels.extend([None; 20]);
    levels.extend([Some(-60.0); 20]);
    let own = alone("a", levels).unwrap();
    let score = activity::score("a", &own, &[Span::new(10.0, 60.0)]).unwrap();
    // The last that is active holds a second of sound and one of the fading.
    close(score.f1, 82.0 / 91.0);
    // 45 dB below full scale is 25 dB below the 98th percentile: no longer active. 50 s were told, 50 s are true.
    close(score.share_off, 0.0);
    let late = activity::score("a", &own, &[Span::new(0.0, 50.0), Span::new(70.0, 80.0)]).unwrap();
    // 49 hits, 1 miss, 10 false alarms, 99 frames.
    close(late.f1, 98.0 / 109.0);
    close(late.share_off, 10.0 / 99.0);
    close(activity::score("a", &own, &[]).unwrap().f1, 0.0);
}

#[test]
fn a_source_that_never_sounds_has_no_score() {
    let own = alone("a", vec![None; 50]).unwrap();
    assert!(activity::score("a", &own, &[Span::new(0.0, 50.0)]).is_none(), "silence");
    assert_eq!(activity::summary(&[]), None);
}

#[test]
fn overheads_and_cables_are_left_out_of_activity() {
    let mut channels =
        vec![channel("a", "kick", "a"), channel("b", "overhead", "b"), channel("c", "bass", "c")];
    channels[2].own_alone.as_mut().unwrap().is_mic = false;
    let told = Told { active: vec![("a".to_owned(), vec![Span::new(0.0, 10.0)])], pairs: vec![] };
    let scores = activity::scores(&truth(channels, vec![]), &told);
    assert_eq!(scores.len(), 1);
    close(scores[0].f1, 1.0);
}

/// Four microphones of three things, and an overhead.
fn stage() -> Truth {
    let channels = vec![
        channel("a", "kick", "a"),
        channel("a2", "kick", "a"),
        channel("b", "lead-vocal", "b"),
        channel("c", "strings", "c"),
        channel("oh", "overhead", "oh"),
    ];
    let mut twin = row("a", "a2", None);
    twin.one_thing = true;
    let spill = vec![
        twin,
        row("a", "b", Some(-10.0)),
        row("a", "c", Some(-20.0)),
        row("b", "a", Some(-40.0)),
        row("b", "c", Some(-24.0)),
        row("c", "a", Some(-6.0)),
        row("c", "b", Some(-12.0)),
        // The same thing by its second channel, and an overhead: not counted again.
        row("a2", "b", Some(-10.0)),
        row("a", "oh", Some(0.0)),
        row("oh", "b", Some(-15.0)),
    ];
    truth(channels, spill)
}

#[test]
fn spill_counts_values_confident_ones_and_bounds() {
    let score = spill::score(
        &stage(),
        &told(vec![
            // By the thing's other channel, confident, half a decibel off.
            bleed("a2", "b", Fact::sure(-9.5, 0.7)),
            // Confident and four off.
            bleed("a", "c", Fact::sure(-16.0, 0.8)),
            // Outside the range that counts, but confident and off.
            bleed("b", "a", Fact::sure(-30.0, 0.9)),
            // Not confident.
            bleed("b", "c", Fact::sure(-22.0, 0.5)),
            // A bound that holds within its slack, and one that doesn't.
            bleed("c", "a", Fact::AtMost { at_most: -6.9, confidence: 0.7 }),
            bleed("c", "b", Fact::AtMost { at_most: -14.0, confidence: 0.7 }),
            bleed("oh", "b", Fact::sure(0.0, 1.0)),
        ]),
    );
    assert_eq!(score.n_pairs, 5, "-10, -20, -24, -6, -12");
    assert_eq!(score.errors_db.len(), 3);
    for (found, expected) in score.errors_db.iter().zip([0.5, 4.0, 2.0]) {
        close(*found, expected);
    }
    assert_eq!(score.confident_db.len(), 2);
    assert_eq!((score.n_confident, score.n_confident_off), (3, 2));
    assert_eq!((score.n_bounds, score.n_bounds_wrong), (2, 1));
    let mut twice = score.clone();
    twice.add(&score);
    assert_eq!((twice.n_pairs, twice.errors_db.len(), twice.n_confident_off), (10, 6, 4));
}

#[test]
fn a_confident_value_of_a_pair_that_shares_nothing_is_off() {
    let mut truth = stage();
    truth.spill.push(row("c", "a2", None));
    let score = spill::score(&truth, &told(vec![bleed("c", "a2", Fact::sure(-50.0, 0.7))]));
    assert_eq!((score.n_pairs, score.n_confident, score.n_confident_off), (5, 1, 1));
    assert!(score.errors_db.is_empty(), "there is no true level");
}

#[test]
fn delays_are_scored_in_samples_and_apart_where_a_wedge_is_louder() {
    let mut truth = stage();
    for (idx, loudest) in [(1, true), (2, true), (4, false)] {
        let row = &mut truth.spill[idx];
        (row.delay_s, row.polarity, row.is_direct_loudest) = (Some(0.01), Some(-1.0), loudest);
    }
    let delay = |source: &str, mic: &str, off_samples: f64, confidence: f64, polarity: f64| Pair {
        delay_s: Fact::sure(0.01 + off_samples / f64::from(RATE_HZ), confidence),
        polarity: Fact::sure(polarity, confidence),
        ..Pair::new(source, mic, Kinship::Spill)
    };
    let score = delay::score(
        &truth,
        &told(vec![
            delay("a", "b", -0.25, 0.9, -1.0),
            delay("a", "c", 40.0, 0.9, 1.0),
            delay("b", "c", 0.5, 0.6, 1.0),
            // Nothing is known of this one's way.
            delay("c", "b", 0.0, 0.9, 1.0),
        ]),
    );
    assert_eq!(score.errors_samples.len(), 2);
    assert!((score.errors_samples[0] + 0.25).abs() < 1e-6, "{score:?}");
    assert_eq!(delay::n_right(&score.errors_samples), 1);
    assert_eq!((score.n_polarities, score.n_polarities_wrong), (2, 1));
    assert_eq!((score.n_confident, score.n_confident_off), (2, 1));
    assert_eq!(delay::n_right(&score.others_samples), 1);
}

#[test]
fn kin_is_recognised_or_taken_for_spill() {
    let truth = stage();
    let nothing = kin::score(&truth, &told(vec![]));
    assert_eq!(nothing, kin::Score { n_pairs: 1, n_recognised: 0, n_as_spill: 0 });
    let right = kin::score(&truth, &told(vec![Pair::new("a2", "a", Kinship::SameSource)]));
    assert_eq!(right, kin::Score { n_recognised: 1, ..nothing });
    let wrong = kin::score(&truth, &told(vec![bleed("a", "a2", Fact::sure(-6.0, 0.5))]));
    assert_eq!(wrong, kin::Score { n_as_spill: 1, ..nothing });
    let silent = kin::score(&truth, &told(vec![Pair::new("a", "a2", Kinship::Spill)]));
    assert_eq!(silent, nothing, "a pair of which nothing is told is not given");
}

/// A delay in samples, and a leak of -20 dB.
const DELAY: usize = 37;
const LEAK: f32 = 0.1;

/// `a` plays in the first half, `b` in the second; `a` leaks into `b`, later and inverted.
fn recorded() -> (tempfile::TempDir, Truth) {
    let n = 8 * RATE_HZ as usize;
    let (first, second) = (Noise::new(1).samples(n / 2), Noise::new(2).samples(n / 2));
    let quarter = |x: &f32| 0.25 * x;
    let mut a: Vec<f32> = first.iter().map(quarter).collect();
    a.resize(n, 0.0);
    let mut b = vec![0.0; n / 2];
    b.extend(second.iter().map(quarter));
    for at in DELAY..n {
        b[at] -= LEAK * a[at - DELAY];
    }
    let folder = tempfile::tempdir().unwrap();
    for (name, plane) in [("a", &a), ("b", &b)] {
        wave::write_pcm24(&folder.path().join(format!("{name}.wav")), RATE_HZ, &[plane]);
    }
    let mut row = row("a", "b", Some(-20.0));
    row.delay_s = Some(DELAY as f64 / f64::from(RATE_HZ));
    (row.polarity, row.is_direct_loudest) = (Some(-1.0), true);
    let channels = vec![channel("a", "kick", "a"), channel("b", "lead-vocal", "b")];
    (folder, truth(channels, vec![row]))
}

#[test]
fn the_naive_ways_are_right_where_sources_play_apart() {
    let (folder, truth) = recorded();
    let told = witness::told(&truth, folder.path());
    let spill = spill::score(&truth, &told);
    // Equal noise in both halves: 4 s of it scatter by some hundredths of a dB, the first and last frame by as much.
    assert!(spill.errors_db[0].abs() < 0.2, "{spill:?}");
    let delay = delay::score(&truth, &told);
    assert!(delay.errors_samples[0].abs() < 0.05, "{delay:?}");
    assert_eq!((delay.n_polarities, delay.n_polarities_wrong), (1, 0));
    let open: f64 = told.active[0].1.iter().map(|span| span.length_s()).sum();
    assert!(
        (open - 4.0).abs() < 0.1,
        "the gate of the first is open for half of the time: {open} s"
    );
}

#[test]
fn every_line_of_the_tables_has_as_many_cells_as_its_head() {
    let (folder, truth) = recorded();
    let text = serde_json::json!({
        "scene": "case",
        "channels": truth.channels.iter().map(|channel| serde_json::json!({
            "name": channel.name,
            "role": channel.role,
            "file": channel.file,
            "own_alone": { "thing": channel.name, "is_mic": true, "step_s": 1.0, "level_dbfs": [-20.0, null] },
        })).collect::<Vec<_>>(),
        "spill": [{
            "source": "a", "mic": "b", "one_thing": false, "bleed_db": -20.0, "delay_s": 37.0 / 48_000.0,
            "polarity": -1, "is_direct_loudest": true,
        }],
    });
    std::fs::write(folder.path().join("truth.json"), text.to_string()).unwrap();
    let scene = table::Scene::of(folder.path(), &Told::default());
    let tables = table::tables(&[scene]);
    let mut head = None;
    for line in tables.lines() {
        let n_cells = line.starts_with('|').then(|| line.matches('|').count());
        assert!(n_cells.is_none() || head.is_none() || n_cells == head, "{line}");
        head = n_cells;
    }
    assert!(tables.contains("| case | energy ratio | 1 | 100 % |"), "{tables}");
    assert!(tables.contains("| all | cross-correlation | 1 | 100 % |"), "{tables}");
    assert!(tables.contains("| case | review | 1 | 0 % | - |"), "{tables}");
}

/// A fiddle that is closed from 4 to 8 s, and what is told of it: both switches nearly, a closing at 10 s and an opening at 10.5 s.
fn fiddle() -> (Desk, Mixed, mix::score::Told) {
    let strip = Strip {
        name: "Fiddle".to_owned(),
        file: "Fiddle.wav".to_owned(),
        role: "strings".to_owned(),
        gain_db: -6.0,
        pan: 0.5,
        high_pass_hz: None,
        bell: None,
        squeeze: None,
        is_inverted: false,
        edges_s: vec![4.0, 8.0],
        moves: Vec::new(),
        send_db: None,
        is_recorded: true,
    };
    let desk = Desk { kind: Kind::Plain, strips: vec![strip], length_s: 12.0 };
    let open = |second: usize| !(4..8).contains(&second);
    let mixed = Mixed {
        given: vec![Given {
            raw: vec![1.0; 12],
            mixed: (0..12).map(|second| if open(second) { 0.25 } else { 0.0 }).collect(),
            presence: Vec::new(),
        }],
        main: vec![1.0; 12],
        presence: [Vec::new(), Vec::new()],
        swing_db: vec![0.0],
    };
    let told = mix::score::Told {
        name: "Fiddle".to_owned(),
        gain_db: (0..12).map(|second| open(second).then_some(-5.0)).collect(),
        on: vec![Span::new(0.0, 4.02), Span::new(7.95, 10.0), Span::new(10.5, 12.0)],
        pan: Some(0.47),
        eq_db: vec![(100.0, 0.3), (1000.0, 0.0), (4000.0, -2.0)],
        reduction_db: Some(4.0),
        ..mix::score::Told::default()
    };
    (desk, mixed, told)
}

#[test]
fn a_mix_is_scored_second_by_second_and_switch_by_switch() {
    let (desk, mixed, told) = fiddle();
    let score = mix::score::score(&desk, &mixed, &[told]);
    assert_eq!((score.n_seconds, score.gain_db.len()), (8, 8), "the open seconds count");
    // 10 lg 0.25 = -6.02 dB.
    close(score.gain_db[0], 10.0 * 4f64.log10() - 5.0);
    assert_eq!((score.n_edges, score.edge_s.len(), score.n_extra_edges), (2, 2, 2), "{score:?}");
    close(score.edge_s[0], 0.02);
    close(score.edge_s[1], 0.05);
    close(score.pan[0], 0.03);
    assert_eq!(score.eq_db.len(), 3, "re the middle one");
    close(score.eq_db[2], 2.0);
    assert_eq!((score.n_uncompressed, score.n_false_compressed), (1, 1), "nothing compresses");
    let row = mix::table::Row {
        stage: "case".to_owned(),
        kind: Kind::Plain,
        review: score.clone(),
        witnesses: [score.clone(), score],
    };
    let text = mix::table::tables(&[row]);
    assert!(
        text.contains("| case, plain | 1 | 0 | 0 | 8 | 100 % | 1.02 | 1.0 | 2 | 0 | 2 |"),
        "{text}"
    );
}

#[test]
fn a_switch_that_is_told_as_a_stretch_is_extra_only_where_it_holds_no_true_one() {
    let (desk, mixed, told) = fiddle();
    // Told as stretches: the closing at 10 s holds the true one at 4 s, that of the opening at 10.5 s holds none.
    let stretch = |opens: bool, start_s: f64, end_s: f64| Switched {
        opens,
        within: Span::new(start_s, end_s),
    };
    let switches = vec![stretch(false, 3.0, 11.0), stretch(true, 9.0, 11.0)];
    let told = mix::score::Told { switches, ..told };
    let ranged = mix::score::score(&desk, &mixed, &[told]);
    assert_eq!((ranged.n_stretches, ranged.n_within, ranged.n_extra_edges), (2, 1, 1));
}
