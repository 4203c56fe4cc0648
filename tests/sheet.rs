//! Sheets from stored reviews: what they hold, what marks change, what never gets in.

use deskside::coach::{
    Advice, Mark, Marks, Sheet, SheetError, Step, Stored, Verdict, Wanted, line_card,
};
use deskside::page;
use deskside::reading::Reading;
use deskside::report::json::{Review, SCHEMA};
use deskside::report::sheet;
use deskside::session::Role;
use deskside::unit::{Fact, Unmeasured};
use serde_json::Value;

use crate::page::{advise, rehearsal};
use crate::support::readings::{channel, session};

/// A review as it is read back from its text.
pub(crate) fn stored(reading: &Reading) -> Stored {
    let advice = advise(reading);
    Stored::read(&Review::new(reading, &advice).to_json(), SCHEMA).unwrap()
}

fn sheet_of<'a>(stored: &'a Stored, marks: &'a Marks) -> Sheet<'a> {
    Sheet::new(stored, marks, &[], "Sit closer to the stage.\n\nBring\nthe list.").unwrap()
}

fn marked(stored: &Stored, at: usize, mark: Verdict) -> Marks {
    let note = &stored.notes[at];
    let mut marks = Marks::default();
    marks.set(Mark {
        rule: note.rule.id.to_owned(),
        channels: note.names(&stored.reading),
        mark,
        comment: "said by owl".to_owned(),
    });
    marks
}

fn wanted(rule: &str, channel: Option<&str>) -> Wanted {
    Wanted { rule: rule.to_owned(), channel: channel.map(str::to_owned) }
}

#[test]
fn a_review_is_read_back_as_it_was_written() {
    let reading = rehearsal();
    let text = Review::new(&reading, &advise(&reading)).to_json();
    let stored = Stored::read(&text, SCHEMA).unwrap();
    let written: Value = serde_json::from_str(&text).unwrap();
    let again = |value: Value| -> Value { serde_json::from_str(&value.to_string()).unwrap() };
    for (key, notes) in
        [("notes", &stored.notes), ("mentor", &stored.mentor), ("lead", &stored.lead)]
    {
        assert_eq!(again(serde_json::to_value(notes).unwrap()), written[key], "{key}");
    }
    assert_eq!(stored.judged.len(), written["observations"].as_array().unwrap().len());
    assert_eq!(stored.reading.channels.len(), reading.channels.len());
    assert!(stored.unknown.is_empty(), "{:?}", stored.unknown);
}

#[test]
fn what_is_no_review_is_refused_in_a_clause() {
    let text = Review::new(&rehearsal(), &advise(&rehearsal())).to_json();
    for (text, word) in [
        ("# notes".to_owned(), "no review"),
        ("{\"schema\": 3}".to_owned(), "no review"),
        (text.replace(SCHEMA, "deskside-review/99"), "deskside-review/99"),
        ("{\"schema\": \"deskside-review/1\"}".to_owned(), "another version"),
        (text[..text.len() / 2].to_owned(), "no review"),
    ] {
        let error = Stored::read(&text, SCHEMA).unwrap_err();
        assert!(error.contains(word), "`{word}` in: {error}");
    }
}

#[test]
fn a_rule_of_another_version_is_left_out_and_named() {
    let text = Review::new(&rehearsal(), &advise(&rehearsal())).to_json();
    let other = text.replace("\"rule\": \"cue-late\"", "\"rule\": \"cue-soon\"");
    let stored = Stored::read(&other, SCHEMA).unwrap();
    assert_eq!(stored.unknown, ["cue-soon"], "named once");
    assert!(stored.findings().all(|note| note.rule.id != "cue-late"), "and left out");
}

#[test]
fn a_sheet_holds_notes_words_a_strength_a_step_an_exercise_and_a_question() {
    let stored = stored(&rehearsal());
    let marks = Marks::default();
    let sheet = sheet_of(&stored, &marks);
    assert_eq!(sheet.notes.len(), stored.notes.len(), "those that the operator got");
    let first = stored.notes.first().unwrap();
    let Step { goal, exercise, question, .. } = sheet.step().unwrap();
    let unescaped = |text: &str| text.replace('\\', "");
    for (form, text) in
        [("Markdown", unescaped(&sheet::feedback(&sheet))), ("page", page::feedback(&sheet))]
    {
        for note in &stored.notes {
            for said in [note.title, note.sentence.as_str(), note.why, note.advice[0].as_str()] {
                assert!(text.contains(said), "{form}: `{said}`");
            }
        }
        for said in [goal.as_str(), exercise, question, first.rule.exercise, "Bring the list."] {
            assert!(text.contains(said), "{form}: `{said}`");
        }
        if let Some(strength) = sheet.strength() {
            assert!(text.contains(strength), "{form}: the strength");
        }
        for word in ["score", "grade", "◆"] {
            assert!(!text.contains(word), "{form}: `{word}`");
        }
    }
}

#[test]
fn marks_put_notes_aside_and_a_wish_brings_them_back() {
    let stored = stored(&rehearsal());
    let first = stored.notes[0].rule.id;
    let has = |marks: &Marks, wanted: &[Wanted]| {
        let sheet = Sheet::new(&stored, marks, wanted, "").unwrap();
        (sheet.notes.iter().any(|one| one.note.rule.id == first), sheet::feedback(&sheet))
    };
    for verdict in [Verdict::DoesNotFit, Verdict::OnPurpose, Verdict::NotOurs] {
        let marks = marked(&stored, 0, verdict);
        let (is_there, text) = has(&marks, &[]);
        assert!(!is_there, "{verdict:?}");
        assert!(!text.contains("said by owl"), "the comment was for the mentor");
        assert!(has(&marks, &[wanted(first, None)]).0, "asked for by name");
    }
    let (is_there, text) = has(&marked(&stored, 0, Verdict::Fits), &[]);
    assert!(is_there && text.contains("From the mentor: said by owl"), "{text}");
}

#[test]
fn findings_of_all_parts_can_be_asked_for_and_strangers_are_named() {
    let stored = stored(&rehearsal());
    let marks = Marks::default();
    let other = stored.findings().find(|note| note.channels.len() == 1).unwrap();
    let name = &other.names(&stored.reading)[0];
    let one = wanted(other.rule.id, Some(&name.to_uppercase()));
    let sheet = Sheet::new(&stored, &marks, &[one.clone(), one], "").unwrap();
    assert_eq!(sheet.notes.len(), 1, "once, however often it is asked for");
    assert_eq!(sheet.notes[0].note.rule.id, other.rule.id);
    let error =
        Sheet::new(&stored, &marks, &[wanted("voice-buried", Some("Tuba"))], "").unwrap_err();
    assert!(error.to_string().contains("voice-buried@Tuba"), "{error}");
    assert!(error.hint().contains("voice-buried"), "{}", error.hint());
    let mut ids: Vec<&str> = stored.findings().map(|note| note.rule.id).collect();
    ids.dedup();
    ids.truncate(6);
    if ids.len() == 6 {
        let all: Vec<Wanted> = ids.iter().map(|id| wanted(id, None)).collect();
        let error = Sheet::new(&stored, &marks, &all, "").unwrap_err();
        assert_eq!(error, SheetError::TooMany { n_notes: 6 });
    }
}

#[test]
fn a_name_from_outside_never_becomes_markup_on_a_sheet() {
    const BAD: &str = "<script>alert(1)</script>\" onload=\"x' <img src=http://b>\u{202e}\u{7}";
    let mut reading = rehearsal();
    reading.session.name = BAD.to_owned();
    reading.channels.iter_mut().for_each(|channel| channel.name = BAD.to_owned());
    reading.segments.iter_mut().for_each(|segment| segment.title = BAD.to_owned());
    let stored = stored(&reading);
    let marks = marked(&stored, 0, Verdict::Fits);
    let sheet = Sheet::new(&stored, &marks, &[], BAD).unwrap();
    let card = line_card(&stored);
    let texts = [
        page::feedback(&sheet),
        page::leads(&stored),
        page::line_check(&stored, &card),
        sheet::feedback(&sheet),
        sheet::leads(&stored),
        sheet::line_check(&stored, &card),
    ];
    for text in texts {
        for tag in ["<script", "<img"] {
            assert!(!text.contains(tag), "`{tag}` in {text}");
        }
        let is_page = text.starts_with("<!DOCTYPE");
        assert!(!is_page || !text.contains("\" onload=\""), "no attribute is broken out of");
        assert!(text.contains("&lt;script&gt;"), "the name is shown as a name");
        assert!(!text.contains('\u{7}') && !text.contains('\u{202e}'), "nothing acts on a screen");
    }
}

#[test]
fn the_leads_page_keeps_what_was_said_to_the_operator() {
    let mut stored = stored(&rehearsal());
    let repair = stored.notes.pop().unwrap();
    let sentence = repair.sentence.clone();
    stored.lead.push(repair);
    for text in [sheet::leads(&stored), page::leads(&stored)] {
        assert!(text.replace('\\', "").contains(&sentence), "the repair stands there");
        for note in &stored.notes {
            assert!(!text.contains(&note.sentence), "`{}` is the operator's", note.sentence);
        }
    }
}

#[test]
fn the_line_check_card_lists_inputs_with_what_to_turn() {
    // A rise is at most 12 dB, and what leaves the top peak at -12 dBFS (common practice).
    let mut low = channel(17, Role::LeadVocal);
    low.loud_level_dbfs = Fact::exact(-40.0);
    low.top_peak_dbfs = Fact::exact(-30.0);
    let mut near = channel(18, Role::LeadVocal);
    near.loud_level_dbfs = Fact::exact(-40.0);
    near.top_peak_dbfs = Fact::exact(-17.0);
    let mut main = channel(26, Role::Main);
    main.name = "Main L".to_owned();
    let mut silent = channel(3, Role::Keys);
    silent.loud_level_dbfs = Fact::missing(Unmeasured::Silent);
    let stored = stored(&session(vec![silent, low, near, main]));
    let card = line_card(&stored);
    let numbers: Vec<usize> = card.strips.iter().map(|strip| strip.channel.number).collect();
    assert_eq!(numbers, [3, 17, 18], "inputs only, in desk order");
    let gains: Vec<String> = card.strips.iter().map(sheet::gain).collect();
    assert_eq!(gains, ["", "up 12 dB", "up 5 dB"]);
    assert!(card.strips[0].was_missed, "not heard alone in the last line check");
    let text = sheet::line_check(&stored, &card);
    assert!(text.contains("fader and sends down first"), "the order that spares ears: {text}");
    assert!(page::line_check(&stored, &card).contains("up 12 dB"), "the page has it too");
}

#[test]
fn the_pieces_of_the_page_make_the_same_sheet() {
    let reading = rehearsal();
    let advice: Advice = advise(&reading);
    let strength = advice.strengths.first().map(|strength| strength.sentence.as_str());
    let pieces = sheet::pieces(&reading, &advice.safety_lines, strength, &advice.notes);
    let mut stored = stored(&reading);
    stored.notes.iter_mut().for_each(|note| note.excerpts.clear());
    let marks = Marks::default();
    let whole = sheet::feedback(&Sheet::new(&stored, &marks, &[], "").unwrap());
    let mut words = pieces.head_words.clone();
    let mut text = pieces.head.clone();
    for (at, piece) in pieces.notes.iter().enumerate() {
        text.push_str(&format!("### {}. {}\n\n{}\n", at + 1, piece.title, piece.body));
        words.extend(&piece.words);
    }
    text.push_str(&pieces.notes[0].step);
    words.extend(&pieces.notes[0].step_words);
    text.push_str("## Words\n\n");
    let listed = pieces.words.iter().filter(|entry| words.contains(&entry.word));
    listed.for_each(|entry| text.push_str(&entry.line));
    text.push('\n');
    text.push_str(&pieces.foot);
    assert_eq!(text, whole, "the browser puts together what the program writes");
}
