//! `deskside review`: one or several sessions.

use std::path::{Path, PathBuf};
use std::sync::Mutex;

use indicatif::{ProgressBar, ProgressStyle};

use super::args::{Format, Notes, Review, ReviewOptions};
use super::{Outcome, excerpts, mark, output, place};
use crate::audio::TrustHeader;
use crate::coach::{Aims, NoteLimit, Options, coach};
use crate::error::Error;
use crate::page;
use crate::reading::Reading;
use crate::report::json;
use crate::report::table::{Extent, Page};
use crate::report::{markdown, table};
use crate::run;
use crate::session::Session;

/// Reviews every folder; what fails is told at the end and does not stop the others.
pub(super) fn run(arguments: &Review) -> Outcome {
    let options = &arguments.options;
    if arguments.folders.len() > 1 && options.out.is_some() {
        return Err(vec![
            "one --out can't hold several reviews: leave it out, each lands beside its session"
                .to_owned(),
        ]);
    }
    let aims = prepare(options).map_err(|error| vec![error])?;
    let mut errors = Vec::new();
    for folder in &arguments.folders {
        if let Err(error) = one(folder, options, &aims) {
            errors.push(error);
        }
    }
    if errors.is_empty() { Ok(()) } else { Err(errors) }
}

/// What all reviews of a run share: the number of threads and the team's targets.
pub(super) fn prepare(options: &ReviewOptions) -> Result<Aims, String> {
    if let Some(jobs) = options.jobs {
        rayon::ThreadPoolBuilder::new()
            .num_threads(usize::from(jobs))
            .build_global()
            .map_err(|error| format!("cannot start {jobs} threads: {error}"))?;
    }
    options.targets.as_deref().map_or_else(|| Ok(Aims::default()), aims)
}

/// The team's targets from a file.
pub(super) fn aims(path: &Path) -> Result<Aims, String> {
    let text = output::read_text(path).map_err(|error| error.sentence())?;
    Aims::parse(&text).map_err(|cause| {
        let hint = "see `deskside targets show` for the rules and their numbers";
        Error::new("cannot use", path, cause.to_string(), hint).sentence()
    })
}

/// Reviews one folder.
pub(super) fn one(folder: &Path, options: &ReviewOptions, aims: &Aims) -> Result<(), String> {
    let trust = trust(options.trust_header);
    let session = Session::open(folder, trust).map_err(|error| error.sentence())?;
    let mut reading = read(&session, trust, options.quiet).map_err(|error| error.sentence())?;
    if let Some(operator) = &options.operator {
        reading.session.operator = Some(operator.clone());
    }
    let notes = match options.notes {
        Notes::AtMost(n_notes) => NoteLimit::AtMost(n_notes),
        Notes::All => NoteLimit::All,
    };
    let out = options.out.clone().unwrap_or_else(|| usual_out(folder));
    let aims = aims.clone().with_marks(mark::read(options.marks.as_deref(), &out)?);
    let mut advice = coach(&reading, &aims, &Options { notes, ..Options::default() });
    if !options.no_excerpts {
        let bar = bar("cutting passages", options.quiet);
        let written = excerpts::write(&session, &reading, trust, &mut advice, &out, &|share| {
            set(&bar, share);
        });
        bar.finish_and_clear();
        written.map_err(|error| error.sentence())?;
    }
    let review = json::Review::new(&reading, &advice).to_json();
    let file = out.join("review.json");
    output::write_whole(&file, review.as_bytes()).map_err(|error| error.sentence())?;
    let page = page::Page { reading: &reading, advice: &advice, marks: aims.said() };
    let page_file = out.join("review.html");
    output::write_whole(&page_file, page::page(&page).as_bytes())
        .map_err(|error| error.sentence())?;
    if options.quiet {
        return Ok(());
    }
    for warning in &reading.warnings {
        place::complain("warning", warning);
    }
    let look = place::look(options.no_color);
    let page = Page {
        reading: &reading,
        advice: &advice,
        files: &[file.display().to_string(), page_file.display().to_string()],
        extent: if options.notes == Notes::All { Extent::All } else { Extent::Chosen },
        spill: options.spill,
    };
    place::print(&match options.format {
        Format::Table => table::review(look, &page),
        Format::Json => review,
        Format::Markdown => markdown::review(&page),
    })
}

/// What is believed of a header.
pub(super) fn trust(is_trusted: bool) -> TrustHeader {
    if is_trusted { TrustHeader::Yes } else { TrustHeader::No }
}

/// Streams the session, with a bar on standard error where that is a terminal.
fn read(session: &Session, trust: TrustHeader, is_quiet: bool) -> Result<Reading, Error> {
    let bar = bar("listening", is_quiet);
    // The pass calls from one thread at a time; the bar only goes forward.
    let shown = Mutex::new(0.0);
    let reading = run::read(session, trust, &|share| step(&bar, &shown, share));
    bar.finish_and_clear();
    reading
}

/// A bar of a thousand steps, hidden where nobody looks.
pub(super) fn bar(what: &'static str, is_quiet: bool) -> ProgressBar {
    if is_quiet {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(1000);
    if let Ok(style) = ProgressStyle::with_template("{msg} [{bar:32}] {percent:>3} %  {eta} left") {
        bar.set_style(style.progress_chars("=> "));
    }
    bar.set_message(what);
    bar
}

/// Moves the bar forward to a share of the work.
fn step(bar: &ProgressBar, shown: &Mutex<f64>, share: f64) {
    if let Ok(mut shown) = shown.lock()
        && share > *shown
    {
        *shown = share;
        set(bar, share);
    }
}

/// Moves the bar to a share of the work, 0 to 1.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a share of a thousand steps"
)]
pub(super) fn set(bar: &ProgressBar, share: f64) {
    bar.set_position((share.clamp(0.0, 1.0) * 1000.0) as u64);
}

/// `<session>-review` beside the session folder.
fn usual_out(folder: &Path) -> PathBuf {
    // `.` and links get their real name first.
    let real = folder.canonicalize().unwrap_or_else(|_| folder.to_owned());
    let mut name = real.file_name().unwrap_or_default().to_owned();
    name.push("-review");
    // Beside the folder as the user named it, so that messages show the path they know.
    match folder.file_name() {
        Some(_) => folder.with_file_name(name),
        None => real.with_file_name(name),
    }
}
