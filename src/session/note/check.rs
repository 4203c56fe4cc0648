//! What the keys of `session.toml` must not say.
//!
//! Takes a note, gives the first fault as a sentence. Never changes a value.

use super::keys::{Calibration, ChannelNote, HallSweep, SessionNote, Song};
use super::parse::Trouble;

/// Lowest and highest values that make sense (judgement): wider than any hall, so that only slips are caught.
const TEMPERATURE_C: (f64, f64) = (-30.0, 50.0);
const LIMIT_DB: (f64, f64) = (60.0, 130.0);
const WINDOW_MIN: (f64, f64) = (0.1, 1440.0);
const VOLUME_M3: (f64, f64) = (10.0, 1e6);
const SIDE_M: (f64, f64) = (1.0, 500.0);
const PLACE_M: (f64, f64) = (-500.0, 500.0);
const SWEEP_S: (f64, f64) = (1.0, 30.0);
const SWEEP_HZ: (f64, f64) = (10.0, 24_000.0);
const FADER_DB: (f64, f64) = (-150.0, 20.0);
const OFFSET_DB: (f64, f64) = (0.0, 250.0);
const TONE_DB_SPL: (f64, f64) = (40.0, 140.0);

type Checked = Result<(), Trouble>;

/// The first fault of a note, if there is one.
pub(super) fn check(note: &SessionNote) -> Checked {
    within("air_temperature_c", note.air_temperature_c, TEMPERATURE_C)?;
    if let Some(limit) = &note.limit {
        within("limit.laeq_db", Some(limit.laeq_db), LIMIT_DB)?;
        within("limit.window_min", Some(limit.window_min), WINDOW_MIN)?;
    }
    if let Some(hall) = &note.hall {
        within("hall.volume_m3", hall.volume_m3, VOLUME_M3)?;
        within("hall.length_m", hall.length_m, SIDE_M)?;
        within("hall.width_m", hall.width_m, SIDE_M)?;
        within("hall.height_m", hall.height_m, SIDE_M)?;
        hall.sweep.iter().try_for_each(check_sweep)?;
    }
    for wedge in note.stage.iter().flat_map(|stage| &stage.wedges) {
        for place_m in wedge.position_m {
            within("position of a wedge", Some(place_m), PLACE_M)?;
        }
    }
    note.songs.iter().try_for_each(check_song)?;
    note.channels.iter().enumerate().try_for_each(|(idx, channel)| check_channel(idx, channel))?;
    check_twice(&note.channels)
}

fn check_sweep(sweep: &HallSweep) -> Checked {
    within("hall.sweep.length_s", Some(sweep.length_s), SWEEP_S)?;
    within("hall.sweep.from_hz", Some(sweep.from_hz), SWEEP_HZ)?;
    within("hall.sweep.to_hz", Some(sweep.to_hz), SWEEP_HZ)?;
    if sweep.to_hz < 2.0 * sweep.from_hz {
        return fault(
            "hall.sweep does not rise by an octave".to_owned(),
            "write its lowest frequency as `from_hz` and its highest as `to_hz`",
        );
    }
    Ok(())
}

fn check_song(song: &Song) -> Checked {
    let title = &song.title;
    if song.end_s.is_some_and(|end_s| end_s <= song.start_s) {
        return fault(
            format!("song `{title}` ends before it starts"),
            "write its `end` later than its `start`",
        );
    }
    let outside = song
        .cues
        .iter()
        .find(|cue| cue.at_s < song.start_s || song.end_s.is_some_and(|end_s| cue.at_s > end_s));
    match outside {
        Some(cue) => fault(
            format!("cue `{}` of song `{title}` lies outside the song", cue.text),
            "write times of cues from the start of the recording, as those of songs",
        ),
        None => Ok(()),
    }
}

fn check_channel(idx: usize, channel: &ChannelNote) -> Checked {
    let label = match (&channel.name, &channel.file) {
        (Some(name), _) => format!("channel `{name}`"),
        (None, Some(file)) => format!("the channel of `{file}`"),
        (None, None) => {
            return fault(
                format!("[[channel]] number {} says neither `file` nor `name`", idx + 1),
                "add the file that it stands in",
            );
        }
    };
    match (channel.index, &channel.file) {
        (Some(0), _) => {
            return fault(format!("{label} has index 0"), "count from 1");
        }
        (Some(_), None) => {
            return fault(format!("{label} has an index but no `file`"), "add its `file`");
        }
        _ => {}
    }
    if channel.raw_of.is_some() && channel.processed_of.is_some() {
        return fault(
            format!("{label} has both `raw_of` and `processed_of`"),
            "keep the one that is true",
        );
    }
    for place_m in channel.position_m.iter().flatten() {
        within(&format!("position of {label}"), Some(*place_m), PLACE_M)?;
    }
    if let Some(axis) = channel.axis {
        let length = axis.iter().map(|part| part * part).sum::<f64>().sqrt();
        if !length.is_finite() || length <= 0.0 {
            return fault(
                format!("axis of {label} points nowhere"),
                "write the direction the microphone looks to, such as [0, 1, 0] for upstage",
            );
        }
    }
    within(&format!("fader_db of {label}"), channel.fader_db, FADER_DB)?;
    channel.calibration.as_ref().map_or(Ok(()), |calibration| check_tone(&label, calibration))
}

fn check_tone(label: &str, calibration: &Calibration) -> Checked {
    within(&format!("dbfs_to_db_spl of {label}"), calibration.dbfs_to_db_spl, OFFSET_DB)?;
    within(&format!("level_db_spl of {label}"), calibration.level_db_spl, TONE_DB_SPL)?;
    let by_tone = calibration.level_db_spl.is_some();
    let times = (calibration.start_s, calibration.end_s);
    match (calibration.dbfs_to_db_spl, by_tone, times) {
        (Some(_), true, _) => fault(
            format!("calibration of {label} has a tone and a step"),
            "keep `dbfs_to_db_spl` or the tone's `level_db_spl`",
        ),
        (None, false, _) => fault(
            format!("calibration of {label} has neither a tone nor a step"),
            "add `dbfs_to_db_spl`, or the tone's `start`, `end` and `level_db_spl`",
        ),
        (None, true, (Some(start_s), Some(end_s))) if end_s <= start_s => fault(
            format!("the tone in the calibration of {label} ends before it starts"),
            "write its `end` later than its `start`",
        ),
        (None, true, (None, _) | (_, None)) if calibration.file.is_none() => fault(
            format!("the tone in the calibration of {label} has no times"),
            "add its `start` and `end`, or the `file` that holds nothing else",
        ),
        _ => Ok(()),
    }
}

/// Two notes must not speak of one channel.
fn check_twice(channels: &[ChannelNote]) -> Checked {
    for (idx, channel) in channels.iter().enumerate() {
        let same = |other: &&ChannelNote| match (&channel.file, &other.file) {
            (Some(file), Some(other_file)) => {
                file == other_file && channel.index.unwrap_or(1) == other.index.unwrap_or(1)
            }
            (None, None) => channel.name == other.name,
            _ => false,
        };
        if channels[..idx].iter().any(|other| same(&other)) {
            let label = channel.file.as_ref().or(channel.name.as_ref()).map_or("", |text| text);
            return fault(
                format!("two [[channel]] entries speak of `{label}`"),
                "remove one, or give each its own `index`",
            );
        }
    }
    Ok(())
}

fn within(key: &str, value: Option<f64>, (low, high): (f64, f64)) -> Checked {
    match value {
        Some(value) if !(low..=high).contains(&value) => {
            fault(format!("{key} is {value}"), &format!("write a number from {low} to {high}"))
        }
        _ => Ok(()),
    }
}

fn fault(cause: String, hint: &str) -> Checked {
    Err(Trouble { cause, hint: hint.to_owned() })
}
