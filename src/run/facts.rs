//! Facts of one channel, from its meters and from when its own source sounds.
//!
//! Takes what the meters of a channel gave, its role and its activity; gives a [`Channel`]. Decides nothing that a rule
//! decides.

use super::meters::{Common, Native};
use super::start_facts;
use crate::coach::window;
use crate::dsp::thirds::NOMINAL_HZ;
use crate::measure::Trace;
use crate::measure::hits::{self, Hit};
use crate::measure::phrases::{self, Phrase};
use crate::measure::thirds::Thirds;
use crate::measure::tone::Tone;
use crate::measure::{clicks::Clicks, crest, dynamics, hum, peaks, standing, tone, voice, wander};
use crate::reading::{Channel, Events, Hum, Spectrum};
use crate::session::{Family, Role, highpass_corner_hz};
use crate::unit::spans::without;
use crate::unit::{Fact, Span, Unmeasured};

/// What is known about when things happen, for one channel.
pub(super) struct When<'a> {
    /// The level by which its source is followed.
    pub(super) heard: &'a Trace,
    /// Its own source sounds.
    pub(super) active: &'a [Span],
    /// How sure that is, 0 to 1.
    pub(super) confidence: f64,
    /// It rests while others play.
    pub(super) resting: &'a [Span],
    /// Every channel is quiet.
    pub(super) quiet: &'a [Span],
    /// Hits of kick, bass and toms, in seconds: they are no breath blasts.
    pub(super) thuds_s: &'a [f64],
}

/// Levels that belong to an active source are as sure as the activity, and no surer than this: 9 of 10 loud levels of the
/// simulated evening lie within 1 dB of the source alone.
const LEVEL_CONFIDENCE: f64 = 0.9;

/// Own-to-spill under which spill adds a decibel to a level, in dB: `10 lg(1 + 10^-0.6) = 1.0`.
const CROWDED_DB: f64 = 6.0;

/// Moments that a list of events holds at most.
pub(super) const MOST_MOMENTS: usize = 100;

/// Third-octaves from 200 Hz up.
const FROM_200_HZ: std::ops::Range<usize> = 9..29;

/// Below this share of its corner a high-pass takes away what it is for (common practice).
const SHARE_OF_CORNER: f64 = 0.7;

/// Power below the corner over that of spill from which on it is the channel's own: 3 dB.
const LEAST_OVER_SPILL: f64 = 2.0;

/// Stretches in which a band has to lie outside its window again and again, in seconds (common practice).
const BLOCK_S: f64 = 10.0;

/// Fills in everything about the channel's level, tone and faults.
pub(super) fn fill(channel: &mut Channel, common: &Common, native: &Native, when: &When<'_>) {
    channel.active = when.active.to_vec();
    channel.active_s = when.active.iter().fold(0.0, |sum, span| sum + span.length_s());
    levels(channel, common, native, when);
    loudness(channel, common, when);
    let phrases = phrases::phrases(&common.loudness.k_power, when.active);
    dynamics_of(channel, common, when, &phrases);
    channel.spectrum = spectrum(channel, common, &common.thirds, when, &phrases);
    faults(channel, common, native, when);
}

fn levels(channel: &mut Channel, common: &Common, native: &Native, when: &When<'_>) {
    let power = &common.levels.power;
    let typical = standing::typical_level_dbfs(power, when.active);
    let pause = if channel.is_line {
        Err(Unmeasured::Because("a line input hears no spill"))
    } else {
        standing::pause_level_dbfs(power, when.resting)
    };
    // Rumble is no spill: the two are compared in the level by which the source is followed.
    let own_to_spill = if channel.is_line {
        Err(Unmeasured::Because("a line input hears no spill"))
    } else {
        standing::typical_level_dbfs(when.heard, when.active)
            .and_then(|own| Ok(own - standing::pause_level_dbfs(when.heard, when.resting)?))
    };
    start_facts::fill(channel, common, &own_to_spill);
    channel.active_confidence = confidence(own_to_spill.as_ref().ok().copied(), when);
    let sure = LEVEL_CONFIDENCE.min(channel.active_confidence);
    // Where spill adds a decibel or more, what was measured is no more than a bound for the source.
    let is_crowded = own_to_spill.as_ref().is_ok_and(|db| *db < CROWDED_DB);
    let level = |result: Result<f64, Unmeasured>| match result {
        Ok(at_most) if is_crowded => Fact::AtMost { at_most, confidence: sure },
        result => Fact::from_result(result, sure),
    };
    channel.loud_level_dbfs = level(standing::loud_level_dbfs(power, when.active));
    channel.typical_level_dbfs = level(typical);
    channel.pause_level_dbfs = Fact::from_result(pause, sure);
    channel.own_to_spill_db = Fact::from_result(own_to_spill, sure);
    channel.quiet_level_dbfs = Fact::from_result(
        standing::quiet_level_dbfs(power, when.quiet)
            .and_then(|level_dbfs| without_offset_dbfs(level_dbfs, native)),
        LEVEL_CONFIDENCE,
    );
    channel.quiet_level_above_200_hz_dbfs = Fact::from_result(
        standing::quiet_level_dbfs(&common.thirds.joined(FROM_200_HZ), when.quiet),
        LEVEL_CONFIDENCE,
    );
    let top = common.levels.top;
    channel.top_peak_dbfs =
        if top > 0.0 { Fact::exact(20.0 * top.log10()) } else { Fact::missing(Unmeasured::Silent) };
    let tops = peaks::top_peaks_at_s(&common.levels.peak);
    channel.n_top_peaks = tops.len();
    channel.top_peaks_at_s = tops.into_iter().take(5).collect();
    channel.true_peak_dbtp = match &native.true_peak {
        Ok(true_peak) => Fact::exact(true_peak.true_peak_dbtp),
        Err(reason) => Fact::missing(reason.clone()),
    };
}

/// A level without the power of a steady offset, which makes no sound.
fn without_offset_dbfs(level_dbfs: f64, native: &Native) -> Result<f64, Unmeasured> {
    let power = |level_dbfs: f64| 10f64.powf(level_dbfs / 10.0);
    match &native.dc {
        Ok(dc) if dc.is_steady() => {
            let rest = power(level_dbfs) - power(dc.level_dbfs);
            if rest > 0.01 * power(level_dbfs) {
                Ok(10.0 * rest.log10())
            } else {
                Err(Unmeasured::Because("an offset hides the noise"))
            }
        }
        _ => Ok(level_dbfs),
    }
}

/// How sure it is that the channel's own source was heard and not spill.
///
/// Where the source stands well above what the microphone hears in its pauses, a stretch too many or too few hardly moves
/// a level: on the simulated stages all loud levels with 12 dB or more between lie within 1 dB of the source alone, those
/// with 8 dB or more within 2 dB.
fn confidence(own_to_spill_db: Option<f64>, when: &When<'_>) -> f64 {
    let stands_out = match own_to_spill_db {
        Some(own_to_spill_db) if own_to_spill_db >= 12.0 => 0.9,
        Some(own_to_spill_db) if own_to_spill_db >= 8.0 => 0.8,
        _ => 0.0,
    };
    when.confidence.max(stands_out)
}

fn loudness(channel: &mut Channel, common: &Common, when: &When<'_>) {
    let loudness = &common.loudness;
    let exact = |result: &Result<f64, Unmeasured>| Fact::from_result(result.clone(), 1.0);
    channel.momentary_max_lufs = exact(&loudness.momentary_max_lufs);
    channel.short_term_max_lufs = exact(&loudness.short_term_max_lufs);
    channel.integrated_lufs = exact(&loudness.integrated_lufs);
    channel.loudness_range_lu = exact(&loudness.range_lu);
    channel.level_spread_lu = Fact::from_result(
        dynamics::level_spread_lu(&loudness.k_power, when.active),
        LEVEL_CONFIDENCE.min(channel.active_confidence),
    );
}

fn dynamics_of(channel: &mut Channel, common: &Common, when: &When<'_>, phrases: &[Phrase]) {
    let sure = LEVEL_CONFIDENCE.min(channel.active_confidence);
    channel.crest_db = Fact::from_result(crest::whole_db(&common.levels), 1.0);
    channel.active_crest_db =
        Fact::from_result(crest::active_db(&common.levels, when.active), sure);
    channel.typical_crest_db =
        Fact::from_result(crest::typical_db(&common.levels, when.active), sure);
    channel.phrase_spread_lu = Fact::from_result(phrases::phrase_spread_lu(phrases), sure);
    let only = |is_meant: bool, what: &'static str| {
        if is_meant { Ok(()) } else { Err(Unmeasured::Because(what)) }
    };
    channel.low_end_correlation = Fact::from_result(
        only(channel.role.family() == Family::Voice, "only measured on voices")
            .and_then(|()| wander::low_end_correlation(&common.thirds, phrases)),
        sure,
    );
    channel.note_spread_db = Fact::from_result(
        only(channel.role == Role::Bass, "only measured on a bass")
            .and_then(|()| hits::note_spread_db(&hits::notes(&common.levels.power, when.active))),
        sure,
    );
    channel.hit_peak_dbfs = Fact::from_result(
        only(channel.role.family() == Family::Drums, "only measured on drums and percussion")
            .and_then(|()| hits::hit_peak_dbfs(&hits_of(common, when.active))),
        sure,
    );
}

/// The hits of a channel's own source.
pub(super) fn hits_of(common: &Common, active: &[Span]) -> Vec<Hit> {
    hits::hits(&common.levels.peak, active)
}

fn faults(channel: &mut Channel, common: &Common, native: &Native, when: &When<'_>) {
    let flat_tops = &native.flat_tops;
    channel.flat_tops = Events { count: flat_tops.count, at_s: flat_tops.at_s.clone() };
    channel.longest_flat_top_ms = flat_tops.longest_ms;
    channel.flat_top_level_dbfs = flat_tops.level_dbfs.clone();
    channel.dc_dbfs = match &native.dc {
        Ok(dc) if dc.is_steady() => Fact::sure(dc.level_dbfs, LEVEL_CONFIDENCE),
        Ok(dc) => Fact::AtMost { at_most: dc.level_dbfs, confidence: LEVEL_CONFIDENCE },
        Err(reason) => Fact::missing(reason.clone()),
    };
    let silence = &native.silence;
    channel.digital_silence_percent = silence.digital_silence_percent;
    channel.dropouts = Events { count: silence.n_dropouts, at_s: silence.dropouts_at_s.clone() };
    let Clicks { count, at_s } = native.clicks.without(&faults_s(native));
    channel.clicks = Events { count, at_s };
    channel.pops = pops(channel, common, when);
    channel.hum = hum_of(channel, common, when);
}

/// Moments of faults that also click.
fn faults_s(native: &Native) -> Vec<f64> {
    native.silence.dropouts_at_s.iter().chain(&native.flat_tops.at_s).copied().collect()
}

/// Events at some moments; all are counted, the first hundred are kept.
pub(super) fn events(at_s: Vec<f64>) -> Events {
    Events { count: at_s.len(), at_s: at_s.into_iter().take(MOST_MOMENTS).collect() }
}

fn pops(channel: &Channel, common: &Common, when: &When<'_>) -> Events {
    match &common.voice {
        Some(track) if channel.role.family() == Family::Voice => {
            let found = voice::pops(track, when.active, when.thuds_s);
            let at_s = found.map(|pops| pops.at_s).unwrap_or_default();
            events(at_s)
        }
        _ => Events::default(),
    }
}

fn hum_of(channel: &Channel, common: &Common, when: &When<'_>) -> Hum {
    let loud_level = channel.loud_level_dbfs.value();
    // What comes by wire hears no spill: its own pauses are quiet too.
    let own_pauses;
    let quiet = if channel.is_line {
        own_pauses = without(&[Span::new(0.0, channel.duration_s)], when.active);
        own_pauses.as_slice()
    } else {
        when.quiet
    };
    let found = match (&common.hum, loud_level) {
        (Ok(windows), Some(loud_level_dbfs)) => hum::judge(windows, quiet, loud_level_dbfs),
        (Err(reason), _) => hum::Hum::missing(reason),
        (_, None) => hum::Hum::missing(&Unmeasured::NeverActive),
    };
    let hum::Hum { level_db, mains_hz, buzz_db, mut evidence } = found;
    // A hum is there all the time; it is heard best where nobody plays.
    let longest = when.quiet.iter().max_by(|a, b| a.length_s().total_cmp(&b.length_s()));
    if let (false, Some(longest)) = (evidence.is_empty(), longest) {
        evidence.insert(0, *longest);
    }
    Hum { level_db, mains_hz, buzz_db, evidence }
}

fn spectrum(
    channel: &Channel,
    common: &Common,
    thirds: &Thirds,
    when: &When<'_>,
    phrases: &[Phrase],
) -> Spectrum {
    let sure = LEVEL_CONFIDENCE.min(channel.active_confidence);
    let tone = tone::tone(thirds, when.active);
    let of_tone = |pick: &dyn Fn(&Tone) -> Result<f64, Unmeasured>| {
        Fact::from_result(tone.as_ref().map_err(Clone::clone).and_then(pick), sure)
    };
    let spans: Vec<Span> = phrases.iter().map(|phrase| phrase.span).collect();
    let edge = tone::edge(thirds, &spans);
    Spectrum {
        third_octave_hz: NOMINAL_HZ.to_vec(),
        third_octave_db: tone
            .as_ref()
            .map_or_else(|_| vec![None; NOMINAL_HZ.len()], Tone::thirds_db),
        band_db: (0..tone::N_TONE_BANDS).map(|band| of_tone(&|tone| tone.share_db(band))).collect(),
        below_corner_db: Fact::from_result(below_corner_db(channel, thirds, when), sure),
        edge_loud_db: Fact::from_result(edge.clone().map(|edge| edge.loud_db), sure),
        edge_growth_db: Fact::from_result(edge.map(|edge| edge.growth_db), sure),
        ess_db: ess_db(channel, common, when, sure),
        band_out_percent: band_out_percent(channel, thirds, when.active),
    }
}

/// An equaliser by third-octave, as the spectrum of a channel has them.
pub(super) struct Eq {
    /// Gain re the median third-octave; none where the channel is too soft in the mix to tell.
    pub(super) db: Vec<Option<f64>>,
    /// Where that is not told, what it is at most.
    pub(super) most_db: Vec<Option<f64>>,
}

/// Tones read through an equaliser are this sure at most: three of four third-octaves lie within 1 dB on simulated desks, and a band
/// holds several.
const EQ_CONFIDENCE: f64 = 0.85;

/// Third-octaves of sibilance: 4.5 to 9 kHz.
const ESS: std::ops::Range<usize> = 23..26;

/// Tone of a channel behind an equaliser.
pub(super) fn tone_through(
    channel: &Channel,
    common: &Common,
    when: &When<'_>,
    eq: &Eq,
) -> Spectrum {
    // What is not told stands at its bound.
    let gain = |band: usize| {
        let db = eq.db.get(band).copied().flatten().or(eq.most_db.get(band).copied().flatten());
        db.map_or(0.0, |db| 10f64.powf(db / 10.0))
    };
    let thirds = common.thirds.through(gain);
    let phrases = phrases::phrases(&common.loudness.k_power, when.active);
    let mut spectrum = spectrum(channel, common, &thirds, when, &phrases);
    let is_told = |band: usize| eq.db.get(band).is_some_and(Option::is_some);
    let told = |fact: &mut Fact, bands: std::ops::Range<usize>| {
        *fact = match (&fact, bands.clone().all(is_told)) {
            (Fact::Value { value, confidence }, true) => {
                Fact::sure(*value, confidence.min(EQ_CONFIDENCE))
            }
            (Fact::Value { .. }, false) => Fact::missing(TOO_SOFT),
            (other, _) => (*other).clone(),
        };
    };
    for (band, fact) in spectrum.band_db.iter_mut().enumerate() {
        told(fact, tone::thirds_of(band));
    }
    for (band, level) in spectrum.third_octave_db.iter_mut().enumerate() {
        *level = level.filter(|_| is_told(band));
    }
    for edge in [&mut spectrum.edge_loud_db, &mut spectrum.edge_growth_db] {
        told(edge, tone::BODY_BANDS);
        told(edge, tone::EDGE_BANDS);
    }
    spectrum.ess_db = ess_through(spectrum.ess_db, &common.thirds, &thirds, when, gain);
    told(&mut spectrum.ess_db, ESS);
    if let (Some(corner_hz), Fact::Value { value, confidence }) =
        (highpass_corner_hz(channel.role, &channel.name), &spectrum.below_corner_db)
    {
        let confidence = confidence.min(EQ_CONFIDENCE);
        let below = (FIRST_TOLD..NOMINAL_HZ.len())
            .take_while(|&band| NOMINAL_HZ[band] < SHARE_OF_CORNER * corner_hz);
        // Nothing at all in the bands that are not told is the least there may be.
        let least = || {
            let told = common.thirds.through(|band| if is_told(band) { gain(band) } else { 0.0 });
            below_corner_db(channel, &told, when).ok()
        };
        spectrum.below_corner_db = if below.clone().all(is_told) {
            Fact::sure(*value, confidence)
        } else {
            least().map_or(Fact::AtMost { at_most: *value, confidence }, |low| Fact::Range {
                low,
                high: *value,
                confidence,
            })
        };
    }
    spectrum
}

/// The lowest third-octave in which a mix is read: 40 Hz.
const FIRST_TOLD: usize = 2;

/// Why a band of a tone in the mix is missing.
const TOO_SOFT: Unmeasured =
    Unmeasured::Because("the channel is too soft there in the mix to tell");

/// Sibilance behind an equaliser: what it does to the band, less what it does to the whole.
fn ess_through(
    before: Fact,
    raw: &Thirds,
    through: &Thirds,
    when: &When<'_>,
    gain: impl Fn(usize) -> f64,
) -> Fact {
    let tones =
        tone::tone(raw, when.active).and_then(|raw| Ok((raw, tone::tone(through, when.active)?)));
    let Ok((raw, through)) = tones else { return before };
    let band = |tone: &Tone| ESS.filter_map(|band| tone.powers.get(band)).sum::<f64>();
    let moved: f64 =
        ESS.filter_map(|band| Some(raw.powers.get(band)? * gain(band))).sum::<f64>() / band(&raw);
    let all = through.total() / raw.total();
    match before {
        Fact::Value { value, confidence } if moved > 0.0 && all > 0.0 => {
            Fact::sure(value + 10.0 * (moved / all).log10(), confidence)
        }
        other => other,
    }
}

/// Energy below the role's high-pass corner that no other source explains, re the total.
///
/// What the microphone hears there in its pauses, over what it hears when everybody is quiet, is spill of kick and bass;
/// what is there all the time is its own rumble.
fn below_corner_db(channel: &Channel, thirds: &Thirds, when: &When<'_>) -> Result<f64, Unmeasured> {
    let corner_hz = highpass_corner_hz(channel.role, &channel.name)
        .ok_or(Unmeasured::Because("this role has no high-pass corner"))?;
    let tone = tone::tone(thirds, when.active)?;
    let below = |tone: &Tone| {
        let share_db = tone.below_db(SHARE_OF_CORNER * corner_hz)?;
        Ok(tone.total() * 10f64.powf(share_db / 10.0))
    };
    let heard = below(&tone)?;
    let spill = if channel.is_line {
        0.0
    } else {
        let resting = tone::tone(thirds, when.resting).and_then(|tone| below(&tone))?;
        let quiet = tone::tone(thirds, when.quiet).and_then(|tone| below(&tone));
        (resting - quiet.unwrap_or(0.0)).max(0.0)
    };
    // Spill swings: what is left must clearly stand above it.
    if heard < LEAST_OVER_SPILL * spill {
        return Err(Unmeasured::Because("the low end is spill of other sources"));
    }
    Ok(10.0 * ((heard - spill) / tone.total()).log10())
}

fn ess_db(channel: &Channel, common: &Common, when: &When<'_>, sure: f64) -> Fact {
    match (&common.voice, channel.loud_level_dbfs.value()) {
        (Some(track), Some(loud_level_dbfs)) => {
            Fact::from_result(voice::ess_db(track, when.active, loud_level_dbfs), sure)
        }
        (None, _) => Fact::missing(Unmeasured::Because("only measured on voices")),
        (_, None) => Fact::missing(Unmeasured::NeverActive),
    }
}

/// Share of active 10 s blocks in which each band lies outside the role's window, 0 to 100.
fn band_out_percent(channel: &Channel, thirds: &Thirds, active: &[Span]) -> Vec<f64> {
    let blocks = tone::block_shares_db(thirds, active, BLOCK_S).unwrap_or_default();
    (0..tone::N_TONE_BANDS)
        .map(|band| {
            let (low, high) = window(channel.role, band);
            let is_out = |(_, shares): &&(f64, [f64; tone::N_TONE_BANDS])| {
                low.is_some_and(|low| shares[band] < low)
                    || high.is_some_and(|high| shares[band] > high)
            };
            #[expect(clippy::cast_precision_loss, reason = "a session has few blocks")]
            let percent =
                100.0 * blocks.iter().filter(is_out).count() as f64 / blocks.len().max(1) as f64;
            percent
        })
        .collect()
}
