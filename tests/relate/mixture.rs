//! What a desk did, read back from mixes whose every setting is known.

use deskside::relate::grid::middle_hz;
use deskside::relate::mixture::{InMix, Mixture, mixture};
use deskside::relate::ride::not_negative;

use crate::support::desk::{N_PLAYERS, Strip, add, held, high_pass_db, median, microphones, mix};

/// Median error of a gain in a second, and the 95th percentile.
const GAIN_DB: [f64; 2] = [0.35, 1.7];

fn strips() -> Vec<Strip> {
    let settings =
        [(-6.0, 0.0), (-3.0, -0.5), (-9.0, 0.4), (0.0, -0.1), (-12.0, 1.0), (-5.0, -1.0)];
    settings.map(|(gain_db, pan)| Strip::plain(gain_db, pan)).to_vec()
}

fn read(raw: &[Vec<f32>], main: &[Vec<f32>; 2]) -> Mixture {
    let (held, patch) = held(raw, main);
    mixture(&held, &patch, &[]).expect("there are channels and sound")
}

/// Errors of the gains of a channel, second by second.
fn errors_db(found: &InMix, expected_db: f64) -> Vec<f64> {
    found.gain_db.iter().flatten().map(|gain_db| (gain_db - expected_db).abs()).collect()
}

#[test]
fn gains_and_pans_come_out_as_they_were_set() {
    let raw = microphones();
    let found = read(&raw, &mix(&raw, &strips()));
    let mut all = Vec::new();
    for (channel, strip) in found.channels.iter().zip(strips()) {
        all.extend(errors_db(channel, strip.gain_db));
        let pan = channel.pan.expect("it is in the mix");
        assert!((pan - strip.pan).abs() < 0.04, "{}: {pan}, not {}", channel.channel, strip.pan);
        assert_eq!(channel.polarity, Some(1.0), "{}", channel.channel);
        assert_eq!(channel.on.len(), 1, "{}: never closed", channel.channel);
    }
    all.sort_by(f64::total_cmp);
    assert!(all.len() > N_PLAYERS * 20, "nearly every second has a gain: {}", all.len());
    assert!(median(&all) < GAIN_DB[0], "{}", median(&all));
    assert!(all[all.len() * 95 / 100] < GAIN_DB[1], "{}", all[all.len() * 95 / 100]);
    assert!(found.explained_share.is_some_and(|share| share > 0.99), "{:?}", found.explained_share);
    assert!(found.groups.is_empty() && found.unsure.is_empty(), "nobody plays twice");
}

#[test]
fn powers_of_bands_alone_tell_gains_far_worse() {
    let raw = microphones();
    let mut settings = strips();
    settings[1].ride = Some([8.0, 1.0, 6.0]);
    settings[3].squeeze_dbfs = Some(-30.0);
    let found = read(&raw, &mix(&raw, &settings));
    let (mut naive, mut ours) = (Vec::new(), Vec::new());
    for (second, slot) in found.slots.iter().enumerate() {
        let n = N_PLAYERS;
        let (mut products, mut with_main) = (vec![0.0f32; n * n], vec![0.0f32; n]);
        for band in 6..26 {
            let main = slot.main[0][band] + slot.main[1][band];
            if main <= 0.0 {
                continue;
            }
            for a in 0..n {
                with_main[a] += slot.raw[a][band] / main;
                for b in 0..n {
                    products[a * n + b] += slot.raw[a][band] * slot.raw[b][band] / (main * main);
                }
            }
        }
        (0..n).for_each(|k| products[k * n + k] += 1e-9);
        let powers = not_negative(&products, &with_main, 300);
        // Channels that stand still, and are heard in this second.
        for k in [0, 2, 5] {
            let Some(gain_db) = found.channels[k].gain_db[second] else { continue };
            let naive_db = 10.0 * f64::from(powers[k].max(1e-6)).log10();
            naive.push((naive_db - settings[k].gain_db).abs());
            ours.push((gain_db - settings[k].gain_db).abs());
        }
    }
    assert!(median(&ours) < GAIN_DB[0], "{}", median(&ours));
    assert!(median(&naive) > 3.0 * median(&ours), "{} and {}", median(&naive), median(&ours));
}

#[test]
fn a_mute_is_found_to_a_tenth_of_a_second_and_nothing_else_closes() {
    let raw = microphones();
    let mut settings = strips();
    settings[1].mute_s = Some([6.0, 13.0]);
    settings[3].mute_s = Some([15.5, 20.0]);
    let found = read(&raw, &mix(&raw, &settings));
    for (channel, strip) in found.channels.iter().zip(&settings) {
        let Some([closed_s, opened_s]) = strip.mute_s else {
            assert_eq!(channel.on.len(), 1, "{}: {:?}", channel.channel, channel.on);
            continue;
        };
        let [before, after] = channel.on[..] else { panic!("{:?} is not two spans", channel.on) };
        assert!((before.end_s - closed_s).abs() < 0.1, "{before:?}, closed at {closed_s}");
        assert!((after.start_s - opened_s).abs() < 0.1, "{after:?}, opened at {opened_s}");
        let inside = closed_s.ceil() as usize + 1..opened_s as usize - 1;
        assert!(channel.gain_db[inside].iter().all(Option::is_none), "no gain while closed");
    }
}

#[test]
fn an_equaliser_comes_out_by_third_octave() {
    let raw = microphones();
    let mut settings = strips();
    settings[3].high_pass_hz = Some(500.0);
    let found = read(&raw, &mix(&raw, &settings));
    let bands: Vec<(usize, f64)> = found.channels[3]
        .eq_db
        .iter()
        .enumerate()
        .filter_map(|(b, db)| Some((b, (*db)?)))
        .collect();
    assert!(bands.len() > 12, "{bands:?}");
    let expected: Vec<f64> = bands.iter().map(|b| high_pass_db(500.0, middle_hz(b.0))).collect();
    let offset_db = median(&expected);
    let errors: Vec<f64> =
        bands.iter().zip(&expected).map(|(b, e)| (b.1 - (e - offset_db)).abs()).collect();
    assert!(median(&errors) < 0.4, "{errors:?}");
    let flat: Vec<f64> = found.channels[0].eq_db.iter().flatten().map(|db| db.abs()).collect();
    assert!(median(&flat) < 0.4, "{flat:?}");
}

#[test]
fn what_was_not_recorded_is_missing_from_the_explained_share() {
    let raw = microphones();
    let main = mix(&raw, &strips());
    let found = read(&raw[..N_PLAYERS - 1], &main);
    let share = found.explained_share.expect("there is sound");
    assert!(share < 0.93, "{share}");
    let all: Vec<f64> =
        (0..4).flat_map(|k| errors_db(&found.channels[k], strips()[k].gain_db)).collect();
    assert!(median(&all) < 2.0 * GAIN_DB[0], "the others stay where they were: {}", median(&all));
}

#[test]
fn an_effects_return_is_a_channel_like_any_other() {
    let mut raw = microphones();
    let mut main = mix(&raw, &strips());
    // Echoes of one channel, 340 ms apart.
    let mut echoes = vec![0.0f32; raw[0].len()];
    for (turn, gain) in [(1, 0.8f32), (2, 0.6), (3, 0.4)] {
        let late = echoes.iter_mut().skip(turn * 16_320);
        late.zip(&raw[0]).for_each(|(echo, x)| *echo += gain * x);
    }
    add(&mut main, &Strip::plain(-4.0, 0.3).run(&echoes));
    let without = read(&raw, &main).explained_share.expect("there is sound");
    raw.push(echoes);
    let with = read(&raw, &main);
    assert!(without < 0.96, "{without}");
    assert!(with.explained_share.is_some_and(|share| share > 0.99), "{:?}", with.explained_share);
    let error_db = median(&errors_db(&with.channels[N_PLAYERS], -4.0));
    assert!(error_db < GAIN_DB[0], "{error_db}");
}

#[test]
fn a_compressor_is_told_from_a_fader_and_an_inversion_from_both() {
    let raw = microphones();
    let mut settings = strips();
    settings[3].squeeze_dbfs = Some(-40.0);
    settings[1].ride = Some([12.0, 1.0, 5.0]);
    settings[5].is_inverted = true;
    let found = read(&raw, &mix(&raw, &settings));
    let hand = |k: usize| found.channels[k].hand.as_ref().expect("it plays for long enough");
    assert!(
        hand(3).swing_db > 3.0 && hand(3).slope < 0.0,
        "{} {}",
        hand(3).swing_db,
        hand(3).slope
    );
    assert!(
        hand(0).swing_db < 1.5 && hand(1).swing_db < 1.5,
        "{} {}",
        hand(0).swing_db,
        hand(1).swing_db
    );
    let frame = |s: f64| (s / (2048.0 / 48_000.0)) as usize;
    let moved_db = hand(1).fader_db[frame(20.0)] - hand(1).fader_db[frame(5.0)];
    assert!((moved_db - 5.0).abs() < 0.8, "{moved_db}");
    assert_eq!(found.channels[5].polarity, Some(-1.0));
}

#[test]
fn one_signal_on_two_channels_is_read_as_one() {
    let mut raw = microphones();
    raw.push(raw[2].clone());
    let mut settings = strips();
    settings.push(Strip::plain(-9.0, 0.4));
    let found = read(&raw, &mix(&raw, &settings));
    assert_eq!(found.groups, vec![vec![2, N_PLAYERS]]);
    // Twice the same: 6.02 dB more than one of them, -9 dB.
    let errors: Vec<f64> = found
        .slots
        .iter()
        .map(|slot| {
            let sum = |powers: &[f32]| powers.iter().map(|&x| f64::from(x)).sum::<f64>();
            10.0 * (sum(&slot.together[0]) / sum(&slot.raw[2])).log10() + 9.0 - 6.02
        })
        .collect();
    assert!(median(&errors).abs() < GAIN_DB[0], "{errors:?}");
}

#[test]
fn a_channel_that_stays_closed_and_a_silent_one_are_not_heard() {
    let mut raw = microphones();
    raw.push(vec![0.0; raw[0].len()]);
    let mut settings = strips();
    settings[4].gain_db = -120.0;
    settings.push(Strip::plain(0.0, 0.0));
    let found = read(&raw, &mix(&raw, &settings));
    for (channel, is_heard) in
        found.channels.iter().zip([true, true, true, true, false, true, false])
    {
        assert_eq!(channel.is_heard, is_heard, "{}", channel.channel);
        assert_eq!(channel.on.is_empty(), !is_heard, "{}", channel.channel);
        assert_eq!(channel.pan.is_some(), is_heard, "{}", channel.channel);
    }
}

#[test]
fn silence_has_no_gains_and_no_share() {
    let silence = vec![0.0f32; 5 * 48_000];
    let found = read(&vec![silence.clone(); 2], &[silence.clone(), silence]);
    assert_eq!(found.explained_share, None);
    assert!(found.channels.iter().all(|channel| !channel.is_heard), "nobody is heard");
}

#[test]
fn a_channel_whose_pan_was_changed_is_in_the_mix_and_no_more_is_told_of_it() {
    let raw = microphones();
    let after = Strip { pan: 0.9, ..strips()[1].clone() };
    let first = mix(&raw, &strips());
    let mut changed = strips();
    changed[1] = after;
    let second = mix(&raw, &changed);
    let at = 10 * 48_000;
    let main = [0, 1].map(|side: usize| [&first[side][..at], &second[side][at..]].concat());
    let found = read(&raw, &main);
    let at_s = found.torn_s[1].expect("the change is found");
    assert!((at_s - 10.0).abs() < 1.0, "at {at_s:.1} s");
    let channel = &found.channels[1];
    assert!(channel.is_heard && channel.told.is_empty() && channel.switches.is_empty());
    assert!(channel.gain_db.iter().all(Option::is_none) && channel.pan.is_none());
    for (place, channel) in found.channels.iter().enumerate().filter(|one| one.0 != 1) {
        assert!(found.torn_s[place].is_none(), "channel {place} was left alone");
        assert!(median(&errors_db(channel, strips()[place].gain_db)) < GAIN_DB[0], "{place}");
    }
}
