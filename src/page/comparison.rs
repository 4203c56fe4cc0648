//! What changed between two reviews, as a page: findings by what became of them, pictures of old against new, numbers that moved.
//!
//! Takes a comparison, gives HTML text. Tells nothing by colour alone, and adds no judgement.

use maud::{DOCTYPE, Markup, html};

use super::{finished, head, operator, picture};
use crate::comparison::{Comparison, Course, Finding, Moved};
use crate::report::comparison::{
    ONE_STEP, amount, change, channels, headed, summary, target, whose,
};
use crate::report::sheet::FOOT;
use crate::report::{number, text};

/// The page.
pub fn comparison(found: &Comparison) -> String {
    finished(&html! {
        (DOCTYPE)
        html lang="en" {
            (head("What changed between two reviews"))
            body.sheet {
                (picture::hatch())
                header {
                    p.kind { "Two reviews" }
                    h1 { "What changed" }
                    p.meta { b { "Old: " } (headed(&found.then)) }
                    p.meta { b { "New: " } (headed(&found.now)) }
                }
                main.part {
                    section { p { (ONE_STEP) } }
                    @if !found.differences.is_empty() {
                        section.safety {
                            h2 { "Not alike in" }
                            ul { @for one in &found.differences { li { (text::plain(one)) } } }
                        }
                    }
                    section { h2 { "Findings" } (findings(&found.findings)) }
                    @if !found.charts.is_empty() {
                        section {
                            h2 { "Old against new" }
                            div.fulls { @for chart in &found.charts { (picture::change(chart)) } }
                        }
                    }
                    section { h2 { "Numbers that moved" } (moved(&found.moved)) p { (summary(found)) } }
                    (operator::words(&said(found)))
                }
                footer { p { (FOOT) } }
            }
        }
    })
}

fn findings(findings: &[Finding]) -> Markup {
    html! {
        @if findings.is_empty() { p { "None in either review." } }
        @for course in Course::ALL {
            @let own: Vec<&Finding> = findings.iter().filter(|one| one.course == course).collect();
            @if !own.is_empty() {
                h3.course { (sign(course)) " " (course.word()) }
                div.wide tabindex="0" role="region" aria-label={ "Findings: " (course.word()) } {
                    table {
                        thead { tr { @for title in ["Finding", "Channel", "Then", "Now", "Target"] { th scope="col" { (title) } } } }
                        tbody { @for one in own { (row(one)) } }
                    }
                }
            }
        }
    }
}

/// A shape for what became of a finding.
const fn sign(course: Course) -> &'static str {
    match course {
        Course::New => "+",
        Course::Stays => "=",
        Course::Gone => "−",
        Course::PutAside => "×",
        Course::NotJudgedThen | Course::NotJudgedNow => "?",
        Course::RuleChanged => "≠",
    }
}

fn row(finding: &Finding) -> Markup {
    html! {
        tr {
            th scope="row" { (finding.title) }
            td { (channels(finding)) }
            td { (amount(finding.then.as_ref())) }
            td { (amount(finding.now.as_ref())) }
            td { (target(finding.target.as_ref())) }
        }
    }
}

fn moved(moved: &[Moved]) -> Markup {
    html! {
        @if !moved.is_empty() {
            div.wide tabindex="0" role="region" aria-label="Numbers that moved" {
                table {
                    thead { tr { @for title in ["Number", "Of", "Then", "Now", "Change"] { th scope="col" { (title) } } } }
                    tbody {
                        @for one in moved {
                            tr {
                                th scope="row" { (one.number) }
                                td { (whose(one)) }
                                td.n { (number::fact(&one.then, one.unit)) }
                                td.n { (number::fact(&one.now, one.unit)) }
                                td.n { (change(&one.then, &one.now, one.unit)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Everything that the page says in words of the trade.
fn said(found: &Comparison) -> String {
    let titles = found.findings.iter().map(|one| one.title.to_owned());
    let amounts = found.findings.iter().flat_map(|one| {
        [amount(one.then.as_ref()), amount(one.now.as_ref()), target(one.target.as_ref())]
    });
    let numbers = found.moved.iter().map(|one| {
        format!(
            "{} {} {}",
            one.number,
            number::fact(&one.now, one.unit),
            change(&one.then, &one.now, one.unit)
        )
    });
    titles.chain(amounts).chain(numbers).collect::<Vec<_>>().join("\n")
}
