//! The tables of the mix in docs/accuracy.md.
//!
//! Takes scores, gives Markdown. Never rounds before the end.

use std::fmt::Write as _;

use super::super::table::{number, percent};
use super::super::{percentile, share};
use super::bars;
use super::desk::Kind;
use super::score::Score;

/// Scores of one mix.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) stage: String,
    pub(crate) kind: Kind,
    pub(crate) review: Score,
    /// Of least squares, and of powers.
    pub(crate) witnesses: [Score; 2],
}

/// The tables of some mixes, with a line for each kind and one for all.
pub(crate) fn tables(rows: &[Row]) -> String {
    let sum = |is_meant: &dyn Fn(&Row) -> bool, of: &dyn Fn(&Row) -> &Score| {
        let mut all = Score::default();
        rows.iter().filter(|row| is_meant(row)).for_each(|row| all.add(of(row)));
        all
    };
    let mut lines: Vec<(String, Score)> = rows
        .iter()
        .map(|row| (format!("{}, {}", row.stage, row.kind.word()), row.review.clone()))
        .collect();
    for kind in Kind::ALL {
        let score = sum(&|row| row.kind == kind, &|row| &row.review);
        lines.push((format!("all {}", kind.word()), score));
    }
    let all = sum(&|_| true, &|row| &row.review);
    lines.push(("all".to_owned(), all.clone()));
    let naive = [0, 1].map(|way| sum(&|_| true, &|row| &row.witnesses[way]));
    let ways = [("review", &all), ("least squares", &naive[0]), ("powers of bands", &naive[1])];
    [gains(&lines), settings(&lines), songs(&lines), witnesses(&ways)].join("\n")
}

fn gains(lines: &[(String, Score)]) -> String {
    let mut out = format!(
        "Gain by second of channels above {} dB re the mix, and switches. Bars: median error {} dB, 95th percentile {} dB; no switch\n\
         missed, none extra, median {} s, {} within {} s; explained share above {} in plain mixes. Switches that were told as stretches of more than\n\
         a second, where nothing of the channel is heard, stand by themselves: how many are told so, and in how many of these the true one\n\
         lies a second or more from the likeliest place. Of a channel that is said to be unclear no switch counts.\n\n\
         | mix | channels | as one signal | said to be unclear | seconds | told | median error, dB | 95th percentile | switches | missed | extra | of them unheard | as stretches | far within | median, s | within {} s | explained |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
        bars::COUNTS_DB,
        bars::GAIN_MEDIAN_DB,
        bars::GAIN_MOST_DB,
        bars::EDGE_MEDIAN_S,
        percent(Some(bars::EDGE_CLOSE)),
        bars::EDGE_CLOSE_S,
        bars::EXPLAINED,
        bars::EDGE_CLOSE_S,
    );
    for (name, score) in lines {
        let n_close = score.edge_s.iter().filter(|s| **s <= bars::EDGE_CLOSE_S).count();
        let mean = score.explained.iter().sum::<f64>() / score.explained.len().max(1) as f64;
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {mean:.3} |",
            score.n_channels,
            score.n_grouped,
            score.n_unclear,
            score.n_seconds,
            percent(share(score.gain_db.len(), score.n_seconds)),
            number(percentile(&score.gain_db, 50.0), 2),
            number(percentile(&score.gain_db, 95.0), 1),
            score.n_edges,
            score.n_edges - score.edge_s.len(),
            score.n_extra_edges,
            score.n_unheard_edges,
            score.n_stretches,
            score.n_within,
            number(percentile(&score.edge_s, 50.0), 3),
            percent(share(n_close, score.edge_s.len())),
        );
    }
    out
}

fn settings(lines: &[(String, Score)]) -> String {
    let mut out = format!(
        "Pan, equaliser by third-octave, compression, voices against the rest from 1 to 4 kHz, and channels that are open while idle.\n\
         Bars: median error of the pan {}, of the equaliser {} dB with {} within {} dB; no false compression; voices within {} dB, by\n\
         songs (mean of the middle half of windows of 3 s) and by windows; idle\n\
         within {} of the time in the median. Where too little is heard of a channel to tell whether it was closed, idle time is a range.\n\n\
         | mix | pan | equaliser, dB | within {} dB | uncompressed | called compressed | compressed | told too much | voices | median error, dB | largest | windows | median error, dB | 95th percentile | idle, share of time | idle as a range | held |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
        bars::PAN_MEDIAN,
        bars::EQ_MEDIAN_DB,
        percent(Some(bars::EQ_CLOSE)),
        bars::EQ_CLOSE_DB,
        bars::VOICE_DB,
        bars::IDLE,
        bars::EQ_CLOSE_DB,
    );
    for (name, score) in lines {
        let n_close = score.eq_db.iter().filter(|db| **db <= bars::EQ_CLOSE_DB).count();
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
            number(percentile(&score.pan, 50.0), 3),
            number(percentile(&score.eq_db, 50.0), 2),
            percent(share(n_close, score.eq_db.len())),
            score.n_uncompressed,
            score.n_false_compressed,
            score.n_compressed,
            score.n_too_much,
            score.voice_db.len(),
            number(percentile(&score.voice_db, 50.0), 2),
            number(percentile(&score.voice_db, 100.0), 2),
            score.voice_window_db.len(),
            number(percentile(&score.voice_window_db, 50.0), 2),
            number(percentile(&score.voice_window_db, 95.0), 2),
            number(percentile(&score.idle, 50.0), 3),
            score.n_idle_ranges,
            score.n_idle_held,
        );
    }
    out
}

fn songs(lines: &[(String, Score)]) -> String {
    let Some((_, all)) = lines.last() else { return String::new() };
    format!(
        "Songs: {} of {} found, {} invented; begin off by {} s at most, end by {} s. Bars: all, none, 1.6 s, 1 s.\n",
        all.n_songs_found,
        all.n_songs,
        all.n_songs_invented,
        number(percentile(&all.song_start_s, 100.0), 2),
        number(percentile(&all.song_end_s, 100.0), 2),
    )
}

fn witnesses(ways: &[(&str, &Score)]) -> String {
    let mut out = String::from(
        "Gain by second beside the naive ways, all mixes: least squares on the samples of each second, and the powers of third-octaves\n\
         without negative parts. Both know the latency.\n\n\
         | way | seconds | told | median error, dB | 95th percentile |\n| --- | --- | --- | --- | --- |\n",
    );
    for (name, score) in ways {
        let _ = writeln!(
            out,
            "| {name} | {} | {} | {} | {} |",
            score.n_seconds,
            percent(share(score.gain_db.len(), score.n_seconds)),
            number(percentile(&score.gain_db, 50.0), 2),
            number(percentile(&score.gain_db, 95.0), 1),
        );
    }
    out
}
