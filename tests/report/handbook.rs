//! The rules as documents.

use deskside::coach::{RESERVED, RULES};
use deskside::report::handbook::{self, Handbook};
use deskside::report::{Look, text};

use crate::support::golden;

#[test]
fn every_rule_explains_itself_within_80_columns() {
    for rule in RULES {
        let printed = handbook::explain(Look::PIPE, rule);
        for line in printed.lines() {
            assert!(text::width(line) <= 80, "{}: {line}", rule.id);
        }
        for heading in
            ["What is measured", "Targets", "When it stays silent", "Why it matters", "What to try"]
        {
            assert!(printed.contains(heading), "{}: `{heading}` is missing", rule.id);
        }
        assert!(
            !printed.contains("{db}") && !printed.contains("{who}"),
            "{}: a gap in the text",
            rule.id
        );
    }
}

#[test]
fn the_list_and_the_handbook_name_every_rule() {
    let list = handbook::list(Look::PIPE, RULES, RESERVED);
    let book = Handbook(RULES).to_string();
    for rule in RULES {
        assert!(list.contains(rule.id), "{}", rule.id);
        assert!(book.contains(&format!("### {}\n", rule.id)), "{}", rule.id);
    }
    for reserved in RESERVED {
        assert!(list.contains(reserved.id), "{}", reserved.id);
        let printed = handbook::explain_reserved(Look::PIPE, reserved);
        assert!(printed.contains("Not judged in this version"), "{printed}");
    }
    for line in list.lines() {
        assert!(text::width(line) <= 80, "{line}");
    }
}

#[test]
fn an_explained_rule_reads_well() {
    let rule = deskside::coach::rule("gain-too-low").unwrap();
    golden::compare("corpus/report/explain-gain-too-low.txt", &handbook::explain(Look::PIPE, rule));
}
