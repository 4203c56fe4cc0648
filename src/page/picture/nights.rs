//! A habit night by night: how often it happened with where the true share may lie, where the count starts anew, and the number of
//! the rule below.

use maud::{Markup, html};

use super::plot::{Across, percent, pixels};
use crate::history::{Dot, Habit};
use crate::report::habits::{amount, letter};
use crate::report::number;
use crate::unit::Unit;

/// More nights than these run into each other on a phone: the last ones are drawn.
pub(in crate::page) const MOST_NIGHTS: usize = 60;

/// Where nights begin and end, in hundredths of the width.
const LEFT: f64 = 17.0;
const RIGHT: f64 = 97.0;

/// Heights, in pixels: room for the marks of new counts, the shares, the dates, the number with its name above it.
const TOP: f64 = 44.0;
const SHARES: f64 = 130.0;
const DATES: f64 = 26.0;
const NAME: f64 = 22.0;
const NUMBERS: f64 = 46.0;

/// Marks that are nearer to each other stand in two rows, in hundredths of the width.
const MARK_PERCENT: f64 = 8.0;

/// Height of a share of chances, in pixels from the top.
fn share_y(share: f64) -> String {
    pixels(TOP + SHARES * (1.0 - share))
}

/// The drawing.
pub(in crate::page) fn nights(habit: &Habit) -> Markup {
    let skipped = habit.dots.len().saturating_sub(MOST_NIGHTS);
    let dots = &habit.dots[skipped..];
    #[expect(clippy::cast_precision_loss, reason = "nights are few")]
    let last = dots.len().saturating_sub(1).max(1) as f64;
    let across = Across::new(0.0, last, LEFT + 2.0, RIGHT - 2.0);
    let numbers = Numbers::of(dots);
    let foot = TOP + SHARES + DATES;
    let whole = foot + if numbers.is_some() { NAME + NUMBERS + 8.0 } else { 0.0 };
    let first_counted = (habit.dots.len() - habit.counted().len()).max(skipped) - skipped;
    html! {
        svg.pic role="img" aria-label=(label(habit, dots)) width="100%" height=(pixels(whole)) {
            (grid(dots, across))
            (new_counts(habit, skipped, across, whole))
            (together(habit, first_counted, across))
            @for (idx, dot) in dots.iter().enumerate() {
                @let x = at(across, idx);
                @let past = if idx < first_counted { " past" } else { "" };
                line class={ "span" (past) } x1=(x) x2=(x) y1=(share_y(dot.rate.high_share)) y2=(share_y(dot.rate.low_share)) {}
                circle class={ "dot" (past) } cx=(x) cy=(share_y(dot.rate.share)) r="4.5" {}
            }
            @if let Some(numbers) = &numbers { (numbers.drawn(across, foot + NAME)) }
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "nights are few")]
fn at(across: Across, idx: usize) -> String {
    across.at(idx as f64)
}

/// Shares at the left, dates below.
fn grid(dots: &[Dot], across: Across) -> Markup {
    let last = dots.len() - 1;
    // A third date would run into these on a phone.
    let named = if last == 0 { vec![(0, "start")] } else { vec![(0, "start"), (last, "end")] };
    html! {
        @for share in [0.0, 0.5, 1.0] {
            line.grid x1=(percent(LEFT)) x2=(percent(RIGHT)) y1=(share_y(share)) y2=(share_y(share)) {}
            svg x=(percent(LEFT)) y=(share_y(share)) width="1" height="1" overflow="visible" {
                text.tick x="-5" y="4" text-anchor="end" { (number::tick(100.0 * share, Unit::Percent)) }
            }
        }
        @for (idx, anchor) in named {
            text.tick x=(at(across, idx)) y=(pixels(TOP + SHARES + 18.0)) text-anchor=(anchor) { (dots[idx].day) }
        }
    }
}

/// Where the count starts anew: a line with a letter, which the words beside the drawing explain.
fn new_counts(habit: &Habit, skipped: usize, across: Across, whole: f64) -> Markup {
    let mut last_percent = f64::NEG_INFINITY;
    let mut is_low = false;
    let mut marks = Vec::new();
    for (nth, one) in habit.breaks.iter().enumerate() {
        let Some(idx) = one.before.checked_sub(skipped).filter(|idx| *idx > 0) else { continue };
        #[expect(clippy::cast_precision_loss, reason = "nights are few")]
        let place_percent = across.percent(idx as f64 - 0.5);
        is_low = place_percent - last_percent < MARK_PERCENT && !is_low;
        last_percent = place_percent;
        marks.push((percent(place_percent), if is_low { 29.0 } else { 10.0 }, letter(nth)));
    }
    html! {
        @for (x, y, letter) in &marks {
            line.border x1=(x) x2=(x) y1=(pixels(*y)) y2=(pixels(whole)) {}
            circle.pin cx=(x) cy=(pixels(*y)) r="9" {}
            text.pin-word x=(x) y=(pixels(y + 4.0)) text-anchor="middle" { (letter) }
        }
    }
}

/// The share of all nights that count together.
fn together(habit: &Habit, first_counted: usize, across: Across) -> Markup {
    let n_counted = habit.counted().len().min(MOST_NIGHTS);
    let y = share_y(habit.rate.share);
    html! {
        @if n_counted > 1 {
            line.mean x1=(at(across, first_counted)) x2=(at(across, first_counted + n_counted - 1)) y1=(y) y2=(y) {}
        }
    }
}

/// The number of the rule: one that most nights have, at its places.
struct Numbers<'a> {
    name: &'a str,
    unit: &'a str,
    values: Vec<(usize, f64)>,
}

impl<'a> Numbers<'a> {
    /// The number that the last night has, where two nights or more have it.
    fn of(dots: &'a [Dot]) -> Option<Self> {
        let (name, _, unit) = dots.iter().rev().find_map(|dot| dot.number.as_ref())?;
        let value = |dot: &Dot| {
            dot.number.as_ref().filter(|(own, _, _)| own == name).map(|(_, value, _)| *value)
        };
        let values: Vec<(usize, f64)> =
            dots.iter().enumerate().filter_map(|(idx, dot)| Some((idx, value(dot)?))).collect();
        (values.len() > 1).then_some(Self { name, unit, values })
    }

    fn drawn(&self, across: Across, top: f64) -> Markup {
        let values = || self.values.iter().map(|(_, value)| *value);
        let (low, high) =
            (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max));
        let is_level = high - low < 1e-9;
        let y = |value: f64| {
            let share = if is_level { 0.5 } else { (value - low) / (high - low) };
            pixels(top + NUMBERS * (1.0 - share))
        };
        let ends = if is_level { vec![low] } else { vec![low, high] };
        html! {
            text.tick x=(percent(LEFT)) y=(pixels(top - 10.0)) { (self.name) }
            @for end in ends {
                svg x=(percent(LEFT)) y=(y(end)) width="1" height="1" overflow="visible" {
                    text.tick x="-5" y="4" text-anchor="end" { (amount(end, self.unit)) }
                }
            }
            @for pair in self.values.windows(2) {
                @let [(from, before), (to, after)] = [pair[0], pair[1]];
                line.measure x1=(at(across, from)) x2=(at(across, to)) y1=(y(before)) y2=(y(after)) {}
            }
        }
    }
}

/// What the drawing shows, for those who don't see it.
fn label(habit: &Habit, dots: &[Dot]) -> String {
    let told: Vec<String> = dots
        .iter()
        .map(|dot| format!("{} {} of {}", dot.day, dot.rate.n_hits, dot.rate.n_chances))
        .collect();
    format!("{}, night by night: {}.", habit.rule.title, told.join("; "))
}
