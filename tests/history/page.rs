//! The page of habits as text: what it says, where its dots stand, what it never lets in and never asks for.

use deskside::coach;
use deskside::history::{Night, Selection, habits, recurring, topic, weeks};
use deskside::page::habits::page;
use deskside::report::habits::Page;

use super::{night, seen};

/// The page of some nights, for a label or for the team.
fn printed(nights: &[Night], operator: Option<&str>) -> String {
    let recurring = recurring(nights);
    let own: Vec<Night> = nights
        .iter()
        .filter(|night| operator.is_none() || night.record.operator.as_deref() == operator)
        .cloned()
        .collect();
    let selection = Selection { with_gear: operator.is_none(), ..Selection::default() };
    let habits = habits(&own, &selection, &recurring);
    let topic = topic(nights, &recurring, coach::is_starter);
    let dates = own.first().zip(own.last());
    page(&Page {
        operator,
        role: None,
        channel: None,
        n_sessions: own.len(),
        dates: dates.map(|(first, last)| (first.day.as_str(), last.day.as_str())),
        habits: &habits,
        recurring: &recurring,
        topic: topic.as_deref().filter(|_| operator.is_none()),
    })
}

/// The invented weeks, as they come back from a history; every session in a week of its own.
fn invented() -> Vec<Night> {
    let nights = (0..).zip(weeks());
    nights.map(|(week, record)| Night { day: record.date.clone().unwrap(), week, record }).collect()
}

/// The values of an attribute in the elements that hold a text.
fn values(html: &str, element: &str, attribute: &str) -> Vec<f64> {
    let start = format!(" {attribute}=\"");
    html.split(element)
        .skip(1)
        .map(|rest| rest.split(&start).nth(1).unwrap().split(['"', '%']).next().unwrap())
        .map(|value| value.parse().unwrap())
        .collect()
}

#[test]
fn it_says_what_was_counted_and_draws_a_dot_a_session() {
    let html = printed(&invented(), Some("wren"));
    for said in [
        "Habits of wren",
        "8 sessions, 2031-02-08 to 2031-03-29",
        "Channel opened late",
        "steadier",
        "from 8 sessions and 72 chances",
        "23 of 72: 32 % (22 to 43 %)",
        "latest entry -0.24 s a session",
        "2031-02-08 5 of 9; 2031-02-15 4 of 8",
        "(1 finding)",
    ] {
        assert!(html.contains(said), "`{said}`");
    }
    assert_eq!(html.matches("<circle class=\"dot\"").count(), 8);
    let place = values(&html, "<circle class=\"dot\"", "cx");
    assert!(place.is_sorted_by(|a, b| a < b), "from left to right: {place:?}");
    // 5 of 9 is more than 1 of 9: higher up is a smaller y.
    let y = values(&html, "<circle class=\"dot\"", "cy");
    assert!(y[0] < y[7] && (y[0] - y[7]).abs() > 20.0, "{y:?}");
    assert!(!html.contains("KB L"), "what comes back whoever operates is not wren's");
}

#[test]
fn the_bar_of_a_dot_reaches_as_far_as_its_interval() {
    // Wilson, 95 %: 1 of 4 is 0.05 to 0.70 (to two decimals, by hand).
    let nights = [night(1, "wren", vec![seen("cue-late", "LV", 1, 4)])];
    let html = printed(&nights, Some("wren"));
    let ends = ["y1", "y2"].map(|end| values(&html, "<line class=\"span\"", end)[0]);
    let grid = values(&html, "<line class=\"grid\"", "y1");
    let (zero, whole) = (grid[0], grid[2]);
    let share = |y: f64| (zero - y) / (zero - whole);
    assert!((share(ends[0]) - 0.70).abs() < 0.006, "high end {}", share(ends[0]));
    assert!((share(ends[1]) - 0.05).abs() < 0.006, "low end {}", share(ends[1]));
    assert!(html.contains("too early to say"));
}

#[test]
fn a_new_hall_is_marked_where_the_count_starts_anew() {
    let mut nights: Vec<Night> =
        (1..=7).map(|day| night(day, "wren", vec![seen("cue-late", "LV", 2, 4)])).collect();
    for night in &mut nights[3..] {
        night.record.place = Some("barn".to_owned());
    }
    let html = printed(&nights, Some("wren"));
    assert!(html.contains("<b>A</b>: new count from 2031-05-04, another hall"), "in words");
    assert_eq!(html.matches("class=\"dot past\"").count(), 3, "those before are hollow");
    let at = values(&html, "<line class=\"border\"", "x1")[0];
    let before = values(&html, "<circle class=\"dot past\"", "cx");
    let after = values(&html, "<circle class=\"dot\"", "cx");
    assert!(before[2] < at && at < after[0], "between the third and the fourth");
}

#[test]
fn the_teams_page_names_nobody_and_has_the_leads_part() {
    let html = printed(&invented(), None);
    for label in ["wren", "heron", "kestrel"] {
        assert!(!html.contains(label), "{label}");
    }
    assert!(html.contains("For the team lead: hall, gear, recording"));
    assert!(
        html.contains("<b>KB L</b>: hum or buzz, in 14 of 17 weeks"),
        "one week a session here"
    );
    let safety = coach::rule("hum-buzz").unwrap().safety.unwrap();
    assert!(html.contains(safety), "hum is told with how not to get hurt");
    assert!(html.contains("A topic for the next training evening"));
}

#[test]
fn no_name_becomes_markup_and_nothing_is_asked_of_a_network() {
    let bad = "<img src=x onerror=alert(1)>\u{202e}\"&";
    let mut nights: Vec<Night> = Vec::new();
    for (day, operator) in (1..).zip([bad, "heron", bad, "heron"]) {
        let mut one = seen("cue-late", bad, 1, 2);
        one.number = Some(bad.to_owned());
        one.value = Some(1.0);
        one.unit = Some(bad.to_owned());
        nights.push(night(day, operator, vec![one, seen("open-mics", "LV", day as u32 % 2, 2)]));
        nights[day - 1].day = bad.to_owned();
    }
    for operator in [Some(bad), None] {
        let html = printed(&nights, operator);
        assert!(!html.contains("<img") && !html.contains('\u{202e}'), "{operator:?}");
        assert!(html.contains("&lt;img"), "it is shown as text");
        let outside = ["http:", "https:", "//", "src=", "@import", "url(h"];
        for one in outside {
            assert!(!html.contains(one) || one == "src=", "`{one}` in the page");
        }
        assert_eq!(html.matches("src=").count(), html.matches("&lt;img src=").count());
        assert!(html.contains("default-src 'none'"), "and a browser is told so");
    }
}

#[test]
fn hundreds_of_nights_stay_readable() {
    let nights: Vec<Night> = (0..300)
        .map(|at| night(1 + at % 28, "wren", vec![seen("cue-late", "LV", at as u32 % 3, 4)]))
        .collect();
    let html = printed(&nights, Some("wren"));
    assert_eq!(html.matches("<circle class=\"dot").count(), 60, "the last ones");
    assert!(html.contains("The last 60 of 300 sessions."), "and it says so");
    let none = printed(&[night(1, "wren", vec![seen("cue-late", "LV", 0, 4)])], Some("wren"));
    assert!(none.contains("Nothing was off target."));
}
