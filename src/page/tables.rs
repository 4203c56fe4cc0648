//! Tables of the mentor's part: balance of songs, the stage over the evening, channels, spill.

use maud::{Markup, html};

use super::{Page, picture};
use crate::coach::{Advice, Parted};
use crate::reading::{
    Channel, CompressorStart, MixChannel, Processing, Reading, Ring, Ringing, SongMix,
};
use crate::report::{number, phrase, text};
use crate::unit::{Fact, Unit};

/// Who is how loud in each song, and the solos.
pub(super) fn balance(reading: &Reading) -> Markup {
    let songs: &[SongMix] = reading.mix.as_ref().map_or(&[], |mix| &mix.songs);
    html! {
        @if let Some(chart) = picture::balance(songs, reading) {
            section.balance {
                h3 { "The lead voice against the band, song by song" }
                figure { (chart) figcaption { "Median while the voice sings, measured in the mix. In the hall the stage is heard as well, so a voice there lies lower still." } }
                ul {
                    @for song in songs {
                        @for lead in &song.leads {
                            @if let (Some(hz), Some(by)) = (lead.covered_hz.value(), &lead.covered_by) {
                                li { (song.title) ": covered most around " (number::whole_with_unit(hz, Unit::Hz)) ", there by " (phrase::channels(reading, std::slice::from_ref(by))) "." }
                            }
                        }
                        @for solo in &song.solos {
                            li {
                                (number::stretch(solo.span)) " " (phrase::channels(reading, std::slice::from_ref(&solo.channel)))
                                " carries the melody: " (number::fact(&solo.over_rest_lu, Unit::Lu)) " against the rest, lifted by " (number::fact(&solo.lift_db, Unit::Db)) "."
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What was open when.
pub(super) fn mix(page: &Page<'_>) -> Markup {
    html! {
        @if let Some(stage) = picture::stage(page.reading) {
            section.stage-section {
                h3 { "Open in the mix, and sounding" }
                figure {
                    (stage)
                    figcaption { "Outlined: the channel is open in the mix. Filled: its source sounds. A filled bar without an outline is not heard; an outline without a bar is open for nothing." }
                }
            }
        }
    }
}

/// Headings of the channel table.
const HEADER: [&str; 8] = [
    "Channel",
    "Carries",
    "Loud level, dBFS",
    "Top peak, dBFS",
    "Own to spill, dB",
    "Quiet level, dBFS",
    "Gain in mix, dB",
    "Findings",
];

/// Every channel with its numbers, in desk order.
pub(super) fn channels(page: &Page<'_>) -> Markup {
    let Page { reading, advice, .. } = *page;
    html! {
        section {
            h3 { "Channels" }
            (wide("Table of channels", &HEADER, &html! {
                @for channel in &reading.channels { (row(channel, reading, advice)) }
            }))
        }
    }
}

/// A table that moves sideways where it does not fit.
pub(super) fn wide(label: &str, header: &[&str], rows: &Markup) -> Markup {
    html! {
        div.wide tabindex="0" role="region" aria-label=(label) {
            table {
                thead { tr { @for title in header { th scope="col" { (title) } } } }
                tbody { (rows) }
            }
        }
    }
}

/// Why values of a table are missing, each reason with its channels.
fn reasons<'a>(reading: &Reading, facts: impl Iterator<Item = (&'a Channel, &'a Fact)>) -> Markup {
    let mut all: Vec<(String, Vec<String>)> = Vec::new();
    for (channel, fact) in facts {
        let Some(reason) = fact.reason().map(ToString::to_string) else { continue };
        match all.iter_mut().find(|(known, _)| *known == reason) {
            Some((_, ids)) if ids.contains(&channel.id) => {}
            Some((_, ids)) => ids.push(channel.id.clone()),
            None => all.push((reason, vec![channel.id.clone()])),
        }
    }
    html! {
        @if !all.is_empty() {
            ul.reasons {
                @for (reason, ids) in &all {
                    li { "Not told: " (text::plain(reason)) span.where { " (" (phrase::channels(reading, ids)) ")" } }
                }
            }
        }
    }
}

fn row(channel: &Channel, reading: &Reading, advice: &Advice) -> Markup {
    let gain = reading.mix.as_ref().and_then(|mix| mix.channel(&channel.id));
    let cell = |fact: &Fact, unit: Unit| html! { td.n { (number::cell(fact, unit)) } };
    let found = advice.notes.iter().chain(&advice.mentor).chain(&advice.lead);
    let found: Vec<&str> =
        found.filter(|note| note.channels.contains(&channel.id)).map(|note| note.rule.id).collect();
    html! {
        tr {
            th scope="row" { (phrase::named(channel, 24)) }
            td { (channel.role.word()) " " span.quiet { (channel.role_source.word()) ", " (channel.tap.word()) } }
            (cell(&channel.loud_level_dbfs, Unit::Dbfs))
            (cell(&channel.top_peak_dbfs, Unit::Dbfs))
            (cell(&channel.own_to_spill_db, Unit::Db))
            (cell(&channel.quiet_level_dbfs, Unit::Dbfs))
            @match gain { Some(line) => (cell(&line.usual_gain_db, Unit::Db)), None => td.n { (number::NO_VALUE) } }
            td.ids { (found.join(", ")) }
        }
    }
}

/// Where compressors and gates would begin to work, by the raw recordings.
pub(super) fn starts(reading: &Reading) -> Markup {
    let has_value =
        |channel: &&Channel| channel.starts.thresholds().any(|fact| fact.value().is_some());
    let told: Vec<&Channel> = reading.channels.iter().filter(has_value).collect();
    let all = reading.channels.iter();
    let all = all.flat_map(|channel| channel.starts.thresholds().map(move |fact| (channel, fact)));
    html! {
        @if !told.is_empty() {
            section {
                h3 { "Thresholds to start from" }
                (wide("Table of thresholds", &STARTS, &html! { @for channel in told { (start(channel)) } }))
                (reasons(reading, all))
                p.quiet {
                    "Suggestions from the raw recordings, no readings of what was set; in dBFS right after the preamplifier, so a change of "
                    "gain moves them along. With a compressor the loud phrases would be turned down by 6 to 9 dB on a voice and 3 to 6 dB on "
                    "an instrument (common practice); other designs may take up to 4 dB more: go by its meter. A gate's threshold is one of "
                    "peaks; what suits goes by how far the channel's own hits and its spill overlap."
                }
            }
        }
    }
}

/// Headings of that table.
const STARTS: [&str; 6] = [
    "Channel",
    "Compressor at 2:1, dBFS",
    "at 3:1, dBFS",
    "at 4:1, dBFS",
    "Gate, dBFS",
    "What parts it from its spill",
];

fn start(channel: &Channel) -> Markup {
    let at = |ratio: f64| {
        let fits = |one: &&CompressorStart| (one.ratio - ratio).abs() < 0.01;
        let one = channel.starts.compressor_starts.iter().find(fits);
        one.map_or_else(
            || number::NO_VALUE.to_owned(),
            |one| number::cell(&one.threshold_dbfs, Unit::Dbfs),
        )
    };
    let gate = channel.starts.gate_start.as_ref();
    let parted = gate.and_then(|gate| gate.overlap_percent.value()).map(Parted::by);
    // Where no threshold parts them, the best one would mislead.
    let threshold = gate.filter(|_| parted.is_some_and(|by| by != Parted::ByNothing));
    html! {
        tr {
            th scope="row" { (phrase::named(channel, 24)) }
            @for ratio in [2.0, 3.0, 4.0] { td.n { (at(ratio)) } }
            @match threshold {
                Some(gate) => td.n { (number::cell(&gate.threshold_dbfs, Unit::Dbfs)) },
                None => td.n { (number::NO_VALUE) },
            }
            td { (parted.map_or(number::NO_VALUE, Parted::word)) }
        }
    }
}

/// What the desk did to channels that were recorded before and behind their processing.
pub(super) fn between(reading: &Reading) -> Markup {
    let both: Vec<(&Channel, &Processing)> = reading.between_taps().collect();
    let facts = both.iter().flat_map(|&(raw, one)| {
        let switches = one.gate.iter().map(|gate| &gate.flutters_per_minute);
        let all = [&one.static_gain_db, &one.usual_reduction_db, &one.threshold_dbfs];
        all.into_iter().chain(switches).map(move |fact| (raw, fact))
    });
    html! {
        @if !both.is_empty() {
            section {
                h3 { "Between the two recordings of a channel" }
                (wide("Table of processing", &BETWEEN, &html! {
                    @for (raw, processing) in &both { (processed(raw, processing)) }
                }))
                (reasons(reading, facts))
                p.quiet {
                    "Read from the loudest minute. The gain holds equaliser, make-up and fader together; the threshold is that of a steady tone "
                    "of 1 kHz at the preamplifier. A ? marks what is not sure: in trials three in ten of such ratios were off by more than 15 %. Settings are those of a compressor that does the same: knob positions differ between designs."
                }
            }
        }
    }
}

/// Confidence from which on a reading between two recordings is sure: those met the tolerances in trials.
const SURE: f64 = 0.7;

/// The sign of a value that is not sure.
fn doubt(fact: &Fact) -> &'static str {
    if fact.reason().is_none() && fact.confidence() < SURE { " ?" } else { "" }
}

/// Headings of that table.
const BETWEEN: [&str; 13] = [
    "Channel",
    "Gain, dB",
    "Reduction, dB",
    "on loud parts, dB",
    "Threshold, dBFS",
    "Ratio, to 1",
    "Knee, dB",
    "Attack, ms",
    "Release, ms",
    "Gate depth, dB",
    "open, %",
    "flutter a minute",
    "cuts a minute",
];

fn processed(raw: &Channel, processing: &Processing) -> Markup {
    let cell =
        |fact: &Fact, unit: Unit| html! { td.n { (number::cell(fact, unit)) (doubt(fact)) } };
    let maybe = |fact: Option<&Fact>, unit: Unit| match fact {
        Some(fact) => cell(fact, unit),
        None => html! { td.n { (number::NO_VALUE) } },
    };
    let ms = |fact: &Fact| fact.value().map(|time_s| number::bare(1000.0 * time_s, Unit::Count));
    let Processing { least_attack_s, most_attack_s, release_s, .. } = processing;
    let attack = ms(least_attack_s).zip(ms(most_attack_s));
    let none = || number::NO_VALUE.to_owned();
    let gate = processing.gate.as_ref();
    html! {
        tr {
            th scope="row" { (phrase::named(raw, 24)) }
            (cell(&processing.static_gain_db, Unit::Db))
            (cell(&processing.usual_reduction_db, Unit::Db))
            (cell(&processing.loud_reduction_db, Unit::Db))
            (cell(&processing.threshold_dbfs, Unit::Dbfs))
            (cell(&processing.ratio, Unit::Ratio))
            (maybe(processing.knee_db.as_ref(), Unit::Db))
            td.n { (attack.map_or_else(none, |(least, most)| format!("{least} to {most}"))) (doubt(least_attack_s)) }
            td.n { (ms(release_s).unwrap_or_else(none)) (doubt(release_s)) }
            (maybe(gate.map(|gate| &gate.depth_db), Unit::Db))
            (maybe(gate.map(|gate| &gate.open_percent), Unit::Percent))
            (maybe(gate.map(|gate| &gate.flutters_per_minute), Unit::PerMinute))
            (maybe(gate.and_then(|gate| gate.cuts_per_minute.as_ref()), Unit::PerMinute))
        }
    }
}

/// Reduction that is worth a line, in dB: less may be anything that moves.
const SHOWS_DB: f64 = 1.0;

/// What the mix shows of compressors.
pub(super) fn pressed(reading: &Reading) -> Markup {
    let channels: &[MixChannel] = reading.mix.as_ref().map_or(&[], |mix| &mix.channels);
    let named = channels.iter().filter_map(|one| Some((reading.channel(&one.channel)?, one)));
    let facts: Vec<(&Channel, &Fact)> = named
        .filter(|(_, one)| one.is_in_mix)
        .map(|(raw, one)| (raw, &one.gain_reduction_db))
        .collect();
    let least_db = |fact: &Fact| Some(fact.ends()?[0]).filter(|least_db| *least_db >= SHOWS_DB);
    let mut shown: Vec<(&Channel, f64, &Fact)> =
        facts.iter().filter_map(|&(raw, fact)| Some((raw, least_db(fact)?, fact))).collect();
    shown.sort_by(|one, other| other.1.total_cmp(&one.1));
    html! {
        @if !facts.is_empty() {
            section.aside {
                h3 { "What the mix shows of compressors" }
                @if shown.is_empty() { p { "No channel is turned down in its loud parts by 1 dB or more beyond its soft ones." } }
                ul { @for (raw, _, fact) in &shown { li { (phrase::named(raw, 24)) ": " (number::fact(fact, Unit::Db)) } } }
                (reasons(reading, facts.iter().copied()))
                p.quiet {
                    "Lower bounds: what loud parts lose beyond soft ones. A compressor that works all the time takes off more than that, and the "
                    "mix does not tell how much; its recording behind the processing would."
                }
            }
        }
    }
}

/// What rings while somebody talks, also where it is too rare for a note.
pub(super) fn rings(reading: &Reading) -> Markup {
    let all = &reading.feedback.ringing;
    let told: Vec<(&Ringing, &Ring)> =
        all.iter().flat_map(|one| one.rings.iter().map(move |ring| (one, ring))).collect();
    let line = |one: &Ringing, ring: &Ring| {
        let times = ring.at.iter().take(MOST_TIMES).map(|at| number::clock(at.start_s));
        let more = ring.at.len().saturating_sub(MOST_TIMES);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        let hz = number::whole_with_unit(ring.frequency_hz, Unit::Hz);
        let who = phrase::channels(reading, std::slice::from_ref(&one.channel));
        format!("{who}: {hz}, at {}{more}", times.collect::<Vec<_>>().join(", "))
    };
    html! {
        @if !told.is_empty() {
            section.aside {
                h3 { "Tones that ring on in talk" }
                ul { @for (one, ring) in &told { li { (line(one, ring)) } } }
                p.quiet { "Near the edge of feedback, or a tone that something plays softly behind the talk: listen there." }
            }
        }
    }
}

/// Moments named of a ring.
const MOST_TIMES: usize = 4;

/// Who hears whom.
pub(super) fn spill(reading: &Reading) -> Markup {
    html! {
        @if let Some(matrix) = picture::matrix(reading) {
            section.spill {
                h3 { "What each microphone hears of the others" }
                figure {
                    (matrix)
                    figcaption { "A row is a microphone, a column a source. The number is the level of that source in the microphone against the microphone's own source, in dB: 0 is as loud, -12 is out of the way." }
                }
                p.quiet { (text::counted(reading.pairs.len(), "pair")) " of channels were compared." }
            }
        }
    }
}
