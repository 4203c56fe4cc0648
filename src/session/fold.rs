//! A channel's name as plain lower-case words.
//!
//! Takes a name as it stands on a desk or a file, gives its words and numbers: accents removed, `CamelCase`,
//! digits and separators split. Never looks at what a word means.

/// Words and numbers of a name, folded: `02_BassDI (old)` is `02`, `bass`, `di`, `old`; `Flügel` is `flugel`, `chœur` is `choeur`.
///
/// Letters that are written with a separate combining accent, as some systems name files, fold the same way.
pub(super) fn words(name: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word = String::new();
    let mut before: Option<char> = None;
    let mut chars = name.chars().filter(|&c| !is_combining(c)).peekable();
    while let Some(c) = chars.next() {
        let starts = before.is_some_and(|b| begins_word(b, c, chars.peek().copied()));
        if (starts || !c.is_alphanumeric()) && !word.is_empty() {
            words.push(std::mem::take(&mut word));
        }
        if c.is_alphanumeric() {
            word.extend(c.to_lowercase().flat_map(plain));
        }
        before = Some(c);
    }
    if !word.is_empty() {
        words.push(word);
    }
    words
}

/// Whether a word begins at `c`: between letters and digits, at `aB`, and at the `B` of `ABc`.
fn begins_word(before: char, c: char, after: Option<char>) -> bool {
    if before.is_numeric() != c.is_numeric() {
        return true;
    }
    c.is_uppercase()
        && (before.is_lowercase()
            || (before.is_uppercase() && after.is_some_and(char::is_lowercase)))
}

const fn is_combining(c: char) -> bool {
    matches!(c, '\u{300}'..='\u{36f}')
}

/// A lower-case letter without its accent.
fn plain(c: char) -> impl Iterator<Item = char> {
    let (first, second) = match c {
        'à' | 'á' | 'â' | 'ã' | 'ä' | 'å' | 'ā' => ('a', None),
        'ç' | 'č' | 'ć' => ('c', None),
        'è' | 'é' | 'ê' | 'ë' | 'ē' | 'ę' => ('e', None),
        'ì' | 'í' | 'î' | 'ï' => ('i', None),
        'ñ' | 'ń' => ('n', None),
        'ò' | 'ó' | 'ô' | 'õ' | 'ö' | 'ø' | 'ō' => ('o', None),
        'š' | 'ś' => ('s', None),
        'ù' | 'ú' | 'û' | 'ü' | 'ū' => ('u', None),
        'ý' | 'ÿ' => ('y', None),
        'ž' | 'ź' | 'ż' => ('z', None),
        'æ' => ('a', Some('e')),
        'œ' => ('o', Some('e')),
        'ß' => ('s', Some('s')),
        other => (other, None),
    };
    std::iter::once(first).chain(second)
}

/// Whether two names are one, as people write them: case and blanks around them tell nothing.
pub fn is_same_name(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}
