//! The words that stand for roles, by language, and the start values that come with a role.
//!
//! Takes the embedded table `corpus/roles/roles.csv`, gives look-ups. Never decides between two roles.
//! A new word is an entry in the table.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use super::role::Role;

/// The table: a row a role, a column of words a language, `+` for a space inside a name.
const ROLES_CSV: &str = include_str!("../../corpus/roles/roles.csv");

/// A language of labels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Language {
    English,
    German,
    Spanish,
    French,
    Portuguese,
}

impl Language {
    pub(super) const ALL: [Self; 5] =
        [Self::English, Self::German, Self::Spanish, Self::French, Self::Portuguese];

    /// Column of the table that holds the language's words.
    const fn column(self) -> &'static str {
        match self {
            Self::English => "names_en",
            Self::German => "names_de",
            Self::Spanish => "names_es",
            Self::French => "names_fr",
            Self::Portuguese => "names_pt",
        }
    }
}

/// What a word may stand for in one language.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Meaning {
    pub(super) role: Role,
    pub(super) language: Language,
}

/// All words.
pub(super) struct Lexicon {
    /// By word, spaces left out: `hi hat` and `hihat` are one.
    meanings: BTreeMap<String, Vec<Meaning>>,
    /// Names of two words with the words swapped: `gtr ac` for `ac gtr`.
    swapped: BTreeMap<String, Vec<Meaning>>,
    highpass_hz: BTreeMap<Role, f64>,
}

/// Look-ups into the table, which is read once.
pub(super) static LEXICON: LazyLock<Lexicon> = LazyLock::new(Lexicon::read);

impl Lexicon {
    /// What the run of words `key` (spaces left out) may stand for; empty if it is no word of the table.
    pub(super) fn meanings(&self, key: &str) -> &[Meaning] {
        self.meanings.get(key).map_or(&[], Vec::as_slice)
    }

    /// The same for two words in the other order.
    pub(super) fn swapped(&self, key: &str) -> &[Meaning] {
        self.swapped.get(key).map_or(&[], Vec::as_slice)
    }

    /// What the words that `start` abbreviates may stand for: words that go on for two letters or more.
    pub(super) fn abbreviated<'a>(&'a self, start: &'a str) -> impl Iterator<Item = Meaning> + 'a {
        self.meanings
            .range(start.to_owned()..)
            .take_while(move |(key, _)| key.starts_with(start))
            .filter(move |(key, _)| key.len() >= start.len() + 2)
            .flat_map(|(_, meanings)| meanings.iter().copied())
    }

    /// Lowest usual corner of the high-pass for a role, in Hz; `None` where none is usual.
    pub(super) fn highpass_hz(&self, role: Role) -> Option<f64> {
        self.highpass_hz.get(&role).copied()
    }

    fn read() -> Self {
        let mut lexicon = Self {
            meanings: BTreeMap::new(),
            swapped: BTreeMap::new(),
            highpass_hz: BTreeMap::new(),
        };
        let mut lines = ROLES_CSV.lines();
        let header = fields(lines.next().unwrap_or_default());
        for line in lines {
            lexicon.add_row(&header, &fields(line));
        }
        lexicon
    }

    fn add_row(&mut self, header: &[String], row: &[String]) {
        let field = |column: &str| {
            header.iter().position(|name| name == column).and_then(|idx| row.get(idx))
        };
        let Some(role) = field("role").and_then(|word| Role::from_word(word)) else {
            return;
        };
        for language in Language::ALL {
            let entries = field(language.column()).map_or("", String::as_str);
            for entry in entries.split_whitespace() {
                self.add_word(entry, Meaning { role, language });
            }
        }
        if let Some(corner_hz) = field("highpass_hz").and_then(|text| leading_number(text)) {
            self.highpass_hz.insert(role, corner_hz);
        }
    }

    fn add_word(&mut self, entry: &str, meaning: Meaning) {
        self.meanings.entry(entry.replace('+', "")).or_default().push(meaning);
        // Single letters swapped would make words of anything: `in k`.
        if let Some((first, second)) = entry.split_once('+')
            && first.len() > 1
            && second.len() > 1
        {
            self.swapped.entry(format!("{second}{first}")).or_default().push(meaning);
        }
    }
}

/// Fields of a line of comma-separated values; quotes hold commas.
fn fields(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            other => fields.last_mut().expect("there is a field from the start").push(other),
        }
    }
    fields
}

/// The number that a text begins with: 100 of `100-120`.
fn leading_number(text: &str) -> Option<f64> {
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    text[..end].parse().ok()
}
