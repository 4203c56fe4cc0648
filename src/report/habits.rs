//! Habits over months as text for a terminal, and as JSON.
//!
//! Takes what was counted, gives text. Shows every rate with its uncertainty and every change with the nights behind it; holds no
//! grade, no rank, and no label but the one that was asked for.

use std::fmt::Write as _;

use serde::Serialize;

use super::look::Look;
use super::{number, rounded, text};
use crate::coach;
use crate::history::{Break, Dot, Habit, Measure, Recurring};
use crate::trend::rate::Rate;
use crate::unit::Unit;

/// Name of the format: a renamed or removed key is a new one.
pub const SCHEMA: &str = "deskside-habits/1";

/// The most nights that a table lists.
const MOST_NIGHTS: usize = 12;

/// What a view of habits is made from.
#[derive(Clone, Debug)]
pub struct Page<'a> {
    /// The label that was asked for; none for the team.
    pub operator: Option<&'a str>,
    /// The role that was asked for.
    pub role: Option<&'a str>,
    /// The channel that was asked for.
    pub channel: Option<&'a str>,
    /// How many sessions were looked at.
    pub n_sessions: usize,
    /// Date of the first and the last.
    pub dates: Option<(&'a str, &'a str)>,
    /// The habits, most frequent first.
    pub habits: &'a [Habit],
    /// What comes back whoever operates.
    pub recurring: &'a [Recurring],
    /// Rule that a training evening could be about; for the team.
    pub topic: Option<&'a str>,
}

/// The view as text.
pub fn table(look: Look, page: &Page<'_>) -> String {
    let mut out = String::new();
    head(&mut out, look, page);
    if page.operator.is_none() {
        lead(&mut out, look, page);
    }
    let _ = writeln!(out, "\n{}", look.heading("Habits"));
    if page.habits.is_empty() {
        out.push_str(&text::paragraph("   ", "Nothing was off target.", look.width()));
    } else {
        rows(&mut out, look, page.habits);
        details(&mut out, look, page.habits);
        let foot = "Counts are hits of chances, night by night; a bar stands where hall, line-up, tap or rule changed and the \
                    count starts anew. In brackets: where the true share may lie (95 %). A change is named from 6 sessions on, \
                    and only where chance alone would hardly do it.";
        let _ = writeln!(out);
        out.push_str(&text::paragraph("   ", foot, look.width()));
    }
    if page.operator.is_some() && !page.recurring.is_empty() {
        let n_left = text::counted(page.recurring.len(), "finding");
        let line = format!(
            "What comes back whoever operates ({n_left}) is left out: it stands in the team's view, `deskside habits --team`."
        );
        let _ = writeln!(out);
        out.push_str(&text::paragraph("   ", &line, look.width()));
    }
    out
}

fn head(out: &mut String, look: Look, page: &Page<'_>) {
    let who = page.operator.map_or_else(|| "the team".to_owned(), text::plain);
    let _ =
        writeln!(out, "{}", look.heading(&text::fitted(&format!("Habits of {who}"), look.width())));
    let mut line = text::counted(page.n_sessions, "session");
    if let Some((first, last)) = page.dates {
        let _ = write!(line, ", {} to {}", text::plain(first), text::plain(last));
    }
    for only in [page.role, page.channel].into_iter().flatten() {
        let _ = write!(line, "; {} only", text::plain(only));
    }
    out.push_str(&text::paragraph("", &line, look.width()));
}

/// What the lead needs: gear and hall, and what to train.
fn lead(out: &mut String, look: Look, page: &Page<'_>) {
    if !page.recurring.is_empty() {
        let _ = writeln!(out, "\n{}", look.heading("Whoever operates: hall, gear, recording"));
        for one in page.recurring {
            let channel = if one.channel.is_empty() { "the session" } else { &one.channel };
            let line = format!(
                "{}: {}, in {} of {} weeks, whoever operates ({})",
                text::plain(channel),
                text::lowered(title(&one.rule)),
                one.n_weeks_hit,
                one.n_weeks,
                one.rule
            );
            out.push_str(&text::paragraph(" - ", &line, look.width()));
        }
    }
    if let Some(topic) = page.topic {
        let _ = writeln!(out, "\n{}", look.heading("A topic for the next training evening"));
        let line = format!("{} (deskside explain {topic})", title(topic));
        out.push_str(&text::paragraph(" > ", &line, look.width()));
    }
}

/// What a rule finds, in a few words; its id where this program does not know it.
pub fn title(rule: &str) -> &str {
    coach::rule(rule).map_or(rule, |rule| rule.title)
}

fn rows(out: &mut String, look: Look, habits: &[Habit]) {
    let mut table = look.table();
    table.set_header(["", "night by night", "together", "change"]);
    for habit in habits {
        table.add_row([
            look.strong(habit.rule.title),
            comfy_table::Cell::new(nights(habit)),
            comfy_table::Cell::new(together(&habit.rate)),
            look.accent(habit.verdict.words()),
        ]);
    }
    let _ = writeln!(out, "{}", table.trim_fmt());
}

/// Hits of chances, oldest first: `5/9 4/8 | 3/9`.
fn nights(habit: &Habit) -> String {
    let skipped = habit.dots.len().saturating_sub(MOST_NIGHTS);
    let mut words: Vec<String> = Vec::new();
    if skipped > 0 {
        words.push("…".to_owned());
    }
    for (idx, dot) in habit.dots.iter().enumerate().skip(skipped) {
        if habit.breaks.iter().any(|one| one.before == idx) {
            words.push("|".to_owned());
        }
        words.push(format!("{}/{}", dot.rate.n_hits, dot.rate.n_chances));
    }
    words.join(" ")
}

/// A rate with its uncertainty: `23 of 72: 32 % (22 to 43 %)`.
pub fn together(rate: &Rate) -> String {
    let percent = |share: f64| number::bare(100.0 * share, Unit::Percent);
    format!(
        "{} of {}: {} % ({} to {} %)",
        rate.n_hits,
        rate.n_chances,
        percent(rate.share),
        percent(rate.low_share),
        percent(rate.high_share)
    )
}

/// What stands behind each line: nights, chances, the number, and what changed.
fn details(out: &mut String, look: Look, habits: &[Habit]) {
    let _ = writeln!(out);
    for habit in habits {
        let n_counted = text::counted(habit.counted().len(), "session");
        let mut line = format!(
            "{}, from {n_counted} and {}",
            habit.verdict.words(),
            text::counted(habit.rate.n_chances as usize, "chance")
        );
        if let Some(measure) = &habit.measure {
            let _ = write!(line, "; {}", slope(measure));
        }
        for one in &habit.breaks {
            let day = habit.dots.get(one.before).map_or("", |dot| dot.day.as_str());
            let _ = write!(line, "; new count from {day}: {}", because(one));
        }
        out.push_str(&text::paragraph(
            &format!(" {}: ", habit.rule.id),
            &format!("{line}."),
            look.width(),
        ));
    }
}

/// What the number of a rule does from session to session.
pub fn slope(measure: &Measure) -> String {
    let Measure { name, unit, n_nights: _, slope } = measure;
    let step = |value: f64| format!("{}{value:.2}", if value > 0.0 { "+" } else { "" });
    let unit = if unit == "count" { String::new() } else { format!(" {unit}") };
    format!(
        "{name} {}{unit} a session ({} to {})",
        step(slope.per_session),
        step(slope.low_per_session),
        step(slope.high_per_session)
    )
}

/// Why a count starts anew.
pub fn because(one: &Break) -> String {
    let changes: Vec<String> = one.changes.iter().map(|change| change.words().to_owned()).collect();
    text::listed(&changes)
}

/// A number of a rule with its unit, as it was stored.
pub fn amount(value: f64, unit: &str) -> String {
    let unit = if unit == "count" { String::new() } else { format!(" {unit}") };
    format!("{value:.1}{unit}")
}

/// The sign of a new count in a picture: A, B, C.
pub fn letter(nth: usize) -> char {
    (b'A'..=b'Z').cycle().nth(nth).map_or('A', char::from)
}

/// The view as JSON, indented, with a line break at its end.
///
/// # Panics
///
/// Never: the view holds no map whose keys are not text.
pub fn json(page: &Page<'_>) -> String {
    rounded::text(&Document::new(page)).expect("a view is plain data")
}

#[derive(Serialize)]
struct Document<'a> {
    schema: &'static str,
    operator: Option<&'a str>,
    role: Option<&'a str>,
    channel: Option<&'a str>,
    n_sessions: usize,
    first: Option<&'a str>,
    last: Option<&'a str>,
    habits: Vec<HabitJson<'a>>,
    whoever_operates: Vec<RecurringJson<'a>>,
    training_topic: Option<&'a str>,
}

#[derive(Serialize)]
struct HabitJson<'a> {
    rule: &'a str,
    title: &'a str,
    verdict: &'a str,
    n_sessions: usize,
    n_hits: u32,
    n_chances: u32,
    share: f64,
    low_share: f64,
    high_share: f64,
    trend: Option<TrendJson>,
    measure: Option<MeasureJson<'a>>,
    nights: Vec<NightJson<'a>>,
    new_counts: Vec<BreakJson<'a>>,
}

#[derive(Serialize)]
struct TrendJson {
    s_count: i64,
    n_pairs: i64,
    chance_share: f64,
    chance_together_share: Option<f64>,
}

#[derive(Serialize)]
struct MeasureJson<'a> {
    name: &'a str,
    n_sessions: usize,
    per_session: StepJson<'a>,
}

#[derive(Serialize)]
struct StepJson<'a> {
    value: f64,
    low: f64,
    high: f64,
    unit: &'a str,
}

#[derive(Serialize)]
struct NightJson<'a> {
    date: &'a str,
    n_hits: u32,
    n_chances: u32,
    low_share: f64,
    high_share: f64,
    number: Option<NumberJson<'a>>,
}

#[derive(Serialize)]
struct NumberJson<'a> {
    name: &'a str,
    value: f64,
    unit: &'a str,
}

#[derive(Serialize)]
struct BreakJson<'a> {
    from: &'a str,
    because: Vec<&'static str>,
}

#[derive(Serialize)]
struct RecurringJson<'a> {
    rule: &'a str,
    title: &'a str,
    channel: &'a str,
    n_sessions_hit: usize,
    n_sessions: usize,
    n_weeks_hit: usize,
    n_weeks: usize,
    n_labels: usize,
}

impl<'a> Document<'a> {
    fn new(page: &Page<'a>) -> Self {
        // What comes back whoever operates is the lead's.
        let recurring = if page.operator.is_none() { page.recurring } else { &[] };
        Self {
            schema: SCHEMA,
            operator: page.operator,
            role: page.role,
            channel: page.channel,
            n_sessions: page.n_sessions,
            first: page.dates.map(|(first, _)| first),
            last: page.dates.map(|(_, last)| last),
            habits: page.habits.iter().map(HabitJson::new).collect(),
            whoever_operates: recurring
                .iter()
                .map(|one| RecurringJson {
                    rule: &one.rule,
                    title: title(&one.rule),
                    channel: &one.channel,
                    n_sessions_hit: one.n_nights_hit,
                    n_sessions: one.n_nights,
                    n_weeks_hit: one.n_weeks_hit,
                    n_weeks: one.n_weeks,
                    n_labels: one.n_labels,
                })
                .collect(),
            training_topic: page.topic,
        }
    }
}

impl<'a> HabitJson<'a> {
    fn new(habit: &'a Habit) -> Self {
        let Rate { n_hits, n_chances, share, low_share, high_share } = habit.rate;
        Self {
            rule: habit.rule.id,
            title: habit.rule.title,
            verdict: habit.verdict.words(),
            n_sessions: habit.counted().len(),
            n_hits,
            n_chances,
            share,
            low_share,
            high_share,
            trend: habit.trend.map(|trend| TrendJson {
                s_count: trend.s,
                n_pairs: trend.n_pairs,
                chance_share: trend.p,
                chance_together_share: habit.p_together,
            }),
            measure: habit.measure.as_ref().map(|measure| MeasureJson {
                name: &measure.name,
                n_sessions: measure.n_nights,
                per_session: StepJson {
                    value: measure.slope.per_session,
                    low: measure.slope.low_per_session,
                    high: measure.slope.high_per_session,
                    unit: &measure.unit,
                },
            }),
            nights: habit.dots.iter().map(NightJson::new).collect(),
            new_counts: habit
                .breaks
                .iter()
                .filter_map(|one| {
                    let from = habit.dots.get(one.before)?.day.as_str();
                    let because = one.changes.iter().map(|change| change.words()).collect();
                    Some(BreakJson { from, because })
                })
                .collect(),
        }
    }
}

impl<'a> NightJson<'a> {
    fn new(dot: &'a Dot) -> Self {
        Self {
            date: &dot.day,
            n_hits: dot.rate.n_hits,
            n_chances: dot.rate.n_chances,
            low_share: dot.rate.low_share,
            high_share: dot.rate.high_share,
            number: dot.number.as_ref().map(|(name, value, unit)| NumberJson {
                name,
                value: *value,
                unit,
            }),
        }
    }
}
