//! The page of habits over months: one file that needs nothing beside it.
//!
//! Takes what was counted, gives HTML text: one picture a habit with the words for it. What comes back whoever operates stands on its
//! own, for the lead. Holds no grade, no rank, no label but the one that was asked for, and never lets a name become markup.

use maud::{DOCTYPE, Markup, html};

use super::picture::{MOST_NIGHTS, nights};
use super::{finished, head};
use crate::coach;
use crate::history::{Habit, Recurring};
use crate::report::habits::{Page, amount, because, letter, slope, title, together};
use crate::report::text;

/// More than these at once are not taken in: the others are folded away (Cowan 2001, from memory).
const SHOWN: usize = 3;

/// The whole page.
pub fn page(page: &Page<'_>) -> String {
    let who = page.operator.unwrap_or("the team");
    let document = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("Habits of {who}")))
            body {
                (top(page, who))
                main.part {
                    @if page.operator.is_none() { (lead(page)) }
                    (habits(page.habits))
                    @if page.operator.is_some() && !page.recurring.is_empty() {
                        p.quiet {
                            "What comes back whoever operates (" (text::counted(page.recurring.len(), "finding"))
                            ") is a matter of hall and gear. It is left out here and stands on the team's page."
                        }
                    }
                    (reading())
                }
                (foot(page))
            }
        }
    };
    finished(&document)
}

fn top(page: &Page<'_>, who: &str) -> Markup {
    html! {
        header {
            p.kind { "Over months" }
            h1 { "Habits of " (who) }
            p.meta {
                (text::counted(page.n_sessions, "session"))
                @if let Some((first, last)) = page.dates { ", " (first) " to " (last) }
                @for only in [page.role, page.channel].into_iter().flatten() { "; " (only) " only" }
            }
        }
    }
}

/// The lead's: what comes back whoever operates, with what has to be known for safety, and what to train.
fn lead(page: &Page<'_>) -> Markup {
    let mut safety: Vec<&str> = Vec::new();
    for one in page.recurring {
        let text = coach::rule(&one.rule).and_then(|rule| rule.safety);
        safety.extend(text.filter(|text| !safety.contains(text)));
    }
    html! {
        @if !safety.is_empty() {
            section.safety { h2 { "Safety first" } @for text in &safety { p { (text) } } }
        }
        @if !page.recurring.is_empty() {
            section.whoever {
                h2 { "For the team lead: hall, gear, recording" }
                p.quiet { "This comes back whoever operates. It is nobody's habit." }
                ul.recurring { @for one in page.recurring { (recurring(one)) } }
            }
        }
        @if let Some(rule) = page.topic.and_then(coach::rule) {
            section.focus {
                h2 { "A topic for the next training evening" }
                p { b { (rule.title) } ". " (rule.exercise) }
            }
        }
    }
}

fn recurring(one: &Recurring) -> Markup {
    let channel = if one.channel.is_empty() { "The session" } else { &one.channel };
    #[expect(clippy::cast_precision_loss, reason = "weeks are few")]
    let width = format!("{:.1}%", 100.0 * one.n_weeks_hit as f64 / one.n_weeks.max(1) as f64);
    html! {
        li {
            p {
                b { (channel) } ": " (text::lowered(title(&one.rule))) ", in " (one.n_weeks_hit) " of "
                (text::counted(one.n_weeks, "week")) " (" (one.n_nights_hit) " of "
                (text::counted(one.n_nights, "session")) ", under all " (one.n_labels) " labels)"
            }
            svg.pic width="100%" height="10" aria-hidden="true" {
                rect.playback x="0" y="1" width="100%" height="8" {}
                rect.song x="0" y="1" width=(width) height="8" {}
            }
        }
    }
}

fn habits(habits: &[Habit]) -> Markup {
    let (shown, more) = habits.split_at(habits.len().min(SHOWN));
    html! {
        section {
            h2 { "Habits" }
            @if habits.is_empty() { p { "Nothing was off target." } }
            ol.cards { @for habit in shown { (card(habit)) } }
        }
        @if !more.is_empty() {
            section {
                details.finding {
                    summary { (text::counted(more.len(), "more habit")) ", less frequent" }
                    ol.cards { @for habit in more { (card(habit)) } }
                }
            }
        }
    }
}

fn card(habit: &Habit) -> Markup {
    let n_skipped = habit.dots.len().saturating_sub(MOST_NIGHTS);
    html! {
        li.card {
            article {
                div {
                    h3 { (habit.rule.title) }
                    p.heard {
                        b.verdict { (habit.verdict.words()) } ", from "
                        (text::counted(habit.counted().len(), "session")) " and "
                        (text::counted(habit.rate.n_chances as usize, "chance"))
                    }
                    p { "Together: " (together(&habit.rate)) "." }
                    @if let Some(measure) = &habit.measure { p { "Its number: " (slope(measure)) "." } }
                    @if !habit.breaks.is_empty() {
                        ul.changes {
                            @for (nth, one) in habit.breaks.iter().enumerate() {
                                li {
                                    b { (letter(nth)) } ": new count from "
                                    (habit.dots.get(one.before).map_or("", |dot| dot.day.as_str()))
                                    ", " (because(one))
                                }
                            }
                        }
                    }
                    p.step { "To practise: " (habit.rule.exercise) }
                    (numbers(habit))
                }
                figure {
                    (nights(habit))
                    @if n_skipped > 0 { figcaption { "The last " (MOST_NIGHTS) " of " (habit.dots.len()) " sessions." } }
                }
            }
        }
    }
}

/// What the picture shows, as a table.
fn numbers(habit: &Habit) -> Markup {
    html! {
        details.numbers {
            summary { "Night by night" }
            div.wide {
                table {
                    thead { tr { th { "date" } th.n { "hits of chances" } th.n { "true share (95 %)" } th { "number" } } }
                    tbody {
                        @for dot in &habit.dots {
                            tr {
                                th { (dot.day) }
                                td.n { (dot.rate.n_hits) " of " (dot.rate.n_chances) }
                                td.n { (format!("{:.0} to {:.0} %", 100.0 * dot.rate.low_share, 100.0 * dot.rate.high_share)) }
                                td { @if let Some((name, value, unit)) = &dot.number { (name) " " (amount(*value, unit)) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// How to read the pictures.
fn reading() -> Markup {
    html! {
        section.how {
            h2 { "How to read this" }
            ul {
                li { "A dot is a session: how often it happened, of the times it could have. The bar through it is where the true share may lie (95 %): with few chances it is long." }
                li { "The level line is all sessions that count together. The grey line below is the number of the rule." }
                li { "At a dashed line the count starts anew: hall, line-up, tap or rule changed. Hollow dots lie before it and do not count." }
                li { "A change is named from 6 sessions on, and only where chance alone would hardly do it. After a bad evening the next is better anyway: one step says nothing." }
            }
        }
    }
}

fn foot(page: &Page<'_>) -> Markup {
    html! {
        footer {
            p {
                "There is no grade and no ranking here, and it is not for choosing, disciplining or paying anyone. "
                @if page.operator.is_some() { "What is counted under a label is personal: this page is for its owner and the mentor." }
            }
        }
    }
}
