//! What the team lead's page says beside the findings: levels, how complete the recording is, a topic for training.
//!
//! Takes a reading, gives sentences that every form of the page shares. Never says a level of the hall without a calibrated microphone, and never names a person.

use super::{number, phrase, text};
use crate::coach::Note;
use crate::reading::{DecayFrom, Reading, Recorder, Room, SoundLevels};
use crate::session::RoleSource;
use crate::unit::{Fact, Unit};

/// Lengths of channels that differ by more are worth a look, in seconds.
const LENGTH_SPREAD_S: f64 = 1.0;

/// What belongs below levels inside the desk, and below those of a calibrated microphone.
const NO_HALL_LEVEL: &str = "These are levels inside the desk. No level in the hall can be told without a calibrated microphone.";
const HALL_LEVEL: &str = "Levels in the hall stand re 20 µPa, 2 dB more or less at best, at the place of the microphone only: a reason to measure properly, no measurement for the record. Law and house rules of the place decide.";

/// The order in which money helps.
pub const SPENDING: &str = "The hall first, then where the loudspeakers stand, then the rest; microphones late. Moving or hanging loudspeakers and work on mains is for competent persons; local rules apply.";

/// Levels of the main mix and of its songs.
pub fn levels(reading: &Reading) -> Vec<String> {
    let Some(main) = &reading.main else {
        return vec!["The main mix was not recorded.".to_owned()];
    };
    let whole = format!(
        "Main mix: loudness {}, true peak {}.",
        number::fact(&main.integrated_lufs, Unit::Lufs),
        number::fact(&main.true_peak_dbtp, Unit::Dbtp)
    );
    let songs = main.songs.iter().map(|song| {
        let loudness = number::fact(&song.loudness_lufs, Unit::Lufs);
        format!("{} {}: {loudness}", number::clock(song.span.start_s), text::plain(&song.title))
    });
    std::iter::once(whole).chain(songs).collect()
}

/// What belongs below all levels.
pub fn what_levels_are(reading: &Reading) -> &'static str {
    if sound(reading).is_some() { HALL_LEVEL } else { NO_HALL_LEVEL }
}

fn sound(reading: &Reading) -> Option<&SoundLevels> {
    reading.room.as_ref()?.sound.as_ref()
}

/// Sound levels at the calibrated microphone, if there is one.
pub fn levels_in_the_hall(reading: &Reading) -> Vec<String> {
    let Some(sound) = sound(reading) else { return Vec::new() };
    let levels = [
        ("Average, A-weighted", &sound.laeq_db_spl),
        ("Average, C-weighted", &sound.lceq_db_spl),
        ("Loudest 15 minutes", &sound.laeq_15_min_db_spl),
        ("Loudest 30 minutes", &sound.laeq_30_min_db_spl),
        ("Highest level, A-weighted, F", &sound.lafmax_db_spl),
        ("Highest peak, C-weighted", &sound.lcpeak_db_spl),
        ("A day with this recording and nothing else loud (8 hours)", &sound.daily_exposure_db_spl),
    ];
    let said = |(name, level): (&str, &Fact)| {
        format!("In the hall. {name}: {}", or_reason(level, Unit::Db))
    };
    let mut said: Vec<String> = levels.map(said).to_vec();
    let doses = [
        ("85 dB(A) for 8 hours and 3 dB for half the time", Some(&sound.dose_percent)),
        ("90 dB(A) for 8 hours and 5 dB for half the time", sound.dose_5_db_percent.as_ref()),
    ];
    said.extend(doses.into_iter().filter_map(|(allowed, dose)| {
        let dose = or_reason(dose?, Unit::Percent);
        Some(format!("In the hall. Of what a day allows by {allowed}: {dose}"))
    }));
    said.extend(sound.limit.iter().map(|limit| {
        format!(
            "Agreed: {} A-weighted over {}; loudest {}",
            number::whole_with_unit(limit.limit_db_spl, Unit::Db),
            number::length(60.0 * limit.window_min),
            or_reason(&limit.loudest_db_spl, Unit::Db)
        )
    }));
    said
}

/// Decay of the hall, and words over its noise.
pub fn hall(room: &Room) -> Vec<String> {
    let from = match room.decay_from {
        DecayFrom::Nothing => String::new(),
        from => format!(", {}", from.words()),
    };
    let mut said = vec![
        format!(
            "Decay time of the middle: {}{from}; recommended for speech: {}",
            or_reason(&room.decay_s, Unit::Seconds),
            or_reason(&room.recommended_decay_s, Unit::Seconds)
        ),
        format!(
            "Decay time of low notes over that of the middle: {}",
            or_reason(&room.low_decay_ratio, Unit::Ratio)
        ),
        format!(
            "Words over the noise of the hall, A-weighted: {}",
            or_reason(&room.speech_over_noise_db, Unit::Db)
        ),
    ];
    said.extend(room.songs.iter().map(|song| {
        format!(
            "{} {}: C-weighted over A-weighted level {}",
            number::clock(song.span.start_s),
            text::plain(&song.title),
            or_reason(&song.c_minus_a_db, Unit::Db)
        )
    }));
    said
}

/// A fact with its unit, or the reason why there is none.
fn or_reason(fact: &Fact, unit: Unit) -> String {
    let value = || number::fact(fact, unit);
    fact.reason().map_or_else(value, |reason| format!("not told, {reason}"))
}

/// How complete the recording is.
pub fn complete(reading: &Reading) -> Vec<String> {
    let session = &reading.session;
    let nameless: Vec<String> = reading
        .channels
        .iter()
        .filter(|channel| channel.role_source == RoleSource::None)
        .map(|channel| channel.id.clone())
        .collect();
    let rates = if session.mixed_rates {
        "The files have different sample rates."
    } else {
        "All files have one sample rate."
    };
    let mut said = vec![format!("Recorded: {}.", phrase::recorded(reading)), rates.to_owned()];
    if session.length_spread_s > LENGTH_SPREAD_S {
        said.push(format!(
            "Lengths of channels differ by {}.",
            number::length(session.length_spread_s)
        ));
    }
    if !nameless.is_empty() {
        said.push(format!(
            "What these carry could not be told: {}. Names on the desk help.",
            phrase::channels(reading, &nameless)
        ));
    }
    if !session.taps_stated {
        said.push(
            "Where the recording was taken is inferred; one line in session.toml makes it sure."
                .to_owned(),
        );
    }
    said.extend(reading.recorders.iter().map(|one| clock(reading, one)));
    said.extend(reading.warnings.iter().map(|warning| text::plain(warning)));
    said
}

/// What is known of the clock of a further recorder.
fn clock(reading: &Reading, recorder: &Recorder) -> String {
    let who = phrase::channels(reading, &recorder.channels);
    let ms = |ms: f64| number::with_unit(ms, Unit::Milliseconds);
    let what_of_it = if recorder.is_in_hall {
        "as is usual of a recorder in the hall."
    } else {
        "it was not brought into step with the others."
    };
    match (&recorder.drift_ppm, &recorder.drift_ms) {
        (Fact::Value { value: ppm, .. }, Fact::Value { value: drift_ms, .. }) => format!(
            "{who}: recorded by a clock of its own, {:.1} ppm {}, {} over its take; {what_of_it}",
            ppm.abs(),
            if *ppm > 0.0 { "fast" } else { "slow" },
            ms(drift_ms.abs())
        ),
        (Fact::Missing { not_measurable }, _) => format!(
            "{who}: whether its recorder kept step with the others could not be told: {not_measurable}."
        ),
        _ => {
            let smallest_ms = recorder.smallest_ms.map_or(String::new(), |smallest_ms| {
                format!("; less than {} over its take can't be told", ms(smallest_ms))
            });
            format!("{who}: its recorder kept step with the others{smallest_ms}.")
        }
    }
}

/// A topic for a training evening, from the notes of one evening: its title and what to do, or that there is none.
pub fn topic(notes: &[Note]) -> (Option<&'static str>, &'static str) {
    match notes.first() {
        Some(note) => (Some(note.title), note.rule.exercise),
        None => (None, "This evening suggests none."),
    }
}

/// How many notes the operator got; what they say is not the lead's.
pub fn told(notes: &[Note]) -> String {
    format!(
        "{} went to the operator; what they say is between operator and mentor.",
        text::counted(notes.len(), "note")
    )
}
