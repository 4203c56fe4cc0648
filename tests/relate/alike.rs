//! Same things twice: from sound through the meters for channels on one source, from planted figures for sides.

use std::f64::consts::TAU;

use deskside::relate::alike::{Alike, Evidence, Heard, Kind, Sight, alike, one_sided, swapped};
use deskside::relate::arrival::{Arrival, ArrivalMeter, Mask};
use deskside::relate::coherence::{Coherence, CoherenceMeter};
use deskside::relate::same_source::SameSourceMeter;
use deskside::unit::Unmeasured;

use crate::support::paths::{add_delayed, delayed};
use crate::support::signals::{noise, programme};

const RATE_HZ: u32 = 48_000;
const LENGTH_S: f64 = 20.0;

fn n_samples() -> usize {
    (LENGTH_S * f64::from(RATE_HZ)) as usize
}

/// Hits, 0.5 s apart, of a ringing head and of a rattle that dies within 60 ms.
fn drum(ring_hz: f64, ring: f64, rattle: f64, seed: u64) -> Vec<f32> {
    let rattles = noise(seed, 0.06, n_samples());
    (0..n_samples())
        .map(|at| {
            let since_s = (at % 24_000) as f64 / f64::from(RATE_HZ);
            let head = ring * (TAU * ring_hz * since_s).sin() * (-since_s / 0.08).exp();
            (head + rattle * f64::from(rattles[at]) * (-since_s / 0.06).exp()) as f32
        })
        .collect()
}

/// A drum's other microphone: later, at a gain, and with as much rattle of its own as makes half of its power.
fn other_side(drum_side: &[f32], delay_samples: f64, gain: f64, rattle: f64) -> Vec<f32> {
    let mut other = drum(0.0, 0.0, rattle, 8);
    add_delayed(&mut other, drum_side, delay_samples, gain);
    other
}

/// What the meters make of two channels, with what is known of each.
fn kinds(first: &[f32], second: &[f32], heard: [Heard; 2]) -> Vec<Alike> {
    let planes = [first, second];
    let mut coherence = CoherenceMeter::new(RATE_HZ, 2, &[(0, 1)]);
    let mut arrival = ArrivalMeter::new(RATE_HZ, vec![(0, 1, Mask::all())]);
    let mut body = SameSourceMeter::new(RATE_HZ, [60.0, 500.0]);
    coherence.push(&planes);
    arrival.push(&planes);
    body.push(first, second);
    let evidence = Evidence {
        first: 0,
        second: 1,
        coherence: coherence.finish().remove(0).unwrap(),
        arrival: arrival.finish().remove(0).ok(),
        body_correlation: body.finish().ok().map(|kin| kin.body_correlation),
    };
    alike(&heard, &[evidence])
}

fn hits(middle_hz: f64) -> Heard {
    Heard {
        loud_dbfs: Some(-20.0),
        crest_db: Some(18.0),
        middle_hz: Some(middle_hz),
        is_line: None,
    }
}

fn notes() -> Heard {
    Heard { crest_db: Some(11.0), ..hits(400.0) }
}

/// The channels in order and the kind, if there is one.
fn told(found: &[Alike]) -> Option<(usize, usize, Kind)> {
    assert!(found.len() <= 1, "one pair, found {found:?}");
    let alike = found.first()?;
    assert!((0.5..=0.99).contains(&alike.confidence), "{alike:?}");
    Some((alike.first, alike.second, alike.kind))
}

#[test]
fn one_signal_in_two_channels_is_told() {
    let source = programme(1, RATE_HZ, LENGTH_S);
    let mut wider = delayed(&source, 0.0, 0.7);
    add_delayed(&mut wider, &noise(2, 0.000_5, source.len()), 0.0, 1.0);
    let found = kinds(&source, &wider, [notes(); 2]);
    assert_eq!(told(&found), Some((0, 1, Kind::OneSignal)));
    assert!(found[0].confidence > 0.9, "{found:?}");
}

#[test]
fn a_wire_and_the_microphone_before_its_amplifier_are_told_in_this_order() {
    // 1.2 m of air, and spill at -14 dB.
    let wire = programme(1, RATE_HZ, LENGTH_S);
    let mut microphone = delayed(&wire, 168.3, 0.5);
    add_delayed(&mut microphone, &programme(2, RATE_HZ, LENGTH_S), 0.0, 0.1);
    let expected = Kind::WireAndMicrophone;
    assert_eq!(told(&kinds(&wire, &microphone, [notes(); 2])), Some((0, 1, expected)));
    assert_eq!(told(&kinds(&microphone, &wire, [notes(); 2])), Some((1, 0, expected)));
    let both_hear = Heard { is_line: Some(false), ..notes() };
    let told = told(&kinds(&wire, &microphone, [both_hear; 2]));
    assert_ne!(told.map(|told| told.2), Some(expected), "no wire among them");
}

#[test]
fn the_heads_of_a_snare_are_told_by_their_opposite_signs() {
    let drum = drum(190.0, 0.3, 1.0, 7);
    let bottom = other_side(&drum, 9.4, -0.6, 3.0);
    let found = kinds(&drum, &bottom, [hits(190.0), hits(210.0)]);
    assert_eq!(told(&found).map(|told| told.2), Some(Kind::SnareHeads), "{found:?}");
    let upright: Vec<f32> = bottom.iter().map(|sample| -sample).collect();
    assert_eq!(told(&kinds(&drum, &upright, [hits(190.0), hits(210.0)])), None, "same sign");
}

#[test]
fn the_inside_of_a_kick_comes_before_the_outside() {
    let drum = drum(62.0, 0.6, 1.0, 7);
    let outside = other_side(&drum, 40.0, 0.6, 4.0);
    let heard = [hits(62.0), hits(62.0)];
    assert_eq!(
        told(&kinds(&outside, &drum, heard)),
        Some((1, 0, Kind::KickInsideAndOutside)),
        "the sooner comes first"
    );
    let bass = Heard { crest_db: Some(11.0), ..hits(62.0) };
    assert_eq!(told(&kinds(&outside, &drum, [bass; 2])), None, "notes are no kick");
}

#[test]
fn players_on_one_stage_are_not_alike() {
    let (a, b) = (programme(1, RATE_HZ, LENGTH_S), programme(2, RATE_HZ, LENGTH_S));
    let (mut first, mut second) = (a.clone(), b.clone());
    add_delayed(&mut first, &b, 200.0, 0.2);
    add_delayed(&mut second, &a, 200.0, 0.2);
    assert_eq!(told(&kinds(&first, &second, [notes(); 2])), None, "spill at -14 dB");
    let coherence = Coherence { full: 0.7, voice_band: 0.7 };
    let arrival = Some(Arrival { delay_s: 0.02, polarity: -1.0, quality: 3.0, error_s: 1e-6 });
    let far = Evidence { first: 0, second: 1, coherence, arrival, body_correlation: None };
    assert!(alike(&[hits(200.0); 2], &[far]).is_empty(), "7 m apart");
}

#[test]
fn a_pair_with_one_side_is_told_from_its_levels() {
    let level = |loud_dbfs: Option<f64>| Heard { loud_dbfs, ..Heard::default() };
    let heard = [level(Some(-20.0)), level(Some(-41.0)), level(None), level(Some(-39.0))];
    let found = one_sided(&heard, &[(0, 1), (1, 0), (2, 0), (0, 3), (2, 2)]);
    let told: Vec<(usize, usize)> = found.iter().map(|alike| (alike.first, alike.second)).collect();
    assert_eq!(
        told,
        [(0, 1), (0, 1), (0, 2)],
        "21 dB, 21 dB, silence; not 19 dB, not two silences"
    );
    assert!(found.iter().all(|alike| alike.kind == Kind::OneSided), "{found:?}");
}

/// Sources as a pair sees them: number and lean, with the sooner side the louder one.
fn sights(leans_db: &[f64]) -> Vec<Sight> {
    let sight = |(source, &lean_db): (usize, &f64)| Sight {
        source,
        lean_db,
        lag_s: Some(-0.001 * f64::signum(lean_db)),
    };
    leans_db.iter().enumerate().map(sight).collect()
}

#[test]
fn swapped_sides_are_told_where_several_sources_say_so() {
    let overheads = sights(&[6.0, -5.0, 8.0, 0.5]);
    let mirrored = sights(&[-12.0, 9.0, -4.0, 7.0]);
    let found = swapped([4, 8], &overheads, &mirrored).unwrap().unwrap();
    assert_eq!((found.first, found.second, found.kind), (4, 8, Kind::Swapped));
    assert_eq!(swapped([4, 8], &overheads, &overheads), Ok(None), "a pair against itself");
}

#[test]
fn sides_are_not_judged_on_thin_or_mixed_evidence() {
    let overheads = sights(&[6.0, -5.0, 8.0]);
    let one = Err(Unmeasured::TooFewEvents { have: 1, need: 2 });
    assert_eq!(swapped([0, 2], &overheads, &sights(&[-6.0, 1.0, -2.0])), one, "one leans clearly");
    assert!(
        matches!(
            swapped([0, 2], &overheads, &sights(&[-6.0, 5.0, 8.0])),
            Err(Unmeasured::Because(_))
        ),
        "two against one"
    );
    // Louder on the left, sooner on the right: a reflection, a stand in the way, or a wrong figure.
    let mut doubtful = sights(&[-6.0, 5.0, -8.0]);
    doubtful[0].lag_s = Some(-0.001);
    doubtful[1].lag_s = Some(0.001);
    assert_eq!(swapped([0, 2], &overheads, &doubtful), one, "levels against arrivals");
    let strangers: Vec<Sight> = sights(&[6.0, 6.0])
        .into_iter()
        .map(|sight| Sight { source: sight.source + 10, ..sight })
        .collect();
    let none = Err(Unmeasured::TooFewEvents { have: 0, need: 2 });
    assert_eq!(swapped([0, 2], &overheads, &strangers), none, "no source in common");
}
