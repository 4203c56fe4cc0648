//! Tests of every text of every rule: plain words, no blame, the form that pages rely on.

use deskside::coach::{RESERVED, RULES, Rule};
use deskside::session::Role;
use deskside::unit::Fact;

use super::advise;
use crate::support::readings::{channel, session};

/// Words that blame, grade or promise too much.
const FORBIDDEN: [&str; 14] = [
    "you", "your", "yours", "wrong", "bad", "always", "never", "failed", "fail", "score", "grade",
    "stupid", "again", "mistake",
];

/// Verbs that advice and exercises start with.
const VERBS: &str = "Ask Bring Burst Change Check Clap Close Compare Compress Copy Cut Dampen Delay Dip Expect Fade Find Flip Follow Give Go Halve \
    Keep Label Leave Let Lift Listen Look Lower Make Mark Mix Move Mute Name Note Open Pan Play Point Press Pull Put Raise Read Record Ride Route Run \
    Say Set Settle Show Sing Solo Speak Split Stand Start Step Sum Swap Sweep Switch Take Tilt Trace Try Turn Use Walk Write";

/// All texts but the safety wording, which has to say 'never'.
fn texts(rule: &Rule) -> Vec<&'static str> {
    let own = [
        rule.title,
        rule.measures,
        rule.guard_text,
        rule.absent,
        rule.heard,
        rule.why,
        rule.shows,
        rule.fooled_by,
        rule.other_causes,
        rule.question,
        rule.exercise,
    ];
    let limbs = rule.limbs.iter().map(|limb| limb.name);
    own.into_iter().chain(rule.advice.iter().copied()).chain(limbs).chain(rule.praise).collect()
}

#[test]
fn no_text_blames_grades_or_shouts() {
    let reserved = RESERVED.iter().flat_map(|rule| [rule.title, rule.needs]);
    for text in RULES.iter().flat_map(|rule| texts(rule)).chain(reserved) {
        let lower = text.to_lowercase();
        let mut words = lower.split(|letter: char| !letter.is_alphanumeric());
        let found = words.find(|word| FORBIDDEN.contains(word));
        assert_eq!(found, None, "in `{text}`");
        assert!(!text.contains('!'), "`{text}` shouts");
        assert!(!text.is_empty() && text.trim() == text, "`{text}` has no blanks around it");
    }
}

#[test]
fn advice_starts_with_a_verb() {
    for rule in RULES {
        assert!(!rule.advice.is_empty(), "{} has advice", rule.id);
        for step in rule.advice.iter().chain([&rule.exercise]) {
            let first = step.split([' ', ',']).next().unwrap_or_default();
            let is_verb = VERBS.split_whitespace().any(|verb| verb == first);
            assert!(is_verb, "{}: `{step}` starts with no verb of the list", rule.id);
        }
    }
}

#[test]
fn sentences_end_with_a_full_stop_and_titles_do_not() {
    for rule in RULES {
        let sentences = [rule.measures, rule.guard_text, rule.why, rule.shows, rule.exercise];
        for text in sentences
            .into_iter()
            .chain(rule.advice.iter().copied())
            .chain(rule.praise)
            .chain(rule.safety)
        {
            assert!(text.ends_with('.'), "{}: `{text}` is a sentence", rule.id);
            assert!(
                text.starts_with(|letter: char| letter.is_uppercase() || letter.is_ascii_digit()),
                "{}: `{text}`",
                rule.id
            );
        }
        for text in [rule.title, rule.absent, rule.heard, rule.fooled_by, rule.other_causes] {
            assert!(!text.ends_with('.'), "{}: `{text}` is a clause", rule.id);
        }
        assert!(rule.question.ends_with('?'), "{}: `{}` is a question", rule.id, rule.question);
    }
}

#[test]
fn what_is_heard_names_its_subject_and_how_sure_it_is() {
    for rule in RULES {
        assert!(rule.heard.starts_with("{who} {is} "), "{}: `{}`", rule.id, rule.heard);
    }
}

#[test]
fn nothing_advises_electrical_work() {
    for step in RULES.iter().flat_map(|rule| rule.advice) {
        // To leave it alone is no work.
        let lower =
            step.to_lowercase().replace("leave the safety earth of every plug as it is", "");
        for word in ["earth", "mains wiring", "fuse", "solder", "buy"] {
            assert!(!lower.contains(word), "`{step}` speaks of {word}");
        }
    }
}

/// The sentence about a lead voice with this loud level and confidence.
fn sentence(loud_dbfs: f64, confidence: f64) -> String {
    let mut voice = channel(17, Role::LeadVocal);
    voice.name = "LV".to_owned();
    voice.loud_level_dbfs = Fact::sure(loud_dbfs, confidence);
    advise(&session(vec![voice])).notes[0].sentence.clone()
}

#[test]
fn the_verb_tells_how_sure_a_note_is() {
    let tail = "low at the input: loud level -35 dBFS, target -24 dBFS or more.";
    assert_eq!(sentence(-35.2, 0.9), format!("00:20 to 00:40. LV is {tail}"));
    assert_eq!(sentence(-35.2, 0.8), format!("00:20 to 00:40. LV seems {tail}"));
    assert_eq!(
        sentence(-35.2, 0.7),
        format!("00:20 to 00:40. LV may be {tail} Please listen there.")
    );
}

#[test]
fn a_number_close_to_its_border_is_not_rounded_onto_it() {
    assert!(
        sentence(-24.2, 1.0).contains("loud level -24.2 dBFS, target -24 dBFS"),
        "{}",
        sentence(-24.2, 1.0)
    );
    assert!(
        sentence(-25.2, 1.0).contains("loud level -25 dBFS, target -24 dBFS"),
        "{}",
        sentence(-25.2, 1.0)
    );
}
