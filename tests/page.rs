//! The page as text: what it says, what it never lets in, what it never asks for, and how large it gets.

use deskside::coach::{self, Advice, Aims, Excerpt, Mark, Marks, Options, Verdict};
use deskside::page::{Page, page};
use deskside::reading::{DecayFrom, Entry, Howl, OctaveDecay, Processing, Reading, Ring, Ringing};
use deskside::session::{Role, Tap};
use deskside::unit::{Fact, Span, Unmeasured};

use crate::support::evening;
use crate::support::readings::{channel, mixed, processing, sound_levels, spilled, with_room};

/// The most that the page may take for an hour of 32 channels, in bytes.
const MOST_BYTES: usize = 1_500_000;

/// An evening in the mix with a host who is opened late, a buried voice, a rumbling fiddle, and spill.
pub(crate) fn rehearsal() -> Reading {
    let roles = [
        (12, Role::ElectricGuitar),
        (15, Role::Strings),
        (17, Role::LeadVocal),
        (21, Role::Speech),
    ];
    let mut reading = mixed(roles.map(|(number, role)| channel(number, role)).to_vec());
    let pair = spilled(&reading.channels[0], &reading.channels[2], -7.4);
    reading.pairs.push(pair);
    let mix = reading.mix.as_mut().unwrap();
    mix.channels[3].entries = vec![Entry { at_s: 56.6, late_s: Fact::sure(1.4, 0.9) }];
    mix.channels[3].on = vec![Span::new(58.0, 600.0)];
    if let Some(tone) = &mut mix.channels[1].tone {
        tone.below_corner_db = Fact::sure(-8.0, 0.9);
    }
    for lead in mix.songs.iter_mut().flat_map(|song| &mut song.leads) {
        lead.over_rest_lu = Fact::sure(-9.0, 0.9);
        lead.over_rest_each_second_lu =
            (0..148).map(|at| (at % 5 > 0).then_some(-9.0 + 0.1 * f64::from(at))).collect();
    }
    reading
}

pub(crate) fn advise(reading: &Reading) -> Advice {
    let mut advice = coach::coach(reading, &Aims::default(), &Options::default());
    for note in advice.notes.iter_mut().take(1) {
        let span = Span::new(130.0, 136.0);
        let passage = |name: &str, change: Option<&str>| Excerpt {
            file: format!("excerpts/01-{name}.wav"),
            span,
            change: change.map(str::to_owned),
        };
        note.excerpts = vec![passage("as-it-was", None), passage("changed", Some("LV 3 dB up"))];
    }
    advice
}

fn printed(reading: &Reading) -> String {
    page(&Page { reading, advice: &advise(reading), marks: &Marks::default() })
}

/// The values of an attribute.
fn values<'a>(html: &'a str, attribute: &str) -> Vec<&'a str> {
    let start = format!(" {attribute}=\"");
    html.split(&start).skip(1).filter_map(|rest| rest.split('"').next()).collect()
}

/// A text as HTML writes it.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[test]
fn the_page_says_all_that_the_notes_say() {
    let reading = rehearsal();
    let advice = advise(&reading);
    let html = printed(&reading);
    assert!(advice.notes.len() >= 3, "three cards are filled");
    assert_eq!(html.matches("<li class=\"card\">").count(), advice.notes.len(), "a card a note");
    for note in advice.notes.iter().chain(&advice.mentor).chain(&advice.lead) {
        for said in [note.title, &note.sentence, note.why, note.rule.question, note.rule.fooled_by]
        {
            assert!(html.contains(&escaped(said)), "{}: `{said}`", note.rule.id);
        }
        for step in &note.advice {
            assert!(html.contains(&escaped(step)), "{}: `{step}`", note.rule.id);
        }
    }
    let focus = advice.focus.unwrap();
    assert!(html.contains(&escaped(focus.exercise)), "the focus");
    for strength in &advice.strengths {
        assert!(html.contains(&escaped(&strength.sentence)), "the strength");
    }
}

#[test]
fn the_operators_cards_carry_no_verdict() {
    let html = printed(&rehearsal());
    let (operator, behind) = html.split_once("class=\"part behind\"").unwrap();
    let cards = operator.split_once("<main>").unwrap().1;
    for word in ["◆", "◇", "outside", "score", "grade"] {
        assert!(!cards.contains(word), "`{word}` is for the mentor");
    }
    assert!(behind.contains("◆ outside"), "the mentor sees how far off");
}

#[test]
fn a_picture_is_drawn_where_its_data_are_and_only_there() {
    let reading = rehearsal();
    let html = printed(&reading);
    for part in [
        "class=\"stem off\"",
        "class=\"hatched\"",
        "S sounds",
        "class=\"matrix\"",
        "class=\"pic stage\"",
        "class=\"pic evening\"",
    ] {
        assert!(html.contains(part), "`{part}`");
    }
    let alone = Reading { mix: None, main: None, pairs: Vec::new(), ..reading };
    let html = printed(&alone);
    for part in ["class=\"stem", "class=\"hatched\"", "class=\"matrix\"", "class=\"pic stage\""] {
        assert!(!html.contains(part), "`{part}` without a mix");
    }
}

/// A hall that rings long and was too loud, a voice that howled, and one that is pressed.
fn loud_evening() -> Reading {
    let mut reading = with_room(|room| {
        room.decay_s = Fact::sure(1.8, 0.93);
        room.sound = Some(sound_levels(Fact::sure(99.0, 0.8), 96.0));
    });
    // Both sides of the processing, as a desk records them: the note names the side before it.
    let voice = channel(17, Role::LeadVocal);
    let mut behind = channel(29, Role::LeadVocal);
    behind.tap = Tap::Processed;
    behind.processing = Some(Processing {
        loud_reduction_db: Fact::sure(14.0, 0.95),
        reduction_db: (0..120).map(|step| f64::from(step % 15)).collect(),
        ..processing(&voice)
    });
    reading.channels.extend([voice, behind]);
    reading.channels.push(channel(21, Role::Speech));
    reading.feedback.looked_at = vec!["ch21".to_owned()];
    reading.feedback.howls = vec![Howl {
        channel: "ch21".to_owned(),
        heard_in: vec!["ch21".to_owned()],
        span: Span::new(391.0, 391.8),
        frequency_hz: 2500.0,
        peak_dbfs: -12.0,
        over_programme_db: 8.0,
        growth_db_per_s: 50.0,
        confidence: 0.9,
    }];
    reading
}

#[test]
fn howls_decay_and_reduction_are_drawn() {
    let html = printed(&loud_evening());
    for part in [
        "aria-label=\"The hall takes 1.8 s to fall by 60 dB. Recommended for speech",
        "aria-label=\"Tones of 21 speech 21: 2500 Hz (D sharp 7), 0.8 s.\"",
        "aria-label=\"Gain reduction of 17 lead vocal 17 over",
        "howl of 0.8 s at 2500 Hz, from speech 21",
        "class=\"howl\"",
    ] {
        assert!(html.contains(part), "`{part}`");
    }
    assert!(html.contains("Safety first"), "the agreed level was passed");
    assert!(html.contains("About 99 dB(A) over 15 minutes"), "how loud it was");
}

#[test]
fn every_picture_has_words_for_those_who_do_not_see_it() {
    let html = printed(&rehearsal());
    let pictures: Vec<&str> = html.split("<svg class=\"pic").skip(1).collect();
    assert!(pictures.len() >= 5, "{} pictures", pictures.len());
    for picture in pictures {
        let head = picture.split('>').next().unwrap();
        let label = values(head, "aria-label");
        assert!(head.contains("role=\"img\"") && label[0].len() > 20, "{head}");
    }
}

#[test]
fn an_empty_cell_of_a_table_has_its_reason_and_its_channels_below() {
    let mut reading = evening::evening();
    let snare = reading.channels.iter_mut().find(|one| one.role == Role::SnareTop).unwrap();
    let gate = snare.starts.gate_start.as_mut().unwrap();
    let reason = Unmeasured::TooFewEvents { have: 5, need: 12 };
    (gate.threshold_dbfs, gate.overlap_percent) =
        (Fact::missing(reason.clone()), Fact::missing(reason));
    let name = snare.name.clone();
    let html = printed(&reading);
    let (_, told) = html.split_once("Not told: 5 events were found, 12 are needed").unwrap();
    let (channels, _) = told.split_once("</li>").unwrap();
    assert!(channels.contains(&escaped(&name)), "{channels}");
    assert!(!printed(&evening::evening()).contains("Not told: 5 events"), "all are told there");
}

#[test]
fn octaves_are_told_where_stops_alone_tell_them() {
    let stops = |of: &Fact| {
        printed(&with_room(|room| {
            room.decay_from = DecayFrom::Stops;
            let none = || Fact::missing(Unmeasured::NotRecorded("a clap in the quiet hall"));
            room.octaves = vec![OctaveDecay {
                octave_hz: 500.0,
                early_s: none(),
                t20_s: none(),
                t30_s: none(),
                stops_s: of.clone(),
                c50_db: none(),
                c80_db: none(),
                d50_share: none(),
            }];
        }))
    };
    let told = stops(&Fact::sure(1.23, 0.8));
    assert!(told.contains("From sudden stops of the music, by octaves"), "a heading");
    assert!(told.contains("<td>1.2</td>"), "the time of an octave");
    let untold = stops(&Fact::missing(Unmeasured::TooFewEvents { have: 2, need: 6 }));
    assert!(!untold.contains("by octaves"), "an empty table says nothing");
}

#[test]
fn what_is_not_sure_between_two_recordings_is_marked() {
    let cell = |confidence: f64| {
        let mut reading = loud_evening();
        for channel in &mut reading.channels {
            if let Some(processing) = &mut channel.processing {
                processing.ratio = Fact::sure(7.7, confidence);
            }
        }
        printed(&reading)
    };
    assert!(cell(0.5).contains(">7.70 ?</td>"), "half sure");
    assert!(cell(0.8).contains(">7.70</td>"), "sure");
}

#[test]
fn a_card_names_the_recordings_that_its_number_comes_from() {
    let from = |taps_db: Fact| {
        let voice = channel(17, Role::LeadVocal);
        let mut behind = channel(29, Role::LeadVocal);
        behind.tap = Tap::Processed;
        behind.processing = Some(Processing { loud_reduction_db: taps_db, ..processing(&voice) });
        let mut reading = mixed(vec![voice]);
        let mix = reading.mix.as_mut().unwrap();
        mix.channels[0].gain_reduction_db = Fact::AtLeast { at_least: 14.0, confidence: 0.9 };
        reading.channels.push(behind);
        printed(&reading)
    };
    let by_taps = "from the recordings before and behind its processing";
    assert!(from(Fact::sure(14.0, 0.95)).contains(by_taps), "both recordings tell");
    let silent = from(Fact::missing(Unmeasured::Because("something else lies between them")));
    assert!(!silent.contains(by_taps), "they tell nothing");
    assert!(silent.contains("from the mix as it was read back"), "the mix does");
}

#[test]
fn a_ring_that_is_too_rare_for_a_note_stands_on_the_mentors_part() {
    let mut reading = rehearsal();
    let at = vec![Span::new(62.0, 62.6), Span::new(75.0, 75.5)];
    let rings = vec![Ring { frequency_hz: 2500.0, heard_in: Vec::new(), rings_s: 1.1, at }];
    let channel = reading.channels[3].id.clone();
    reading.feedback.ringing = vec![Ringing { channel, talk_s: 60.0, not_measurable: None, rings }];
    assert!(printed(&reading).contains("2500 Hz, at 01:02, 01:15"), "where and when");
}

#[test]
fn what_the_mix_shows_of_compressors_is_a_lower_bound() {
    let mut reading = rehearsal();
    let mix = reading.mix.as_mut().unwrap();
    mix.channels[0].is_in_mix = true;
    mix.channels[0].gain_reduction_db = Fact::AtLeast { at_least: 4.0, confidence: 0.9 };
    let id = mix.channels[0].channel.clone();
    let name = escaped(&reading.channel(&id).unwrap().name);
    let html = printed(&reading);
    let (_, told) = html.split_once("What the mix shows of compressors").unwrap();
    let (first, _) = told.split_once("</li>").unwrap();
    assert!(first.contains(&name) && first.contains("at least 4"), "{first}");
    reading.mix = None;
    assert!(!printed(&reading).contains("What the mix shows of compressors"), "without a mix");
}

#[test]
fn a_lost_opening_is_drawn_as_long_as_it_was() {
    // Around the entry at 56.6 s, opened 1.4 s late, the picture runs from 4 s before the passage to 4 s after it:
    // 56.6 - 1 - 4 = 51.6 to 58 + 2 + 4 = 64 s, over 84 hundredths of the width.
    let html = printed(&rehearsal());
    let hatched = html.split("class=\"hatched\"").nth(1).unwrap();
    let wide: f64 = values(hatched, "width")[0].trim_end_matches('%').parse().unwrap();
    // The source counts as sounding from 20 s on, so that the hatching begins at the left end.
    let expected = 84.0 * (58.0 - 51.6) / (64.0 - 51.6);
    assert!((wide - expected).abs() < 0.1, "{wide} hundredths, expected {expected}");
}

#[test]
fn a_name_from_outside_never_becomes_markup() {
    const BAD: &str = "<script>alert(1)</script>\" onload=\"x' <img src=http://b>\u{202e}\u{7}";
    let mut reading = rehearsal();
    reading.session.name = BAD.to_owned();
    reading.session.operator = Some(BAD.to_owned());
    reading.session.date = Some(BAD.to_owned());
    reading.warnings.push(BAD.to_owned());
    reading.channels.iter_mut().for_each(|channel| channel.name = BAD.to_owned());
    reading.segments.iter_mut().for_each(|segment| segment.title = BAD.to_owned());
    let songs = reading.mix.iter_mut().flat_map(|mix| &mut mix.songs);
    songs.for_each(|song| song.title = BAD.to_owned());
    let songs = reading.main.iter_mut().flat_map(|main| &mut main.songs);
    songs.for_each(|song| song.title = BAD.to_owned());
    let mut marks = Marks::default();
    let rule = "voice-buried".to_owned();
    let bad = || BAD.to_owned();
    marks.set(Mark { rule, channels: vec![bad()], mark: Verdict::Fits, comment: bad() });
    let html = page(&Page { reading: &reading, advice: &advise(&reading), marks: &marks });
    let plain = printed(&rehearsal());
    for tag in ["<script", "</script", "<img", "<svg", "<audio"] {
        assert_eq!(html.matches(tag).count(), plain.matches(tag).count(), "`{tag}`");
    }
    assert!(!html.contains("\" onload=\""), "no attribute is broken out of");
    assert!(html.contains("&lt;script&gt;alert(1)"), "the name is shown as a name");
    assert!(!html.contains('\u{7}') && !html.contains('\u{202e}'), "nothing that acts on a screen");
}

#[test]
fn nothing_is_asked_of_a_network() {
    let html = printed(&rehearsal());
    for attribute in ["src", "href", "action", "poster", "srcset", "xlink:href", "data"] {
        for value in values(&html, attribute) {
            let is_own =
                value.starts_with("excerpts/") || value.starts_with('#') || value == "data:,";
            assert!(is_own, "{attribute}={value}");
        }
    }
    for word in [
        "http://",
        "https://",
        "url(//",
        "@import",
        "fetch(",
        "XMLHttp",
        "WebSocket",
        "sendBeacon",
        "import(",
    ] {
        assert!(!html.contains(word), "`{word}`");
    }
    let urls: Vec<&str> =
        html.split("url(").skip(1).filter_map(|rest| rest.split(')').next()).collect();
    assert_eq!(urls, ["#hatch"], "the style asks for nothing");
    assert!(html.contains("default-src 'none'"), "and the browser is told to refuse it");
}

#[test]
fn an_hour_of_32_channels_stays_small() {
    const HOUR_S: f64 = 3600.0;
    let roles = [Role::LeadVocal, Role::Speech, Role::Kick, Role::ElectricGuitar];
    let channels: Vec<_> = (1..=32).map(|number| channel(number, roles[number % 4])).collect();
    let mut reading = mixed(channels);
    reading.session.duration_s = HOUR_S;
    let beats: Vec<Span> =
        (0..5000).map(|at| 0.7 * f64::from(at)).map(|at_s| Span::new(at_s, at_s + 0.4)).collect();
    let mut pairs = Vec::new();
    for source in &reading.channels {
        let mics = reading.channels.iter().filter(|mic| mic.id != source.id);
        pairs.extend(mics.map(|mic| spilled(source, mic, -9.0)));
    }
    reading.pairs = pairs;
    for channel in &mut reading.channels {
        channel.active = beats.clone();
        channel.loud_level_dbfs = Fact::exact(-40.0);
    }
    let mix = reading.mix.as_mut().unwrap();
    for line in &mut mix.channels {
        line.on = beats.clone();
        line.gain_db = vec![Some(-3.0); 3600];
        line.entries = (1..50)
            .map(|at| Entry { at_s: 70.0 * f64::from(at), late_s: Fact::sure(1.1, 0.9) })
            .collect();
    }
    for song in &mut mix.songs {
        for lead in &mut song.leads {
            lead.over_rest_lu = Fact::sure(-9.0, 0.9);
            lead.over_rest_each_second_lu = vec![Some(-9.0); 3600];
        }
    }
    let n_bytes = printed(&reading).len();
    assert!(n_bytes < MOST_BYTES, "{n_bytes} bytes, {MOST_BYTES} at most");
}

#[test]
fn marks_stand_on_the_page_again() {
    let reading = rehearsal();
    let advice = advise(&reading);
    let note = &advice.notes[0];
    let mut marks = Marks::default();
    marks.set(Mark {
        rule: note.rule.id.to_owned(),
        channels: note.names(&reading),
        mark: Verdict::DoesNotFit,
        comment: "the choir sang along".to_owned(),
    });
    let html = page(&Page { reading: &reading, advice: &advice, marks: &marks });
    assert_eq!(html.matches(" checked").count(), 1, "one mark is set");
    assert!(html.contains("value=\"does-not-fit\" checked"), "the right one");
    assert!(html.contains("value=\"the choir sang along\""), "with its comment");
    assert!(!printed(&reading).contains(" checked"), "none without marks");
}

#[test]
fn an_evening_without_findings_is_a_good_page() {
    let mut reading = evening::evening();
    reading.channels.clear();
    reading.pairs.clear();
    reading.main = None;
    reading.segments.clear();
    let html = printed(&reading);
    assert!(html.contains("No note today."), "it says so");
    assert!(html.contains("Not judged tonight"), "and what is open");
}

#[test]
fn no_word_of_the_trade_goes_unexplained() {
    let html = printed(&rehearsal());
    let operator = html.split("class=\"part behind\"").next().unwrap();
    for word in ["LU", "fader", "high-pass"] {
        let is_used = operator.contains(word);
        let is_explained = operator.contains(&format!("<dt>{word}</dt>"));
        assert!(!is_used || is_explained, "`{word}`");
    }
    assert!(operator.contains("<dt>LU</dt>"), "words are explained at all");
}

#[test]
fn the_same_reading_gives_the_same_page() {
    assert_eq!(printed(&rehearsal()), printed(&rehearsal()));
}
