//! The targets in force: each row says where it comes from.

use deskside::coach::{Aims, RULES, Source};
use deskside::report::Look;
use deskside::report::targets::shown;

/// The rows of one rule, without its heading and its sources.
fn rows<'a>(shown: &'a str, rule: &str) -> Vec<&'a str> {
    let head = format!("{rule}: ");
    let lines = shown.lines().skip_while(|line| !line.starts_with(&head)).skip(3);
    lines.take_while(|line| !line.starts_with("source: ")).collect()
}

#[test]
fn published_common_practice_and_the_teams_own_are_told_apart() {
    let own = "[[target]]\nrule = 'mic-far'\ngreen_low = 11\n
               [[target]]\nrule = 'drums-loud'\ngreen_high = -13\nnights = 9\n";
    let text = shown(Look::PIPE, RULES, &Aims::parse(own).unwrap());
    let far = rows(&text, "mic-far");
    assert_eq!(far.len(), 2, "the team's below the one that it replaces: {far:?}");
    assert!(!far[0].contains("the team") && far[1].trim_end().ends_with("the team"), "{far:?}");
    let drums = rows(&text, "drums-loud");
    assert!(drums[0].trim_end().ends_with("common practice"), "{drums:?}");
    assert!(drums[1].trim_end().ends_with("the team, 9 nights"), "{drums:?}");
    for rule in RULES {
        let first = rule.limbs.first().and_then(|limb| limb.windows.first());
        let Some(window) = first.filter(|_| rule.id != "mic-far" && rule.id != "drums-loud") else {
            continue;
        };
        let word = match window.source {
            Source::Published(_) => "published",
            Source::Computed(_) => "computed",
            Source::CommonPractice => "common practice",
            Source::Team | Source::Nights(_) => unreachable!("no rule comes from a team"),
        };
        // A long cell is broken over lines: its last word may stand alone.
        let found = rows(&text, rule.id).join(" ");
        let is_told = word.split(' ').all(|part| found.contains(part));
        assert!(is_told, "{}: `{word}` in {found}", rule.id);
    }
}
