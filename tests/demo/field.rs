//! Tests of `demo::field`: distance, patterns and reflections against closed forms and published tables.

use deskside::demo::{
    field::{Field, PIECE, Past},
    geometry::{Point, distance_m},
    hall::Emitter,
    scene::{Microphone, Pattern, Scene},
};

use crate::support::demo::place;

/// Speed of sound at 20 °C (ISO 9613-1; `speed_of_sound.csv`).
const SPEED_M_S: f64 = 343.2;

/// Sample rate of the scenes.
const RATE_HZ: f64 = 48_000.0;

/// A fractional delay is exact but for single precision and the fade above 20 kHz.
const DELAY_TOLERANCE_SAMPLES: f64 = 0.02;

/// Gains are exact but for what a response cut at its first sample loses.
const LEVEL_TOLERANCE_DB: f64 = 0.02;

/// Responses of microphones to one source in a hall with these walls and no tail.
fn responses(source: Point, mics: &[Microphone], wall_reflection: f64) -> Vec<Vec<f64>> {
    let mut hall = Scene::cut().hall;
    hall.wall_reflection = wall_reflection;
    hall.late_trim_db = -300.0;
    let emitter = Emitter { at_m: source, facing: [0.0, -1.0, 0.0], omni: 1.0, latency_s: 0.0 };
    let mut field = Field::new(&hall, 20.0, 48_000, vec![emitter], mics, 1);
    let mut impulse = vec![0.0; PIECE];
    impulse[0] = 1.0;
    let heard = field.push(&[Some(impulse)]);
    heard.iter().map(|heard| heard[..8192].iter().map(|x| f64::from(*x)).collect()).collect()
}

fn mic(at_m: Point, pattern: Pattern, axis: Point) -> Microphone {
    Microphone { at_m, pattern, axis }
}

/// Middle of a response's energy, in samples: the delay of a symmetric pulse.
fn centre(response: &[f64]) -> f64 {
    let energy: f64 = response.iter().map(|x| x * x).sum();
    response.iter().enumerate().map(|(n, x)| n as f64 * x * x).sum::<f64>() / energy
}

/// Gain at low frequencies, where directional microphones lose no treble: the sum of the response.
fn low_gain_db(response: &[f64]) -> f64 {
    20.0 * response.iter().sum::<f64>().abs().log10()
}

#[test]
fn kick_reaches_the_lead_microphone_after_distance_over_speed() {
    let scene = Scene::cut();
    let kick = scene.sources[scene.source_idx("kick").unwrap()].at_m.unwrap();
    let lead = scene.channels[scene.channel_idx("LV").unwrap()].mic.unwrap();
    let response = &responses(kick, &[lead], 0.0)[0];
    let expected = distance_m(kick, lead.at_m) / SPEED_M_S * RATE_HZ;
    let found = centre(response);
    assert!(
        (found - expected).abs() < DELAY_TOLERANCE_SAMPLES,
        "{found} samples, expected {expected}"
    );
}

#[test]
fn level_falls_by_6_02_db_when_distance_doubles() {
    let mics = [1.0, 2.0, 4.0].map(|y| mic([0.0, -y, 1.0], Pattern::Omni, [0.0; 3]));
    let levels: Vec<f64> =
        responses([0.0, 0.0, 1.0], &mics, 0.0).iter().map(|h| low_gain_db(h)).collect();
    for pair in levels.windows(2) {
        let fall_db = pair[0] - pair[1];
        assert!((fall_db - 6.0206).abs() < LEVEL_TOLERANCE_DB, "falls by {fall_db} dB");
    }
}

#[test]
fn patterns_attenuate_as_the_polar_table_says() {
    let table = include_str!("../../corpus/reference/polar_patterns.csv");
    let cases = [
        ("cardioid,", Pattern::Cardioid),
        ("supercardioid nominal 0.37,", Pattern::Supercardioid),
        ("hypercardioid (0.25),", Pattern::Hypercardioid),
    ];
    for (name, pattern) in cases {
        let row = table.lines().find(|line| line.starts_with(name)).unwrap();
        let cells: Vec<&str> = row.split(',').collect();
        let at = [0.0, -1.5, 1.0];
        let source = [0.0, 0.0, 1.0];
        let towards = [[0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, -1.0, 0.0]];
        let mics = towards.map(|axis| mic(at, pattern, axis));
        let levels: Vec<f64> =
            responses(source, &mics, 0.0).iter().map(|h| low_gain_db(h)).collect();
        let side_db: f64 = cells[3].parse().unwrap();
        assert!(
            (levels[1] - levels[0] - side_db).abs() < LEVEL_TOLERANCE_DB,
            "{name} at 90 degrees: {} dB, expected {side_db}",
            levels[1] - levels[0]
        );
        // A null is as deep as numbers allow; other backs are in the table.
        let back_db = cells[4].parse::<f64>().unwrap().max(-80.0);
        let found_db = (levels[2] - levels[0]).max(-80.0);
        assert!(
            (found_db - back_db).abs() < LEVEL_TOLERANCE_DB,
            "{name} at 180 degrees: {found_db} dB, expected {back_db}"
        );
    }
}

#[test]
fn treble_is_lost_mildly_behind_a_directional_microphone() {
    let mics = [[0.0, 1.0, 0.0], [0.0, -1.0, 0.0]]
        .map(|axis| mic([0.0, -1.0, 1.0], Pattern::Supercardioid, axis));
    let responses = responses([0.0, 0.0, 1.0], &mics, 0.0);
    let at_10_khz = |h: &[f64]| {
        let angle = std::f64::consts::TAU * 10_000.0 / RATE_HZ;
        let (re, im) = h.iter().enumerate().fold((0.0, 0.0), |(re, im), (n, x)| {
            (re + x * (angle * n as f64).cos(), im - x * (angle * n as f64).sin())
        });
        20.0 * f64::hypot(re, im).log10() - low_gain_db(h)
    };
    let (front_db, back_db) = (at_10_khz(&responses[0]), at_10_khz(&responses[1]));
    // In front two corners of 40 kHz: -20 lg(1 + 1/16). Behind a few dB (common practice).
    assert!((front_db + 0.527).abs() < LEVEL_TOLERANCE_DB, "{front_db} dB in front");
    assert!((-8.0..-2.0).contains(&back_db), "{back_db} dB behind");
}

#[test]
fn floor_reflection_comes_from_the_mirror_image() {
    let (source, at) = ([0.0, 0.0, 0.3], [0.0, 2.0, 0.4]);
    let mics = [mic(at, Pattern::Omni, [0.0; 3])];
    let with = &responses(source, &mics, 0.7)[0];
    let without = &responses(source, &mics, 0.0)[0];
    let reflected: Vec<f64> = with.iter().zip(without).map(|(a, b)| a - b).collect();
    let mirrored = f64::hypot(2.0, 0.7);
    let expected = mirrored / SPEED_M_S * RATE_HZ;
    // The next reflection, by a side wall, comes more than 1,000 samples later.
    let found = centre(&reflected[..place(expected) + 200]);
    assert!((found - expected).abs() < 0.1, "{found} samples, expected {expected}");
    let gain_db = low_gain_db(&reflected[..place(expected) + 200]);
    let expected_db = 20.0 * (0.7 / mirrored).log10();
    assert!((gain_db - expected_db).abs() < 0.1, "{gain_db} dB, expected {expected_db}");
}

#[test]
fn sources_share_a_tail_only_where_the_hall_has_one() {
    let mut hall = Scene::cut().hall;
    let stands = mic([0.0, -3.0, 1.0], Pattern::Omni, [0.0; 3]);
    let emitter =
        Emitter { at_m: [0.0, 1.0, 1.0], facing: [0.0, -1.0, 0.0], omni: 1.0, latency_s: 0.0 };
    let mut correlation = |n_tails| {
        hall.n_tails = n_tails;
        let field = Field::new(&hall, 20.0, 48_000, vec![emitter, emitter], &[stands], 1);
        let mut impulse = vec![0.0; PIECE];
        impulse[0] = 1.0;
        let [one, other] = [0, 1].map(|source| {
            let mut pieces = vec![None, None];
            pieces[source] = Some(impulse.clone());
            let heard = field.alone(&pieces, &mut Past::default()).remove(0);
            // After direct sound and first reflections, which are equal.
            heard[9600..60_000].iter().map(|x| f64::from(*x)).collect::<Vec<f64>>()
        });
        let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        product(&one, &other) / (product(&one, &one) * product(&other, &other)).sqrt()
    };
    assert!(correlation(1) > 0.999, "one tail for both");
    // As many independent samples carry the energy as between two microphones.
    assert!(correlation(2).abs() < 0.05, "two tails");
}

#[test]
fn what_things_give_alone_adds_up_to_what_is_heard() {
    let mut hall = Scene::cut().hall;
    hall.n_tails = 2;
    let stands = [mic([0.5, -1.0, 1.0], Pattern::Cardioid, [0.0, 1.0, 0.0])];
    let emitter = |x: f64| Emitter {
        at_m: [x, 1.0, 1.0],
        facing: [0.0, -1.0, 0.0],
        omni: 0.7,
        latency_s: 0.0,
    };
    let mut field = Field::new(&hall, 20.0, 48_000, vec![emitter(-1.0), emitter(1.0)], &stands, 1);
    let mut impulses = [vec![0.0; PIECE], vec![0.0; PIECE]];
    // The second sounds near the end of the piece, so that it rings into the next.
    impulses[0][100] = 1.0;
    impulses[1][PIECE - 1000] = -0.5;
    let [first, second] = impulses.map(Some);
    let mut pasts = [Past::default(), Past::default()];
    for piece in 0..2 {
        let of = |sound: &Option<Vec<f32>>| if piece == 0 { sound.clone() } else { None };
        let together = field.push(&[of(&first), of(&second)]).remove(0);
        let one = field.alone(&[of(&first), None], &mut pasts[0]).remove(0);
        let other = field.alone(&[None, of(&second)], &mut pasts[1]).remove(0);
        let peak = together.iter().fold(0.0_f32, |peak, x| peak.max(x.abs()));
        assert!(peak > 1e-3, "piece {piece} is heard");
        for ((sum, one), other) in together.iter().zip(one).zip(other) {
            // Single precision through transforms of 262,144 samples.
            assert!((sum - one - other).abs() < 1e-5 * peak.max(0.1), "piece {piece}");
        }
    }
}

#[test]
fn pieces_join_without_a_seam() {
    let hall = Scene::cut().hall;
    let mics = [mic([0.0, -2.0, 1.0], Pattern::Cardioid, [0.0, 1.0, 0.0])];
    let emitter =
        Emitter { at_m: [0.0, 0.0, 1.0], facing: [0.0, -1.0, 0.0], omni: 1.0, latency_s: 0.0 };
    let click = |place: usize| {
        let mut field = Field::new(&hall, 20.0, 48_000, vec![emitter], &mics, 1);
        let mut heard = Vec::new();
        for piece in 0..2 {
            let here = place / PIECE == piece;
            let samples = here.then(|| {
                let mut samples = vec![0.0; PIECE];
                samples[place % PIECE] = 1.0;
                samples
            });
            heard.extend(field.push(&[samples]).remove(0));
        }
        heard
    };
    // The same click early in the first piece and across the border of the second.
    let (early, late) = (click(1000), click(PIECE - 100));
    let shift = PIECE - 100 - 1000;
    let worst = (0..20_000).map(|n| (early[1000 + n] - late[1000 + n + shift]).abs());
    let worst = worst.fold(0.0_f32, f32::max);
    // Single precision over transforms of 262,144 samples.
    assert!(worst < 2e-6, "differs by {worst}");
}
