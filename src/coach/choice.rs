//! The few notes that a trainee gets.
//!
//! Two a group, two a channel, one at least that takes seconds at the source. Never more than asked for.

use super::advice::Note;
use super::review::NoteLimit;
use crate::reading::Reading;

/// Notes of one group at most.
const PER_GROUP: usize = 2;
/// Notes on one channel at most.
const PER_CHANNEL: usize = 2;
/// More than this many at once are not taken in: working memory holds about four items (Cowan 2001, from memory).
pub(super) const MOST: usize = 5;

/// Splits candidates into the chosen notes, best first, and the rest. What is being practised stands first.
pub(super) fn choose(
    mut candidates: Vec<Note>,
    limit: NoteLimit,
    reading: &Reading,
    practised: Option<&str>,
) -> (Vec<Note>, Vec<Note>) {
    sort(&mut candidates, reading);
    candidates.sort_by_key(|note| practised != Some(note.rule.id));
    let NoteLimit::AtMost(n_wanted) = limit else { return (candidates, Vec::new()) };
    let n_wanted = n_wanted.min(MOST);
    let mut chosen: Vec<Note> = Vec::new();
    let mut rest: Vec<Note> = Vec::new();
    for note in candidates {
        if chosen.len() < n_wanted && fits(&note, &chosen) {
            chosen.push(note);
        } else {
            rest.push(note);
        }
    }
    keep_one_easy(&mut chosen, &mut rest);
    (chosen, rest)
}

/// Heaviest first; ties by group, then by desk number.
fn sort(notes: &mut [Note], reading: &Reading) {
    let number = |note: &Note| {
        note.channels
            .iter()
            .filter_map(|id| reading.channel(id))
            .map(|channel| channel.number)
            .min()
            .unwrap_or(usize::MAX)
    };
    notes.sort_by(|left, right| {
        right
            .weight
            .total_cmp(&left.weight)
            .then(left.group.cmp(&right.group))
            .then_with(|| number(left).cmp(&number(right)))
            .then(left.rule.id.cmp(right.rule.id))
    });
}

fn fits(note: &Note, chosen: &[Note]) -> bool {
    let in_group = chosen.iter().filter(|other| other.group == note.group).count();
    let is_channel_full = |id: &String| {
        let on_channel = |other: &&Note| !other.is_whole && other.channels.contains(id);
        chosen.iter().filter(on_channel).count() >= PER_CHANNEL
    };
    in_group < PER_GROUP && (note.is_whole || !note.channels.iter().any(is_channel_full))
}

/// Where no chosen note takes seconds at the source, the last one gives way to the best that does.
fn keep_one_easy(chosen: &mut Vec<Note>, rest: &mut [Note]) {
    let is_easy = |note: &Note| note.rule.ease == 1;
    if chosen.iter().any(is_easy) {
        return;
    }
    let Some(last) = chosen.pop() else { return };
    match rest.iter().position(|note| is_easy(note) && fits(note, chosen)) {
        Some(easy) => {
            let easy = std::mem::replace(&mut rest[easy], last);
            chosen.push(easy);
        }
        None => chosen.push(last),
    }
}
