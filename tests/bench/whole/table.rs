//! The tables of docs/performance.md.

use std::fmt::Write as _;

use super::review::Cost;

/// What a size took.
#[derive(Clone, Copy)]
pub(crate) struct Row {
    pub(crate) n_channels: usize,
    pub(crate) n_minutes: usize,
    /// The measurements of the channels.
    pub(crate) alone: Cost,
    /// The whole review.
    pub(crate) whole: Cost,
}

impl Row {
    /// The main mix does not count.
    pub(crate) fn channel_seconds(&self) -> f64 {
        (self.n_channels * self.n_minutes * 60) as f64
    }

    /// As it stands in the table.
    pub(crate) fn line(&self) -> String {
        let Self { n_channels, n_minutes, alone, whole } = self;
        let rate = |cost: &Cost| self.channel_seconds() / cost.seconds;
        format!(
            "| {n_channels} x {n_minutes} min | {:.1} | {:.0} | {:.1} | {:.0} | {:.0} | {:.0} |",
            alone.seconds,
            rate(alone),
            whole.seconds,
            rate(whole),
            whole.processor_s,
            whole.peak_mb
        )
    }
}

/// What stands beside, in channel-seconds a second.
pub(crate) struct Beside {
    pub(crate) crate_meter: f64,
    pub(crate) own_meters: f64,
    pub(crate) script: Option<f64>,
    pub(crate) reading: f64,
    pub(crate) transforms: f64,
    pub(crate) products: f64,
}

/// All tables.
pub(crate) fn tables(rows: &[Row], beside: &Beside) -> String {
    let mut text = String::from(
        "| channels, length | measurements alone, s | channel-seconds a second | whole review, s | channel-seconds a second | processor, s | peak memory, MB |\n\
         | --- | ---: | ---: | ---: | ---: | ---: | ---: |\n",
    );
    for row in rows {
        writeln!(text, "{}", row.line()).expect("a string takes it");
    }
    text.push('\n');
    text.push_str(&growth(rows));
    let usual = rows.iter().find(|row| (row.n_channels, row.n_minutes) == super::USUAL);
    let alone = usual.map_or(0.0, |row| row.channel_seconds() / row.alone.seconds);
    write!(
        text,
        "\n| beside, on the same recordings | channel-seconds a second |\n| --- | ---: |\n\
         | loudness and true peak, `ebur128` crate, one core | {:.0} |\n\
         | the same figures, own meters, one core | {:.0} ({:.1} times) |\n",
        beside.crate_meter,
        beside.own_meters,
        beside.own_meters / beside.crate_meter
    )
    .expect("a string takes it");
    match beside.script {
        Some(script) => writeln!(
            text,
            "| measurements of channels by a script, both cores | {script:.1} |\n\
             | all measurements of the channels, both cores | {alone:.0} ({:.1} times) |",
            alone / script
        ),
        None => writeln!(
            text,
            "| measurements of channels by a script | not measured: packages are missing |"
        ),
    }
    .expect("a string takes it");
    write!(
        text,
        "| reading the files, one core | {:.0} |\n\
         | transforms of 4096 every 2048, one core | {:.0} |\n\
         | products of all pairs of 32 channels, one core | {:.0} |\n",
        beside.reading, beside.transforms, beside.products
    )
    .expect("a string takes it");
    text
}

/// How the whole review grows.
fn growth(rows: &[Row]) -> String {
    let of = |n_channels: usize, n_minutes: usize| {
        rows.iter().find(|row| (row.n_channels, row.n_minutes) == (n_channels, n_minutes))
    };
    let mut text = String::from("| growth of the whole review | |\n| --- | ---: |\n");
    for (few, many) in [(8, 16), (16, 32), (32, 64)] {
        if let (Some(a), Some(b)) = (of(few, 5), of(many, 5)) {
            let times = b.whole.processor_s / a.whole.processor_s;
            writeln!(text, "| processor time, {few} to {many} channels | {times:.2} times |")
                .expect("a string takes it");
        }
    }
    for (short, long) in [(5, 15), (15, 60)] {
        if let (Some(a), Some(b)) = (of(32, short), of(32, long)) {
            let minute_s = (b.whole.processor_s - a.whole.processor_s) / (long - short) as f64;
            writeln!(
                text,
                "| processor time of a minute more, {short} to {long} min | {minute_s:.1} s |"
            )
            .expect("a string takes it");
        }
    }
    text
}
