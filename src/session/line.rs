//! What else a name tells: wire or microphone, and instruments whose high-pass sits lower than their role's.
//!
//! Takes a role and a name. Never judges a setting: the corners are start values, common practice.

use super::fold::words;
use super::lexicon::LEXICON;
use super::role::Role;

/// Instruments that sit lower than the rest of their role.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Low {
    /// Tuba.
    Tuba,
    /// Trombone, euphonium, baritone horn, baritone saxophone.
    Baritone,
    /// Tenor saxophone.
    Tenor,
    /// Floor tom.
    FloorTom,
    /// Cello.
    Cello,
    /// Viola.
    Viola,
}

/// The lower instrument of the role that the name tells; `None` for an ordinary one.
pub fn low(role: Role, name: &str) -> Option<Low> {
    let words = words(name);
    let joined = words.concat();
    let has = |list: &[&str]| words.iter().any(|word| list.contains(&word.as_str()));
    match role {
        Role::Brass if has(&["tuba", "sousaphone", "sousafon"]) => Some(Low::Tuba),
        Role::Brass if has(&LOW_BRASS) => Some(Low::Baritone),
        Role::Woodwind if has(&["bari", "baritone", "bariton", "baryton", "baritono"]) => {
            Some(Low::Baritone)
        }
        Role::Woodwind if joined.contains("ten") => Some(Low::Tenor),
        Role::Tom if has(&FLOOR) || joined.contains("standtom") => Some(Low::FloorTom),
        Role::Strings if has(&CELLO) => Some(Low::Cello),
        Role::Strings if has(&VIOLA) => Some(Low::Viola),
        _ => None,
    }
}

const LOW_BRASS: [&str; 15] = [
    "tbn",
    "trb",
    "trombone",
    "trombones",
    "bone",
    "bones",
    "posaune",
    "posaunen",
    "trombon",
    "trombones",
    "euph",
    "euphonium",
    "baritone",
    "bombardino",
    "tenorhorn",
];

const FLOOR: [&str; 11] =
    ["floor", "flr", "ft", "stand", "piso", "basse", "chao", "surdo", "goliat", "lo", "low"];

const CELLO: [&str; 9] =
    ["cello", "celli", "vc", "vcl", "clo", "chelo", "violoncelle", "violonchelo", "violoncelo"];

const VIOLA: [&str; 5] = ["viola", "vla", "bratsche", "alto", "violas"];

/// Start value of the high-pass corner for a channel, in Hz: the lowest that is usual for the role, lower for low
/// instruments; `None` where no high-pass is usual.
///
/// Common practice. Low winds: tuba off or 30 to 40 Hz, trombone and baritones 50 to 60 Hz, tenor saxophone 80 Hz.
/// Violas get 100 Hz, below their lowest note of 131 Hz (computed at A4 = 440 Hz).
pub fn highpass_corner_hz(role: Role, name: &str) -> Option<f64> {
    match low(role, name) {
        Some(Low::Tuba) => Some(30.0),
        Some(Low::Baritone | Low::FloorTom) => Some(50.0),
        Some(Low::Tenor) => Some(80.0),
        Some(Low::Cello) => Some(60.0),
        Some(Low::Viola) => Some(100.0),
        None if role == Role::Tom => Some(60.0),
        None => LEXICON.highpass_hz(role),
    }
}

/// Words of channels that come by wire.
const WIRES: [&str; 10] =
    ["di", "bdi", "line", "usb", "linea", "ligne", "linha", "pickup", "piezo", "modeller"];

/// Whether a name itself says that the channel comes by wire.
pub fn says_by_wire(name: &str) -> bool {
    words(name).iter().any(|word| WIRES.contains(&word.as_str()))
}

/// Whether a channel probably comes by wire: what the name says, else what is usual for the role.
pub(super) fn is_line(role: Role, words: &[String]) -> bool {
    let has = |list: &[&str]| words.iter().any(|word| list.contains(&word.as_str()));
    if has(&WIRES) {
        return true;
    }
    if has(&["mic", "mik", "mikro", "micro", "mike", "amp", "cab", "verstarker", "ampli"]) {
        return false;
    }
    match role {
        Role::Keys => {
            !has(&["grand", "flugel", "upright", "accordion", "akkordeon", "accordeon"])
                && !has(&["acc", "acordeon", "acordeao", "sanfona", "squeezebox", "squeeze"])
                && !has(&["concertina", "melodeon"])
        }
        Role::Bass => {
            !has(&["upright", "dbl", "contrabass", "kontrabass", "contrabajo"])
                && !has(&["contrebasse", "contrabaixo"])
        }
        Role::AcousticGuitar
        | Role::Playback
        | Role::Click
        | Role::Timecode
        | Role::FxReturn
        | Role::Main
        | Role::MonitorMix => true,
        _ => false,
    }
}
