//! Causes and effects: which findings stand inside the note of another.
//!
//! Only a finding that the same reader sees can fold others in.

use super::judge::Judgement;

/// For each judgement the place of the finding that explains it, first causes only; `None` where it stands alone.
///
/// `is_seen` tells whether the reader sees a judgement as a finding with confidence.
pub(super) fn causes(
    judgements: &[Judgement],
    is_seen: impl Fn(&Judgement) -> bool,
) -> Vec<Option<usize>> {
    let direct: Vec<Option<usize>> = judgements
        .iter()
        .map(|effect| {
            effect.severity()?;
            judgements.iter().position(|cause| {
                cause.rule.explains.contains(&effect.rule.id)
                    && !effect.observation.unexplained_by.contains(&cause.rule.id)
                    && is_seen(cause)
                    && shares_a_channel(cause, effect)
                    && shares_a_song(cause, effect)
            })
        })
        .collect();
    (0..judgements.len()).map(|idx| root(idx, &direct)).collect()
}

/// The end of the chain of causes. A ring, which the register's test forbids, ends where it began.
fn root(start: usize, direct: &[Option<usize>]) -> Option<usize> {
    let mut cause = direct[start]?;
    for _ in direct {
        match direct[cause] {
            Some(next) if next != start => cause = next,
            _ => break,
        }
    }
    Some(cause)
}

/// What rests on single songs explains, and is explained by, what happens in the same song.
fn shares_a_song(cause: &Judgement, effect: &Judgement) -> bool {
    let [cause, effect] = [&cause.observation.songs, &effect.observation.songs];
    cause.is_empty() || effect.is_empty() || cause.iter().any(|song| effect.contains(song))
}

fn shares_a_channel(cause: &Judgement, effect: &Judgement) -> bool {
    let reached = cause.channels.iter().chain(&cause.observation.also);
    reached.into_iter().any(|id| effect.channels.contains(id))
}
