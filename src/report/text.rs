//! Text from outside made safe and fitted: names of channels, songs, places and files.
//!
//! Takes any text, gives text without control characters that keeps to a width in terminal columns. Never lets a name
//! move the cursor, colour the screen, turn the reading direction or break a table.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// Stands for the part of a text that did not fit.
const CUT: char = '…';

/// Whether a character acts on the screen or the reading direction, and is not itself seen.
fn is_unseen(c: char) -> bool {
    // Line and paragraph separators, direction marks and overrides, byte order mark.
    c.is_control()
        || matches!(c, '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' | '\u{feff}')
}

/// A text on one line, without characters that act on the screen; each of them shows as `�`.
pub fn plain(text: &str) -> String {
    let seen = text.trim().chars().map(|c| match c {
        '\t' | '\n' | '\r' => ' ',
        c if is_unseen(c) => char::REPLACEMENT_CHARACTER,
        c => c,
    });
    seen.collect()
}

/// The columns that a text takes in a terminal.
pub fn width(text: &str) -> usize {
    text.width()
}

/// A plain text of at most `max_width` columns; a longer one is cut and ends in `…`.
pub fn fitted(text: &str, max_width: usize) -> String {
    let text = plain(text);
    if text.width() <= max_width {
        return text;
    }
    let mut kept = String::new();
    for c in text.chars() {
        if kept.width() + c.width().unwrap_or(0) + 1 > max_width {
            break;
        }
        kept.push(c);
    }
    let mut kept = kept.trim_end().to_owned();
    kept.push(CUT);
    kept
}

/// A text broken into lines of at most `max_width` columns, between words; a word that is longer has a line of its own.
pub fn wrapped(text: &str, max_width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        if !line.is_empty() && line.width() + 1 + word.width() > max_width {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// A text as a paragraph: the first line starts with `first`, the others with as many spaces.
pub fn paragraph(first: &str, text: &str, max_width: usize) -> String {
    let indent = " ".repeat(first.width());
    let lines = wrapped(text, max_width.saturating_sub(first.width()).max(20));
    let lines = lines.iter().enumerate().map(|(at, line)| {
        let start = if at == 0 { first } else { &indent };
        format!("{start}{line}\n")
    });
    lines.collect()
}

/// A plain text for Markdown: characters with a meaning there are escaped.
pub fn markdown(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in plain(text).chars() {
        match c {
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '&' => escaped.push_str("&amp;"),
            '\\' | '`' | '*' | '_' | '[' | ']' | '|' | '#' | '~' | '!' => {
                escaped.push('\\');
                escaped.push(c);
            }
            c => escaped.push(c),
        }
    }
    escaped
}

/// Several items in a sentence: `a`, `a and b`, `a, b and c`.
pub fn listed(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A count with its noun: `1 channel`, `2 channels`.
pub fn counted(count: usize, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

/// A title within a sentence: its first letter small, unless a name in capitals starts it.
pub fn lowered(title: &str) -> String {
    let mut letters = title.chars();
    match (letters.next(), letters.clone().next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => {
            first.to_lowercase().chain(letters).collect()
        }
        _ => title.to_owned(),
    }
}
