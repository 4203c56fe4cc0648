//! What a channel's sound says about its role, and what comes of a name and a sound together.
//!
//! Takes a few figures of the sound, gives a score for each role and a settled role. Never decides by sound what the
//! sound leaves open, and never overrules a sure name: a contradiction is told, with the role that the sound suggests.

use std::sync::LazyLock;

use super::names::NameRole;
use super::role::{Family, Role};
use super::tap::RoleSource;

/// Bands of a sound: floor, bass, warmth, thick, body, nose, presence, edge, sizzle, air.
const N_BANDS: usize = 10;

/// Windows of band shares by role: a line a role, low and high end of each band in dB re the channel's own level.
const WINDOWS_CSV: &str = include_str!("../../corpus/roles/windows.csv");

/// Half a window of which only the upper end is known (judgement: that of the closed windows is 4 to 10 dB).
const OPEN_HALF_DB: f64 = 7.0;

/// Distance outside a window, in half windows, from which more doesn't count: one odd band excludes no role.
const MAX_DISTANCE: f64 = 4.0;

/// Score from which a sound tells a role without a name, and its lead over the next role (judgement).
const CLEAR_SCORE: f64 = 0.5;
const CLEAR_LEAD: f64 = 1.5;

/// Score under which a sound speaks against a role (judgement).
const STRANGE_SCORE: f64 = 0.12;

/// Confidence above which a name stands against its sound (judgement).
const SURE_NAME: f64 = 0.8;

/// Most that a sound alone is trusted with (judgement).
const SOUND_CONFIDENCE: f64 = 0.6;

/// Index of the band from 5.6 to 11.2 kHz.
const SIZZLE: usize = 8;

/// Share above 5.6 kHz where a plucked guitar sounds like an acoustic one: upper end of the electric guitar's window.
const ACOUSTIC_SIZZLE_DB: f64 = -18.0;

/// What a channel sounds like while its source is active.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sound {
    /// Level of each of the ten bands (floor, bass, warmth, thick, body, nose, presence, edge, sizzle, air) re the channel's own level, in dB.
    pub band_db: [Option<f64>; N_BANDS],
    /// Peak over RMS, in dB.
    pub crest_db: f64,
    /// Sudden rises in a second.
    pub hits_per_s: f64,
    /// Share of the session in which the channel's own source is heard, 0 to 1.
    pub active_share: f64,
    /// Whether the pauses are as quiet as those of a wire, without spill.
    pub is_line_like: bool,
    /// Share of pauses inside the active stretches, 0 to 1.
    pub pause_share: f64,
}

/// A role that name and sound agree on, or the better of both.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settled {
    /// The role; [`Role::Unknown`] if neither tells.
    pub role: Role,
    /// How sure it is, 0 to 1 (judgement).
    pub confidence: f64,
    /// Who told.
    pub source: RoleSource,
    /// The role that the sound suggests where it speaks against the name. A question for the operator, not a verdict.
    pub contradiction: Option<Role>,
}

/// Roles that a sound may have, best first, with scores from 0 to 1.
///
/// A score is `exp(-d / 2)` of the mean squared distance `d` to the role's band windows, in half windows, times a
/// factor for each of hits, crest, pauses and wire that doesn't fit. Roles without a window have no score, save
/// playback, which is judged by the window of a whole mix.
pub fn role_by_sound(sound: &Sound) -> Vec<(Role, f64)> {
    let mut scores: Vec<_> = WINDOWS
        .iter()
        .filter_map(|window| {
            let score = window.closeness(&sound.band_db)? * manner(window.role, sound);
            Some((window.role, score))
        })
        .collect();
    scores.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    scores
}

/// What a name and a sound say together.
///
/// A name that may mean several things is decided by the sound among them, if the sound is clear. A name that tells
/// nothing takes the sound's role, if that is clear. A sure name stands; a sound that can't be its role is told.
pub fn reconcile(name: &NameRole, sound: &Sound) -> Settled {
    let scores = role_by_sound(sound);
    if name.role == Role::Unknown {
        return by_sound_alone(&scores);
    }
    let settled = if name.alternatives.is_empty() || name.confidence >= SURE_NAME {
        by_name(name)
    } else {
        among(name, sound, &scores)
    };
    Settled { contradiction: contradiction(settled.role, &scores), ..settled }
}

const fn by_name(name: &NameRole) -> Settled {
    Settled {
        role: name.role,
        confidence: name.confidence,
        source: RoleSource::Name,
        contradiction: None,
    }
}

fn by_sound_alone(scores: &[(Role, f64)]) -> Settled {
    let unknown = Settled {
        role: Role::Unknown,
        confidence: 0.0,
        source: RoleSource::None,
        contradiction: None,
    };
    let Some(&(role, score)) = scores.first() else { return unknown };
    let next = scores.get(1).map_or(0.0, |&(_, score)| score);
    if score < CLEAR_SCORE || score < CLEAR_LEAD * next {
        return unknown;
    }
    Settled { role, confidence: SOUND_CONFIDENCE * score, source: RoleSource::Sound, ..unknown }
}

/// The likeliest of the roles that the name leaves open.
fn among(name: &NameRole, sound: &Sound, scores: &[(Role, f64)]) -> Settled {
    if is_bright_guitar(name, sound) {
        return decided(name, Role::AcousticGuitar, SURE_NAME);
    }
    let mut open: Vec<_> = std::iter::once(name.role)
        .chain(name.alternatives.iter().copied())
        .map(|role| (role, score_of(role, scores)))
        .collect();
    open.sort_by(|a, b| b.1.total_cmp(&a.1));
    let Some(&(role, score)) = open.first() else { return by_name(name) };
    // A singer is told from a drum although lead and backing sound alike.
    let rival = open.iter().find(|(other, _)| other.family() != role.family());
    let sibling = open.iter().skip(1).find(|(other, _)| other.family() == role.family());
    let leads = |other: Option<&(Role, f64)>| other.is_none_or(|o| score >= CLEAR_LEAD * o.1);
    let clear = score >= 2.0 * STRANGE_SCORE && leads(rival);
    match (clear, leads(sibling)) {
        (true, true) => decided(name, role, SURE_NAME),
        (true, false) if rival.is_some() => decided(name, role, SOUND_CONFIDENCE),
        _ => by_name(name),
    }
}

/// Whether a plain guitar has an edge above 5.6 kHz that an electric one hasn't.
fn is_bright_guitar(name: &NameRole, sound: &Sound) -> bool {
    let plain =
        name.role == Role::ElectricGuitar && name.alternatives.contains(&Role::AcousticGuitar);
    plain && sound.band_db[SIZZLE].is_some_and(|sizzle_db| sizzle_db > ACOUSTIC_SIZZLE_DB)
}

fn decided(name: &NameRole, role: Role, confidence: f64) -> Settled {
    Settled {
        role,
        confidence,
        source: if role == name.role { RoleSource::Name } else { RoleSource::Sound },
        contradiction: None,
    }
}

/// The role that a sound suggests if it clearly can't be the named one and comes from another family.
fn contradiction(role: Role, scores: &[(Role, f64)]) -> Option<Role> {
    let known = scores.iter().any(|&(scored, _)| scored == role);
    let &(best, score) = scores.first()?;
    let strange = score_of(role, scores) < STRANGE_SCORE && score >= CLEAR_SCORE;
    (known && strange && best.family() != role.family()).then_some(best)
}

fn score_of(role: Role, scores: &[(Role, f64)]) -> f64 {
    scores.iter().find(|(scored, _)| *scored == role).map_or(0.0, |&(_, score)| score)
}

/// How well the manner of a sound fits a role: 1, times 0.3 for each figure that doesn't.
fn manner(role: Role, sound: &Sound) -> f64 {
    const MISFIT: f64 = 0.3;
    let hits = sound.hits_per_s >= 0.2 && sound.crest_db >= 14.0;
    let steady = sound.crest_db < 22.0;
    let fits: &[bool] = match role {
        Role::Speech => &[sound.pause_share >= 0.2, !sound.is_line_like, !hits || steady],
        Role::LeadVocal | Role::BackingVocal => &[!sound.is_line_like, steady],
        Role::Choir | Role::Strings | Role::Brass | Role::Woodwind => &[steady, !hits],
        Role::Kick | Role::SnareTop | Role::SnareBottom => &[hits, !sound.is_line_like],
        Role::HiHat => &[sound.hits_per_s >= 1.0, !sound.is_line_like],
        Role::Tom => &[hits, !sound.is_line_like, sound.active_share <= 0.4],
        Role::Percussion => &[hits],
        Role::Overhead => &[!sound.is_line_like],
        Role::Bass | Role::AcousticGuitar | Role::ElectricGuitar | Role::Keys => &[steady],
        Role::Playback => &[sound.is_line_like, sound.crest_db < 16.0, sound.pause_share < 0.2],
        _ => &[],
    };
    fits.iter().filter(|fit| !**fit).fold(1.0, |factor, _| factor * MISFIT)
}

/// Usual band shares of a role.
struct Window {
    role: Role,
    /// Low and high end of each band, in dB; no low end where only "at most" is known.
    bands: [(Option<f64>, f64); N_BANDS],
}

impl Window {
    /// `exp(-d / 2)` with the mean squared distance in half windows; `None` without a band.
    fn closeness(&self, band_db: &[Option<f64>; N_BANDS]) -> Option<f64> {
        let distances: Vec<f64> = self
            .bands
            .iter()
            .zip(band_db)
            .filter_map(|(&(low_db, high_db), level_db)| {
                let level_db = (*level_db)?;
                let half_db = low_db.map_or(OPEN_HALF_DB, |low_db| (high_db - low_db) / 2.0);
                let distance = (level_db - (high_db - half_db)) / half_db;
                // Under an open window is as good as inside: only "too much" is known.
                let distance = if low_db.is_none() { distance.max(0.0) } else { distance };
                Some(distance.clamp(-MAX_DISTANCE, MAX_DISTANCE).powi(2))
            })
            .collect();
        let n_bands = distances.len();
        (n_bands > 0).then(|| (-distances.iter().sum::<f64>() / n_bands as f64 / 2.0).exp())
    }
}

static WINDOWS: LazyLock<Vec<Window>> =
    LazyLock::new(|| WINDOWS_CSV.lines().skip(1).filter_map(window).collect());

/// A line of the table. The window of a whole mix stands for playback, which is one.
fn window(line: &str) -> Option<Window> {
    let fields: Vec<_> = line.split(',').collect();
    let role = match Role::from_word(fields.first()?)? {
        Role::Main => Role::Playback,
        role => role,
    };
    let mut bands = [(None, 0.0); N_BANDS];
    for (idx, band) in bands.iter_mut().enumerate() {
        let low_db = fields.get(2 + 2 * idx)?.parse().ok();
        *band = (low_db, fields.get(3 + 2 * idx)?.parse().ok()?);
    }
    // A role is told by more than a family's habit, so mixes and utilities have no window.
    (role.family() != Family::Mix).then_some(Window { role, bands })
}
