//! Channels of a session: every plane of every take with its name, number, role, tap and partner.
//!
//! Takes the takes and the note, gives channels in the order of the desk. Never overrules what the note states.

use super::folder::Take;
use super::labels::{first_number, is_bare, label, shared_len, without_part_number};
use super::names::{NameRole, roles};
use super::note::{ChannelNote, SessionNote};
use super::role::Role;
use super::tap::{RoleSource, Side, Tap};

/// A channel of a session: where it is recorded, and what is known of it.
#[derive(Clone, Debug)]
pub struct SessionChannel {
    /// Id within the session, from the number: `ch01`.
    pub id: String,
    /// Number on the desk, from 1; no two channels share one.
    pub number: usize,
    /// Name: from `session.toml`, else as recorded.
    pub name: String,
    /// What it carries.
    pub role: Role,
    /// How sure the role is, 0 to 1; 1 if stated.
    pub role_confidence: f64,
    /// How the role was found.
    pub role_source: RoleSource,
    /// What the name tells by itself, for a later check against the sound.
    pub name_role: NameRole,
    /// Where it was recorded.
    pub tap: Tap,
    /// Whether it comes by wire and not from a microphone.
    pub is_line: bool,
    /// Side in its stereo pair.
    pub side: Option<Side>,
    /// Index of the other side of its stereo pair.
    pub partner: Option<usize>,
    /// Index of the raw channel that this is the processed tap of.
    pub raw: Option<usize>,
    /// Index of its take.
    pub take_idx: usize,
    /// Channel within the take's files, from 0.
    pub plane_idx: usize,
    /// Begin in the session, in seconds.
    pub start_s: f64,
    /// Frames; `None` where only reading tells.
    pub n_frames: Option<u64>,
    /// Sample rate, in Hz.
    pub rate_hz: u32,
    /// Bits of a sample; 0 for lossy codecs.
    pub bits: u32,
    /// Whether samples are floats.
    pub is_float: bool,
    /// What `session.toml` states; empty if nothing.
    pub note: ChannelNote,
    /// What is doubtful about it, a sentence each.
    pub warnings: Vec<String>,
}

/// A plane before it has a role.
struct Draft {
    take_idx: usize,
    plane_idx: usize,
    name: String,
    number: Option<usize>,
    side: Option<Side>,
    note: Option<ChannelNote>,
}

/// The channels of all takes, skipped ones left out.
pub(super) fn channels(
    takes: &[Take],
    note: &SessionNote,
    warnings: &mut Vec<String>,
) -> Vec<SessionChannel> {
    let mut drafts = drafts(takes);
    for channel in &note.channels {
        attach(channel, &mut drafts, takes, warnings);
    }
    drafts.retain(|draft| draft.note.as_ref().is_none_or(|note| note.skip != Some(true)));
    let numbers = numbers(&drafts);
    let mut drafts: Vec<_> = numbers.into_iter().zip(drafts).collect();
    drafts.sort_by_key(|(number, _)| *number);

    let names: Vec<&str> = drafts.iter().map(|(_, draft)| draft.name.as_str()).collect();
    let told = roles(&names);
    let mut channels: Vec<_> = drafts
        .iter()
        .zip(told)
        .map(|((number, draft), told)| {
            channel(*number, draft, told, &takes[draft.take_idx], note.tap)
        })
        .collect();
    pair(&mut channels, takes, warnings);
    tie_taps(&mut channels, warnings);
    channels
}

fn channel(
    number: usize,
    draft: &Draft,
    told: NameRole,
    take: &Take,
    inputs_tap: Option<Tap>,
) -> SessionChannel {
    let note = draft.note.clone().unwrap_or_default();
    let (role, role_confidence, role_source) = match note.role {
        Some(role) => (role, 1.0, RoleSource::Stated),
        None => (told.role, told.confidence, told.source),
    };
    let lossy = take.is_lossy.then(|| {
        format!(
            "stored as {}, which leaves sound out: levels are near, details are not",
            take.container
        )
    });
    SessionChannel {
        id: format!("ch{number:02}"),
        number,
        name: draft.name.clone(),
        role,
        role_confidence,
        role_source,
        tap: note
            .tap
            .or(inputs_tap.filter(|_| takes_usual(role)))
            .unwrap_or_else(|| usual_tap(role)),
        is_line: note.line.unwrap_or(told.is_line),
        side: note.side.or(draft.side).or(told.side),
        partner: told.partner,
        raw: None,
        name_role: told,
        take_idx: draft.take_idx,
        plane_idx: draft.plane_idx,
        start_s: take.start_s,
        n_frames: take.n_frames,
        rate_hz: take.rate_hz,
        bits: take.bits,
        is_float: take.is_float,
        note,
        warnings: lossy.into_iter().collect(),
    }
}

/// Whether the tap of a role is that of the inputs, and not told by the role itself.
const fn takes_usual(role: Role) -> bool {
    matches!(usual_tap(role), Tap::Raw)
}

const fn usual_tap(role: Role) -> Tap {
    match role {
        Role::Main => Tap::Mix,
        Role::MonitorMix => Tap::Monitor,
        Role::FxReturn => Tap::Effects,
        Role::Room => Tap::Room,
        _ => Tap::Raw,
    }
}

/// Every plane with its recorded name.
fn drafts(takes: &[Take]) -> Vec<Draft> {
    let singles: Vec<&str> =
        takes.iter().filter(|take| take.n_channels <= 2).map(|take| stem(&take.label)).collect();
    let shared = shared_len(&singles);
    let mut drafts = Vec::new();
    for (take_idx, take) in takes.iter().enumerate() {
        for plane_idx in 0..take.n_channels {
            let (name, number, side) = plane(take, plane_idx, shared);
            drafts.push(Draft { take_idx, plane_idx, name, number, side, note: None });
        }
    }
    drafts
}

/// Name, number and side of a plane.
fn plane(take: &Take, plane_idx: usize, shared: usize) -> (String, Option<usize>, Option<Side>) {
    let stem = stem(&take.label);
    let stem = if take.parts.len() > 1 { without_part_number(stem) } else { stem };
    let written = take.track_names.get(plane_idx).and_then(Option::as_deref).map(str::trim);
    let written = written.filter(|name| !name.is_empty());
    if take.n_channels > 2 {
        let number = first_number(stem, take.n_channels) + plane_idx;
        let name = written.map_or_else(|| format!("CH{number:02}"), str::to_owned);
        return (name, Some(number), None);
    }
    let own = label(stem.get(shared..).filter(|own| !own.is_empty()).unwrap_or(stem));
    // A file that is only numbered has its name inside, if it has one at all.
    let name = match written {
        Some(written) if is_bare(&own.name) => written.to_owned(),
        _ => own.name,
    };
    if take.n_channels == 1 {
        return (name, own.number, None);
    }
    let side = if plane_idx == 0 { Side::Left } else { Side::Right };
    let number = own.number.map(|number| number + plane_idx);
    // Two names inside tell the sides apart by themselves.
    let name = match (&take.track_names[..], written) {
        ([Some(left), Some(right)], Some(written)) if left != right => written.to_owned(),
        _ => format!("{name} {}", side_letter(side)),
    };
    (name, number, Some(side))
}

const fn side_letter(side: Side) -> char {
    match side {
        Side::Left => 'L',
        Side::Right => 'R',
    }
}

/// File name without folder and extension.
fn stem(label: &str) -> &str {
    let name = label.rsplit('/').next().unwrap_or(label);
    name.rsplit_once('.').map_or(name, |(stem, _)| stem)
}

/// Gives what the note states to the planes that it speaks of.
fn attach(note: &ChannelNote, drafts: &mut [Draft], takes: &[Take], warnings: &mut Vec<String>) {
    let lower = |text: &str| text.to_lowercase();
    let wanted: Vec<usize> = match (&note.file, &note.name) {
        (Some(file), _) => (0..drafts.len())
            .filter(|&idx| takes[drafts[idx].take_idx].label == *file)
            .filter(|&idx| note.index.is_none_or(|index| index == drafts[idx].plane_idx + 1))
            .collect(),
        (None, Some(name)) => (0..drafts.len())
            .filter(|&idx| lower(&drafts[idx].name) == lower(name))
            .take(1)
            .collect(),
        (None, None) => Vec::new(),
    };
    let label = note.file.as_deref().or(note.name.as_deref()).unwrap_or_default();
    match wanted[..] {
        [] => warnings.push(match note.index {
            Some(index) => format!(
                "session.toml speaks of channel {index} of `{label}`, which is not among the recordings"
            ),
            None => format!(
                "session.toml speaks of `{label}`, which is not among the recordings"
            ),
        }),
        [idx] => give(&mut drafts[idx], note, None),
        [left, right] => {
            give(&mut drafts[left], note, Some(Side::Left));
            give(&mut drafts[right], note, Some(Side::Right));
        }
        _ if note.skip == Some(true) => {
            wanted.iter().for_each(|&idx| give(&mut drafts[idx], note, None));
        }
        _ => warnings.push(format!(
            "session.toml says nothing of which channel of `{label}` it means: add its `index`, 1 to {}",
            wanted.len()
        )),
    }
}

fn give(draft: &mut Draft, note: &ChannelNote, side: Option<Side>) {
    let mut note = note.clone();
    if let Some(name) = &note.name {
        draft.name = match side {
            Some(side) => format!("{name} {}", side_letter(side)),
            None => name.clone(),
        };
    }
    if side.is_some() {
        note.side = side;
    }
    draft.note = Some(note);
}

/// A number for every plane: its own where it is free, else the next after the highest.
fn numbers(drafts: &[Draft]) -> Vec<usize> {
    let mut given: Vec<Option<usize>> = Vec::new();
    for draft in drafts {
        let free = draft.number.filter(|&number| !given.contains(&Some(number)));
        given.push(free);
    }
    let mut next = given.iter().flatten().max().map_or(1, |highest| highest + 1);
    given
        .into_iter()
        .map(|number| {
            number.unwrap_or_else(|| {
                next += 1;
                next - 1
            })
        })
        .collect()
}

/// Partners: as stated, then the two sides of a stereo file, then by name.
fn pair(channels: &mut [SessionChannel], takes: &[Take], warnings: &mut Vec<String>) {
    for idx in 0..channels.len() {
        let stereo = takes[channels[idx].take_idx].n_channels == 2;
        let other = (0..channels.len()).find(|&other| {
            other != idx && stereo && channels[other].take_idx == channels[idx].take_idx
        });
        if let Some(other) = other {
            marry(channels, idx, other);
        }
    }
    for idx in 0..channels.len() {
        let Some(name) = channels[idx].note.partner.clone() else { continue };
        match by_name(channels, &name, idx) {
            Some(other) => marry(channels, idx, other),
            None => warnings.push(missing(&channels[idx].name, "partner", &name)),
        }
    }
    for idx in 0..channels.len() {
        let other = channels[idx].partner.and_then(|other| channels[other].side);
        if channels[idx].side.is_none() {
            channels[idx].side = other.map(opposite);
        }
    }
}

/// Ties two channels and frees whoever they were tied to.
fn marry(channels: &mut [SessionChannel], one: usize, other: usize) {
    for idx in [one, other] {
        if let Some(old) = channels[idx].partner.take() {
            channels[old].partner = None;
        }
    }
    channels[one].partner = Some(other);
    channels[other].partner = Some(one);
}

const fn opposite(side: Side) -> Side {
    match side {
        Side::Left => Side::Right,
        Side::Right => Side::Left,
    }
}

/// Raw and processed taps of one input.
fn tie_taps(channels: &mut [SessionChannel], warnings: &mut Vec<String>) {
    for idx in 0..channels.len() {
        let note = channels[idx].note.clone();
        if let Some(name) = &note.processed_of {
            match by_name(channels, name, idx) {
                Some(raw) => tie(channels, raw, idx),
                None => warnings.push(missing(&channels[idx].name, "processed_of", name)),
            }
        }
        if let Some(name) = &note.raw_of {
            match by_name(channels, name, idx) {
                Some(processed) => tie(channels, idx, processed),
                None => warnings.push(missing(&channels[idx].name, "raw_of", name)),
            }
        }
        if let Some(raw) = named_tap(channels, idx) {
            tie(channels, raw, idx);
        }
    }
}

fn tie(channels: &mut [SessionChannel], raw: usize, processed: usize) {
    channels[processed].raw = Some(raw);
    if channels[processed].note.tap.is_none() {
        channels[processed].tap = Tap::Processed;
    }
    if channels[raw].note.tap.is_none() {
        channels[raw].tap = Tap::Raw;
    }
}

/// The raw channel of `LV proc` is `LV`, where both are recorded.
fn named_tap(channels: &[SessionChannel], idx: usize) -> Option<usize> {
    const WORDS: [&str; 4] = [" processed", " proc", " post", " wet"];
    if channels[idx].raw.is_some() || channels[idx].note.tap.is_some() {
        return None;
    }
    let name = channels[idx].name.to_lowercase().replace(['_', '-'], " ");
    let input = WORDS.iter().find_map(|word| name.strip_suffix(word))?;
    by_name(channels, input.trim(), idx)
}

fn by_name(channels: &[SessionChannel], name: &str, but: usize) -> Option<usize> {
    let name = name.to_lowercase();
    (0..channels.len()).find(|&idx| idx != but && channels[idx].name.to_lowercase() == name)
}

fn missing(channel: &str, key: &str, name: &str) -> String {
    format!("session.toml names `{name}` as `{key}` of `{channel}`: no channel has that name")
}
