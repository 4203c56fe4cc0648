//! Facts about the hall, from a microphone in the room.

use super::room::{Clap, MIDDLE, RoomSound};
use super::segments::spans_of;
use super::stream::Measured;
use crate::measure::clearance::speech_over_noise_db;
use crate::measure::decay::{self, Decay, Slope};
use crate::measure::exposure::{self, Criterion};
use crate::measure::sound_level::{Highest, SoundLevel};
use crate::measure::tone;
use crate::measure::words::{Words, words};
use crate::reading::{
    AgreedLimit, DecayFrom, OctaveDecay, Room, Segment, SegmentKind, SongWeight, SoundLevels,
};
use crate::session::note::{Hall, LevelControl, SessionNote};
use crate::session::{Session, SessionChannel};
use crate::unit::{Fact, Span, Unmeasured};

/// Nominal octaves, in Hz.
const OCTAVES_HZ: [f64; 8] = [63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0];

/// Share of octaves that came within 5 % behind a clap, and within 20 % by stops, in simulated halls.
const SURE: f64 = 0.93;

/// At 63 Hz a hall has few modes: another place has another time (10 % in simulated halls).
const LOWEST_SURE: f64 = 0.7;

/// Clean stops that a decay time rests on.
const NEEDS_STOPS: usize = 6;

/// A microphone in one place says this little of a hall.
const ONE_PLACE: f64 = 0.8;

/// How sure a time is that musicians and engineers liked in some halls (judgement).
const LIKED_SURE: f64 = 0.8;

/// The room microphone that is looked at: one whose level is its own before any other.
pub(super) fn chosen(channels: &[SessionChannel], rooms: &[usize]) -> Option<usize> {
    let steady = |idx: &&usize| channels[**idx].note.level_control == Some(LevelControl::Off);
    rooms.iter().find(steady).or(rooms.first()).copied()
}

/// The hall as one microphone hears it.
pub(super) fn room(
    session: &Session,
    channels: &[SessionChannel],
    measured: &Measured,
    segments: &[Segment],
    quiet: &[Span],
    clap: Option<&Clap>,
) -> Option<Room> {
    let rooms: Vec<usize> = measured.rooms.iter().map(|room| room.channel).collect();
    let idx = chosen(channels, &rooms)?;
    let sound = measured.rooms.iter().find(|room| room.channel == idx)?;
    let thirds = &measured.common[idx].thirds;
    let own = own_level(&channels[idx]);
    let songs = segments.iter().filter(|segment| segment.kind == SegmentKind::Song);
    let song = |segment: &Segment| SongWeight {
        title: segment.title.clone(),
        span: segment.span,
        c_minus_a_db: Fact::from_result(
            tone::tone(thirds, &[segment.span]).and_then(|tone| tone.c_minus_a_db()),
            segment.confidence,
        ),
        stage_db: Fact::missing(Unmeasured::NotRecorded("the main mix")),
    };
    let talk = spans_of(segments, SegmentKind::Talk);
    let over_noise = own.clone().and_then(|()| speech_over_noise_db(thirds, &talk, quiet));
    let decayed = own.clone().map(|()| clap);
    let (decay_s, decay_from, decay_evidence) = middle(&decayed, sound);
    let kept = own.and_then(|()| words(thirds, &talk, quiet, decay_s.value()));
    Some(Room {
        channel: channels[idx].id.clone(),
        octaves: octaves(&decayed, sound),
        low_decay_ratio: low_ratio(&decayed, &decay_s),
        decay_s,
        decay_from,
        decay_evidence,
        fall_db: decayed.ok().flatten().map_or_else(Vec::new, |clap| clap.fall_db.clone()),
        recommended_decay_s: Fact::from_result(
            volume_m3(&session.note).and_then(decay::for_speech_s),
            1.0,
        ),
        liked_music_decay_s: Some(Fact::from_result(
            volume_m3(&session.note).and_then(decay::for_amplified_music_s),
            LIKED_SURE,
        )),
        speech_over_noise_db: Fact::from_result(over_noise, ONE_PLACE),
        words_index: words_index(kept),
        songs: songs.map(song).collect(),
        sound: sound.level.as_ref().map(|level| sound_levels(level, &session.note)),
    })
}

/// Whether the levels of a hall microphone are those of the hall.
pub(super) fn own_level(channel: &SessionChannel) -> Result<(), Unmeasured> {
    match channel.note.level_control {
        Some(LevelControl::Off) => Ok(()),
        Some(LevelControl::On) => {
            Err(Unmeasured::Because("the recorder of the hall microphone sets its level by itself"))
        }
        _ => Err(Unmeasured::Because(
            "whether the recorder of the hall microphone sets its level by itself is not stated",
        )),
    }
}

/// What is left of words: a microphone in one place tells not how much of the sound comes straight to it.
fn words_index(kept: Result<Words, Unmeasured>) -> Fact {
    let confidence = ONE_PLACE;
    match kept {
        Ok(Words { in_noise: high, in_hall: Some(low) }) => Fact::Range { low, high, confidence },
        Ok(Words { in_noise, in_hall: None }) => Fact::AtMost { at_most: in_noise, confidence },
        Err(reason) => Fact::missing(reason),
    }
}

/// Volume of the hall.
fn volume_m3(note: &SessionNote) -> Result<f64, Unmeasured> {
    let by_sides = |hall: &Hall| Some(hall.length_m? * hall.width_m? * hall.height_m?);
    let volume = note.hall.as_ref().and_then(|hall| hall.volume_m3.or_else(|| by_sides(hall)));
    volume.ok_or(Unmeasured::Because("the volume of the hall is not stated"))
}

/// Decay time of 500 Hz and 1 kHz, what it rests on, and the moments.
fn middle(
    clap: &Result<Option<&Clap>, Unmeasured>,
    sound: &RoomSound,
) -> (Fact, DecayFrom, Vec<Span>) {
    let clap = match clap {
        Ok(clap) => clap,
        Err(reason) => return (Fact::missing(reason.clone()), DecayFrom::Nothing, Vec::new()),
    };
    if let Some(clap) = clap {
        let both = &clap.octaves[MIDDLE..MIDDLE + 2];
        if let Ok(decay_s) = mean(both.iter().map(Decay::widest_s)) {
            return (Fact::sure(decay_s, SURE), clap.from, vec![clap.span]);
        }
    }
    let both = &sound.falls[..sound.falls.len().min(2)];
    let n_stops = both.iter().map(|octave| octave.evidence.len()).min().unwrap_or(0);
    let times: Option<Vec<f64>> = both.iter().map(|octave| octave.t60_s.value()).collect();
    match times.filter(|times| times.len() == 2 && n_stops >= NEEDS_STOPS) {
        Some(times) => {
            let sure = both.iter().map(|octave| octave.t60_s.confidence()).fold(1.0, f64::min);
            let decay_s = f64::midpoint(times[0], times[1]);
            (Fact::sure(decay_s, sure), DecayFrom::Stops, both[0].evidence.clone())
        }
        None => {
            let reason = Unmeasured::TooFewEvents { have: n_stops, need: NEEDS_STOPS };
            (Fact::missing(reason), DecayFrom::Nothing, Vec::new())
        }
    }
}

/// Decay of the low octaves over that of the middle.
fn low_ratio(clap: &Result<Option<&Clap>, Unmeasured>, decay_s: &Fact) -> Fact {
    let ratio = clap.clone().and_then(|clap| {
        let clap = clap.ok_or(Unmeasured::NotRecorded("a clap in the quiet hall"))?;
        let low = mean(clap.octaves[..2].iter().map(Decay::widest_s))?;
        let middle = decay_s.value().ok_or(Unmeasured::Because("the middle has no decay time"))?;
        Ok(low / middle)
    });
    Fact::from_result(ratio, ONE_PLACE)
}

fn mean(times_s: impl Iterator<Item = Result<f64, Unmeasured>>) -> Result<f64, Unmeasured> {
    let times_s = times_s.collect::<Result<Vec<f64>, Unmeasured>>()?;
    #[expect(clippy::cast_precision_loss, reason = "two octaves")]
    let n = times_s.len() as f64;
    Ok(times_s.iter().sum::<f64>() / n)
}

fn octaves(clap: &Result<Option<&Clap>, Unmeasured>, sound: &RoomSound) -> Vec<OctaveDecay> {
    let no_clap = || Unmeasured::NotRecorded("a clap in the quiet hall");
    let octave = |(at, octave_hz): (usize, f64)| {
        let behind = |of: &dyn Fn(&Decay) -> Result<f64, Unmeasured>| {
            let told = clap
                .clone()
                .and_then(|clap| clap.ok_or_else(no_clap))
                .and_then(|clap| of(&clap.octaves[at]));
            Fact::from_result(told, if at == 0 { LOWEST_SURE } else { SURE })
        };
        let time = |slope: &Result<Slope, Unmeasured>| {
            slope.as_ref().map(|one| one.t60_s).map_err(Clone::clone)
        };
        let falls = at.checked_sub(MIDDLE).and_then(|at| sound.falls.get(at));
        let stops_s = match (clap, falls) {
            (Err(reason), _) => Fact::missing(reason.clone()),
            (Ok(_), Some(falls)) => falls.t60_s.clone(),
            (Ok(_), None) => {
                Fact::missing(Unmeasured::Because("notes ring as long as halls do in this octave"))
            }
        };
        OctaveDecay {
            octave_hz,
            early_s: behind(&|decay| time(&decay.edt)),
            t20_s: behind(&|decay| time(&decay.t20)),
            t30_s: behind(&|decay| time(&decay.t30)),
            stops_s,
            c50_db: behind(&|decay| decay.c50_db.clone()),
            c80_db: behind(&|decay| decay.c80_db.clone()),
            d50_share: behind(&|decay| decay.d50.clone()),
        }
    };
    OCTAVES_HZ.into_iter().enumerate().map(octave).collect()
}

/// A sound level of a calibrated microphone is uncertain by 2 dB or more: it is no measurement for the record.
const LEVEL_SURE: f64 = 0.8;

fn sound_levels(level: &Result<SoundLevel, Unmeasured>, note: &SessionNote) -> SoundLevels {
    let told = |of: &dyn Fn(&SoundLevel) -> Result<f64, Unmeasured>| {
        Fact::from_result(level.as_ref().map_err(Clone::clone).and_then(of), LEVEL_SURE)
    };
    let loudest = |minutes: usize| told(&|one| Ok(one.loudest(minutes)?.level_db));
    let limit = note.limit.map(|limit| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "the note allows whole minutes of a day at most"
        )]
        let minutes = limit.window_min.round() as usize;
        let highest: Option<Highest> =
            level.as_ref().ok().and_then(|one| one.loudest(minutes).ok());
        AgreedLimit {
            limit_db_spl: limit.laeq_db,
            window_min: limit.window_min,
            loudest_db_spl: loudest(minutes),
            at: highest.iter().map(|highest| highest.span).collect(),
        }
    });
    let daily = |one: &SoundLevel| exposure::daily_level_db(&exposure::stays(one));
    let dose = |by: Criterion| told(&|one| Ok(by.dose_percent(&exposure::stays(one))));
    SoundLevels {
        laeq_db_spl: told(&|one| Ok(one.laeq_db)),
        lceq_db_spl: told(&|one| Ok(one.lceq_db)),
        lafmax_db_spl: told(&|one| Ok(one.lafmax.level_db)),
        lcpeak_db_spl: told(&|one| Ok(one.lcpeak.level_db)),
        lcpeak_at: level.iter().map(|one| one.lcpeak.span).collect(),
        laeq_15_min_db_spl: loudest(15),
        laeq_30_min_db_spl: loudest(30),
        daily_exposure_db_spl: told(&daily),
        dose_percent: dose(exposure::THREE_DB),
        dose_5_db_percent: Some(dose(exposure::FIVE_DB_ACTION)),
        limit,
    }
}
