//! Tests of `demo::source`: each instrument sounds like what it stands for.
//!
//! Measured with a plain transform of the tests' own, against the windows of the roles, published speech spectra and closed forms.

use deskside::demo::source::{Instrument, Note, phrase, render, render_sized};

use crate::support::spectrum::{RATE_HZ, mean_square, power_at, profile};

/// Length of the phrases, in seconds.
const PHRASE_S: f64 = 24.0;

/// Seeds of the phrases: a window must not be met by luck.
const SEEDS: [u64; 2] = [11, 12];

/// Instruments, the role whose window they must meet, and the crest factor of that role in dB: measured on renders of sampled instruments
/// (without room, spill or player). Hand drums, singers and talkers: common practice.
const CAST: [(Instrument, &str, f64, f64); 27] = [
    (Instrument::Kick, "kick", 20.0, 20.0),
    (Instrument::SnareTop, "snare top", 23.0, 26.0),
    (Instrument::SnareBottom, "snare bottom", 23.0, 26.0),
    (Instrument::HiHat, "hi-hat", 22.0, 22.0),
    (Instrument::RackTom, "tom", 19.0, 19.0),
    (Instrument::FloorTom, "tom", 19.0, 19.0),
    (Instrument::Cajon, "percussion", 20.0, 24.0),
    (Instrument::Bass, "bass", 13.0, 14.0),
    (Instrument::AcousticGuitar, "acoustic guitar", 14.0, 18.0),
    (Instrument::ElectricGuitar, "electric guitar", 14.0, 18.0),
    (Instrument::KeysLeft, "keys", 16.0, 20.0),
    (Instrument::KeysRight, "keys", 16.0, 20.0),
    (Instrument::Fiddle, "strings", 13.0, 15.0),
    (Instrument::Trumpet, "brass", 11.0, 18.0),
    (Instrument::LeadVoice, "lead vocal", 12.0, 18.0),
    (Instrument::BackingVoice(1), "backing vocal", 12.0, 18.0),
    (Instrument::BackingVoice(2), "backing vocal", 12.0, 18.0),
    (Instrument::Choir, "choir", 15.0, 15.0),
    (Instrument::Host, "speech", 12.0, 18.0),
    (Instrument::Talkback, "speech", 12.0, 18.0),
    (Instrument::DrivenGuitar, "electric guitar", 8.0, 18.0),
    (Instrument::Cello, "strings", 13.0, 15.0),
    (Instrument::Clarinet, "woodwind", 10.0, 16.0),
    (Instrument::Saxophone, "woodwind", 10.0, 16.0),
    (Instrument::Accordion, "keys", 14.0, 18.0),
    (Instrument::OrganLeft, "keys", 14.0, 18.0),
    (Instrument::OrganRight, "keys", 14.0, 18.0),
];

/// How far a crest factor may lie outside the measured ones, in dB: players differ that much from phrase to phrase.
const CREST_TOLERANCE_DB: f64 = 4.0;

/// How far the active level of a typical phrase may lie from -20 dBFS, in dB: a player's touch, +-1 dB, and the phrase's own turns.
const LEVEL_TOLERANCE_DB: f64 = 2.5;

fn play(instrument: Instrument, seed: u64) -> Vec<f32> {
    let notes = phrase(instrument, PHRASE_S, seed);
    render(instrument, &notes, samples(PHRASE_S), RATE_HZ, seed)
}

fn samples(seconds: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "small and positive"
    )]
    let count = (seconds * f64::from(RATE_HZ)).round() as usize;
    count
}

fn note(start_s: f64, length_s: f64, pitch: f64) -> Note {
    Note { start_s, length_s, pitch, velocity: 0.8 }
}

/// Lower and upper limits of the ten bands of a role, from the table.
fn window(role: &str) -> Vec<(f64, f64)> {
    let table = include_str!("../../corpus/roles/windows.csv");
    let row = table
        .lines()
        .find(|line| line.split(',').next() == Some(role))
        .expect("each role of the cast has a window");
    let cells: Vec<&str> = row.split(',').skip(2).collect();
    cells
        .chunks(2)
        .map(|pair| {
            let lower =
                if pair[0].is_empty() { -200.0 } else { pair[0].parse().expect("a number") };
            (lower, pair[1].parse().expect("a number"))
        })
        .collect()
}

#[track_caller]
fn check_window(who: &str, shares_db: &[f64; 10], role: &str) {
    let limits_db = window(role);
    for (band, (share_db, (lower_db, upper_db))) in shares_db.iter().zip(limits_db).enumerate() {
        assert!(
            (lower_db..=upper_db).contains(share_db),
            "{who}, band {band}: expected {lower_db} to {upper_db} dB, found {share_db:.1}"
        );
    }
}

#[test]
fn each_source_lies_in_the_window_and_the_crest_of_its_role() {
    for (instrument, role, least_db, most_db) in CAST {
        for seed in SEEDS {
            let found = profile(&play(instrument, seed));
            let who = format!("{instrument:?}, seed {seed}");
            check_window(&who, &found.shares_db, role);
            let range_db = least_db - CREST_TOLERANCE_DB..=most_db + CREST_TOLERANCE_DB;
            assert!(
                range_db.contains(&found.crest_db),
                "{who}: expected a crest of {range_db:?} dB, found {:.1}",
                found.crest_db
            );
            assert!(
                (found.active_dbfs + 20.0).abs() < LEVEL_TOLERANCE_DB,
                "{who}: expected -20 dBFS, found {:.1}",
                found.active_dbfs
            );
        }
    }
}

#[test]
fn crash_and_ride_together_lie_in_the_window_of_an_overhead() {
    for seed in SEEDS {
        let crash = play(Instrument::Crash, seed);
        let mix: Vec<f32> = crash
            .iter()
            .zip(play(Instrument::Ride, seed))
            .map(|(one, other)| one + other)
            .collect();
        check_window("cymbals", &profile(&mix).shares_db, "overhead");
    }
}

/// Byrne et al., "An international comparison of long-term average speech spectra", J. Acoust. Soc. Am. 96, 1994: talkers of one group
/// scatter by 3 to 5 dB around the mean spectrum (from memory).
const SPEECH_TOLERANCE_DB: f64 = 5.0;

#[test]
fn talk_has_the_long_term_spectrum_of_speech() {
    // Bands of the published third-octave levels: warmth 125 to 200 Hz, thick, body, and so on up to air, 10 to 16 kHz. Below 125 Hz
    // the published values are those of low voices alone.
    let table = include_str!("../../corpus/reference/ltass_byrne1994.csv");
    let powers: Vec<f64> = table
        .lines()
        .filter(|line| line.starts_with(|first: char| first.is_ascii_digit()))
        .map(|line| 10_f64.powf(line.split(',').nth(1).unwrap().parse::<f64>().unwrap() / 10.0))
        .collect();
    assert_eq!(25, powers.len(), "third-octaves from 63 Hz to 16 kHz");
    let total: f64 = powers.iter().sum();
    let published_db: Vec<f64> = [3..6, 6..8, 8..12, 12..15, 15..18, 18..20, 20..22, 22..25]
        .map(|thirds| 10.0 * (powers[thirds].iter().sum::<f64>() / total).log10())
        .to_vec();
    let found = profile(&play(Instrument::Host, 5)).shares_db;
    for (band, (published_db, found_db)) in published_db.iter().zip(&found[2..]).enumerate() {
        assert!(
            (published_db - found_db).abs() < SPEECH_TOLERANCE_DB,
            "band {}: expected {published_db:.1} dB, found {found_db:.1}",
            band + 2
        );
    }
}

#[test]
fn talk_comes_in_syllables_and_begins_and_ends_with_its_note() {
    let length = samples(12.0);
    let notes = [Note { velocity: 0.8, ..note(1.0, 10.0, 50.0) }];
    let talk = render(Instrument::Host, &notes, length, RATE_HZ, 6);
    let silent = |from_s: f64, to_s: f64| mean_square(&talk[samples(from_s)..samples(to_s)]) < 1e-9;
    assert!(silent(0.0, 0.99), "nothing is heard before the utterance");
    assert!(!silent(1.0, 1.06), "the utterance begins at once");
    assert!(!silent(10.8, 11.0), "the utterance lasts to its end");
    assert!(silent(11.15, 12.0), "nothing is heard after the utterance");
    // The loudness of speech moves most at 3 to 5 Hz (Houtgast and Steeneken, "A review of the MTF concept in room acoustics", J. Acoust.
    // Soc. Am. 77, 1985), so more between 2 and 8 Hz than from there to 32 Hz.
    let steps: Vec<f64> = talk[samples(1.0)..samples(11.0)]
        .chunks(480)
        .map(|step| mean_square(step).sqrt())
        .collect();
    let mean = steps.iter().sum::<f64>() / steps.len() as f64;
    let movement = |at_hz: f64| {
        let (real, imaginary) = steps.iter().enumerate().fold((0.0, 0.0), |sum, (idx, step)| {
            let (sin, cos) = (std::f64::consts::TAU * at_hz * idx as f64 / 100.0).sin_cos();
            (sum.0 + (step - mean) * cos, sum.1 + (step - mean) * sin)
        });
        real * real + imaginary * imaginary
    };
    let sum =
        |from: u32, to: u32| (from..to).map(|tenth| movement(f64::from(tenth) / 10.0)).sum::<f64>();
    let (syllables, faster) = (sum(20, 80), sum(80, 320));
    assert!(syllables > 2.0 * faster, "expected syllables, found {syllables} and {faster}");
    let n_pauses = talk[samples(1.0)..samples(11.0)]
        .chunks(samples(0.15))
        .filter(|step| mean_square(step) < 1e-8)
        .count();
    assert!(n_pauses >= 2, "expected pauses between phrases, found {n_pauses}");
}

/// How far a pitch may be off, in cents: a listener notices 5 cents at best (common practice).
const PITCH_TOLERANCE_CENTS: f64 = 5.0;

#[test]
fn strings_and_keys_are_in_tune() {
    for instrument in [
        Instrument::Bass,
        Instrument::AcousticGuitar,
        Instrument::ElectricGuitar,
        Instrument::KeysLeft,
        Instrument::SynthPad,
    ] {
        for pitch in [40.0, 45.5, 52.0, 64.0] {
            let tone = render(instrument, &[note(0.0, 2.0, pitch)], samples(2.0), RATE_HZ, 2);
            // Equal temperament: 440 Hz at 69.
            let expected_hz = 440.0 * ((pitch - 69.0) / 12.0_f64).exp2();
            let cents: Vec<i32> = (-12..=12).collect();
            let loudest = cents
                .into_iter()
                .max_by(|&one, &other| {
                    let power = |cent: i32| {
                        power_at(&tone, expected_hz * (f64::from(cent) / 1200.0).exp2())
                    };
                    power(one).total_cmp(&power(other))
                })
                .unwrap();
            assert!(
                f64::from(loudest).abs() <= PITCH_TOLERANCE_CENTS,
                "{instrument:?} at {pitch}: expected {expected_hz:.2} Hz, found {loudest} cents off"
            );
        }
    }
}

/// -60 dB: far under what a meter shows.
const DC_SHARE: f64 = 1e-3;

#[test]
fn no_source_has_a_constant_part_or_a_value_that_is_not_a_number() {
    for (instrument, ..) in CAST {
        let tone = play(instrument, 3);
        assert!(tone.iter().all(|sample| sample.is_finite()), "{instrument:?} is finite");
        let mean = tone.iter().map(|&sample| f64::from(sample)).sum::<f64>() / tone.len() as f64;
        let rms = mean_square(&tone).sqrt();
        assert!(mean.abs() < DC_SHARE * rms, "{instrument:?}: found {mean} beside an RMS of {rms}");
    }
}

#[test]
fn notes_end_softly() {
    for instrument in [
        Instrument::Bass,
        Instrument::AcousticGuitar,
        Instrument::ElectricGuitar,
        Instrument::KeysLeft,
        Instrument::KeysRight,
        Instrument::Fiddle,
        Instrument::Trumpet,
        Instrument::LeadVoice,
        Instrument::BackingVoice(1),
        Instrument::Choir,
        Instrument::SynthPad,
        Instrument::Applause,
    ] {
        let tone = render(instrument, &[note(0.5, 1.0, 57.0)], samples(3.0), RATE_HZ, 8);
        let jump = |from_s: f64, to_s: f64| {
            tone[samples(from_s)..samples(to_s)]
                .windows(2)
                .map(|pair| f64::from((pair[1] - pair[0]).abs()))
                .fold(0.0, f64::max)
        };
        // A note cut off would jump more than anything in it.
        let (held, ending) = (jump(1.2, 1.45), jump(1.49, 2.2));
        assert!(ending <= 1.1 * held, "{instrument:?}: found {ending} after {held}");
        let rest = mean_square(&tone[samples(2.5)..]);
        assert!(rest < 1e-9, "{instrument:?}: expected silence a second later, found {rest}");
        let before = mean_square(&tone[..samples(0.49)]);
        assert!(before < 1e-12, "{instrument:?}: expected silence before the note, found {before}");
    }
}

#[test]
fn same_seed_same_samples_and_other_seed_other_samples() {
    for (instrument, ..) in CAST {
        let notes = phrase(instrument, 3.0, 1);
        let play = |seed| render(instrument, &notes, samples(3.0), RATE_HZ, seed);
        assert!(play(1) == play(1), "{instrument:?} repeats itself");
        assert!(play(1) != play(2), "{instrument:?} differs by seed");
    }
}

fn correlation(one: &[f32], other: &[f32]) -> f64 {
    let product: f64 =
        one.iter().zip(other).map(|(&one, &other)| f64::from(one) * f64::from(other)).sum();
    product / one.len() as f64 / (mean_square(one) * mean_square(other)).sqrt()
}

#[test]
fn bottom_of_the_snare_is_the_top_inverted() {
    let notes = phrase(Instrument::SnareTop, 10.0, 4);
    let [top, bottom] = [Instrument::SnareTop, Instrument::SnareBottom]
        .map(|side| render(side, &notes, samples(10.0), RATE_HZ, 4));
    let found = correlation(&top, &bottom);
    assert!(
        (-0.9..-0.3).contains(&found),
        "expected a clearly negative correlation, found {found}"
    );
}

#[test]
fn outputs_of_the_piano_are_alike_but_not_equal() {
    let notes = phrase(Instrument::KeysLeft, 10.0, 4);
    let [left, right] = [Instrument::KeysLeft, Instrument::KeysRight]
        .map(|side| render(side, &notes, samples(10.0), RATE_HZ, 4));
    let found = correlation(&left, &right);
    assert!((0.8..0.99).contains(&found), "expected 0.8 to 0.99, found {found}");
}

#[test]
fn outputs_of_the_organ_are_alike_but_not_equal() {
    let notes = phrase(Instrument::OrganLeft, 10.0, 4);
    let [left, right] = [Instrument::OrganLeft, Instrument::OrganRight]
        .map(|side| render(side, &notes, samples(10.0), RATE_HZ, 4));
    let found = correlation(&left, &right);
    assert!((0.3..0.99).contains(&found), "expected 0.3 to 0.99, found {found}");
}

#[test]
fn a_larger_drum_sounds_lower_by_its_size() {
    let length = samples(1.0);
    let hit = |size| {
        let notes = [note(0.0, 0.1, 36.0)];
        render_sized(Instrument::Kick, size, &notes, length, RATE_HZ, 3)[samples(0.15)..].to_vec()
    };
    // The lowest tone of the usual drum is 49 Hz; its skin has come to rest after 0.15 s.
    for (size, at_hz, other_hz) in [(1.0, 49.0, 39.2), (1.25, 39.2, 49.0)] {
        let drum = hit(size);
        let (at, other) = (power_at(&drum, at_hz), power_at(&drum, other_hz));
        assert!(at > 2.0 * other, "size {size}: {at} at {at_hz} Hz, {other} at {other_hz} Hz");
    }
    let notes = [note(0.0, 0.1, 36.0)];
    assert!(
        hit(1.0) == render(Instrument::Kick, &notes, length, RATE_HZ, 3)[samples(0.15)..],
        "the usual size is the usual drum"
    );
}

#[test]
fn a_clarinet_has_odd_partials_and_a_saxophone_all() {
    // A tube closed at one end sounds its odd partials (Fletcher and Rossing, "The Physics of Musical Instruments").
    for (instrument, has_even) in [(Instrument::Clarinet, false), (Instrument::Saxophone, true)] {
        let tone = render(instrument, &[note(0.0, 2.0, 57.0)], samples(2.0), RATE_HZ, 1);
        // The straight beginning: later the vibrato spreads the lines.
        let held = &tone[samples(0.1)..samples(0.3)];
        let below_db = 10.0 * (power_at(held, 220.0) / power_at(held, 440.0)).log10();
        assert_eq!(below_db < 20.0, has_even, "{instrument:?}: second {below_db:.1} dB below");
    }
}

#[test]
fn clicks_of_one_pitch_are_equal_to_the_last_bit() {
    let notes: Vec<Note> = (0..4).map(|beat| note(0.5 * f64::from(beat), 0.03, 84.0)).collect();
    let clicks = render(Instrument::Click, &notes, samples(2.0), RATE_HZ, 1);
    let beats: Vec<&[f32]> = clicks.chunks(samples(0.5)).collect();
    assert!(beats.iter().all(|beat| *beat == beats[0]), "all four are equal");
    let loudest =
        render(Instrument::Click, &[Note { velocity: 1.0, ..notes[0] }], 4800, RATE_HZ, 1)
            .into_iter()
            .fold(0.0_f32, |peak, sample| peak.max(sample.abs()));
    // A decaying sine peaks before its envelope: at most 1, and near it.
    assert!((0.8..=1.0).contains(&loudest), "expected full scale, found {loudest}");
}

#[test]
fn hits_differ_but_come_on_time() {
    let notes = [note(0.25, 0.1, 38.0), note(1.25, 0.1, 38.0)];
    for instrument in
        [Instrument::Kick, Instrument::SnareTop, Instrument::RackTom, Instrument::HiHat]
    {
        let hits = render(instrument, &notes, samples(2.25), RATE_HZ, 3);
        let one = &hits[samples(0.25)..samples(0.75)];
        let other = &hits[samples(1.25)..samples(1.75)];
        assert!(one != other, "{instrument:?}: no two hits are the same");
        assert!(hits[..samples(0.25)].iter().all(|&sample| sample == 0.0), "{instrument:?} waits");
        let (early, late) = (mean_square(&one[..samples(0.05)]), mean_square(&one[samples(0.4)..]));
        assert!(early > 30.0 * late, "{instrument:?}: expected a decay, found {early} then {late}");
    }
}

#[test]
fn open_hi_hat_rings_on() {
    let ring = |length_s| {
        let hit = render(Instrument::HiHat, &[note(0.0, length_s, 42.0)], samples(1.0), RATE_HZ, 1);
        mean_square(&hit[samples(0.2)..samples(0.4)])
    };
    assert!(ring(0.4) > 10.0 * ring(0.1), "found {} open and {} closed", ring(0.4), ring(0.1));
}

#[test]
fn louder_playing_is_louder_and_brighter() {
    for instrument in [Instrument::Trumpet, Instrument::KeysLeft, Instrument::AcousticGuitar] {
        let at = |velocity| {
            let notes = [Note { velocity, ..note(0.0, 1.5, 60.0) }];
            profile(&render(instrument, &notes, samples(1.5), RATE_HZ, 1))
        };
        let (soft, loud) = (at(0.5), at(0.9));
        assert!(loud.active_dbfs > soft.active_dbfs + 8.0, "{instrument:?} is louder");
        // The band named presence, 1.8 to 3.5 kHz.
        let gain_db = loud.shares_db[6] - soft.shares_db[6];
        assert!(gain_db > 2.0, "{instrument:?}: expected more presence, found {gain_db:.1} dB");
    }
}

#[test]
fn choir_is_the_sum_of_fourteen_singers_in_power() {
    let notes = phrase(Instrument::Choir, 8.0, 2);
    let level = |instrument| mean_square(&render(instrument, &notes, samples(8.0), RATE_HZ, 2));
    let singers: f64 = (0..14).map(|number| level(Instrument::ChoirSinger(number))).sum();
    let difference_db = 10.0 * (singers / level(Instrument::Choir)).log10();
    // Voices that are a little out of tune with each other add in power; over some seconds to about 1 dB.
    assert!(difference_db.abs() < 1.5, "found {difference_db:.2} dB");
}

#[test]
fn held_pad_has_overtones_unlike_a_howl() {
    // A howl is a single frequency; the first overtones of a note played at 1.2 kHz stand 40 dB or less below it.
    let pitch = 69.0 + 12.0 * (1200.0_f64 / 440.0).log2();
    let pad = render(Instrument::SynthPad, &[note(0.0, 3.0, pitch)], samples(3.0), RATE_HZ, 1);
    let held = &pad[samples(0.5)..samples(2.5)];
    for order in [2.0, 3.0] {
        let below_db = 10.0 * (power_at(held, 1200.0) / power_at(held, order * 1200.0)).log10();
        assert!((3.0..40.0).contains(&below_db), "overtone {order}: found {below_db:.1} dB below");
    }
}

#[test]
fn odd_parts_are_played_without_trouble() {
    let notes =
        [note(-0.5, 0.2, 60.0), note(0.1, 0.0, 60.0), note(0.3, 9.0, 130.0), note(5.0, 1.0, 3.0)];
    let others =
        [Instrument::Crash, Instrument::Ride, Instrument::ChoirSinger(13), Instrument::Clap]
            .into_iter()
            .chain([Instrument::Applause, Instrument::Click, Instrument::SynthPad]);
    for instrument in CAST.map(|(instrument, ..)| instrument).into_iter().chain(others) {
        for rate_hz in [44_100, 96_000] {
            let sound = render(instrument, &notes, 40_000, rate_hz, 1);
            assert_eq!(40_000, sound.len(), "{instrument:?} has the length asked for");
            assert!(sound.iter().all(|sample| sample.is_finite()), "{instrument:?} is finite");
            assert!(render(instrument, &[], 10, rate_hz, 1) == [0.0; 10], "{instrument:?} rests");
        }
    }
}
