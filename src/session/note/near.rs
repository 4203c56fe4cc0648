//! The known word that a misspelt one probably means.
//!
//! Takes a word and the known ones, gives the nearest by edit distance. Never a far one.

/// The nearest known word, if it differs by at most a third of its letters (two for short words).
pub(super) fn nearest<'a>(word: &str, known: &[&'a str]) -> Option<&'a str> {
    let word = word.to_lowercase();
    let (distance, near) =
        known.iter().map(|near| (distance(&word, near), *near)).min_by_key(|(d, _)| *d)?;
    (distance <= 2.max(near.len() / 3)).then_some(near)
}

/// Letters to insert, remove or replace (Levenshtein 1966).
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, &to) in b.iter().enumerate() {
            let replaced = diagonal + usize::from(from != to);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}
