//! `deskside review`: one or several sessions.

use std::path::{Path, PathBuf};
use std::sync::Mutex;

use indicatif::{ProgressBar, ProgressStyle};

use super::args::{Format, Notes, Review, ReviewOptions};
use super::{Outcome, excerpts, history, mark, output, place};
use crate::audio::TrustHeader;
use crate::coach::{Aims, NoteLimit, Options, Past, coach};
use crate::error::Error;
use crate::history::{Store, identity};
use crate::page;
use crate::reading::Reading;
use crate::report::json;
use crate::report::table::{Extent, Page};
use crate::report::{markdown, table, text};
use crate::run;
use crate::session::Session;

/// Name of the file that holds a review.
pub(super) const REVIEW_NAME: &str = "review.json";

/// Reviews every folder; what fails is told at the end and does not stop the others.
pub(super) fn run(arguments: &Review) -> Outcome {
    let options = &arguments.options;
    let folders = sessions(arguments).map_err(|error| vec![error])?;
    let is_many = arguments.each || folders.len() > 1;
    if is_many && options.out.is_some() {
        return Err(vec![
            "one --out can't hold several reviews: leave it out, each lands beside its session"
                .to_owned(),
        ]);
    }
    let aims = prepare(options).map_err(|error| vec![error])?;
    let mut memory = memory(arguments).map_err(|error| vec![error])?;
    let mut errors = Vec::new();
    let mut n_skipped = 0;
    for folder in &folders {
        let finished = out_folder(folder, options).join(REVIEW_NAME);
        let done = if is_many && !arguments.again && finished.is_file() {
            n_skipped += 1;
            catch_up(&finished, memory.as_mut())
        } else {
            one(folder, options, &aims, memory.as_mut())
        };
        errors.extend(done.err());
    }
    if n_skipped > 0 && !options.quiet {
        let skipped = text::counted(n_skipped, "session");
        place::complain(
            "note",
            &format!("skipped {skipped} reviewed before (--again reviews anew)"),
        );
    }
    if errors.is_empty() { Ok(()) } else { Err(errors) }
}

/// The folders to review: the given ones, or every folder in them. One that holds a review is none.
fn sessions(arguments: &Review) -> Result<Vec<PathBuf>, String> {
    let mut folders = arguments.folders.clone();
    if arguments.each {
        folders.clear();
        for parent in &arguments.folders {
            folders.extend(output::folders_in(parent).map_err(|error| error.sentence())?);
        }
    }
    if arguments.each || folders.len() > 1 {
        folders.retain(|folder| !folder.join(REVIEW_NAME).is_file());
    }
    if folders.is_empty() {
        return Err("there is no session to review: name folders of recordings".to_owned());
    }
    Ok(folders)
}

/// The history that the reviews go into, where that is wanted.
fn memory(arguments: &Review) -> Result<Option<Store>, String> {
    if !arguments.remember {
        return Ok(None);
    }
    let file = place::history(arguments.history.as_deref())?;
    Store::open(&file).map(Some).map_err(|error| error.sentence())
}

/// A session that has its review still goes into the history, with what was marked since.
fn catch_up(finished: &Path, memory: Option<&mut Store>) -> Result<(), String> {
    let Some(store) = memory else { return Ok(()) };
    let stored = history::record(finished).and_then(|record| store.remember(&record));
    stored.map_err(|error| error.sentence())
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

/// Reviews one folder, and stores what came out where there is a history.
pub(super) fn one(
    folder: &Path,
    options: &ReviewOptions,
    aims: &Aims,
    memory: Option<&mut Store>,
) -> Result<(), String> {
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
    let past = memory
        .as_deref()
        .map_or_else(|| Ok(Past::default()), |store| past(store, &reading))
        .map_err(|error| error.sentence())?;
    let out = out_folder(folder, options);
    let marks = mark::read(options.marks.as_deref(), &out).map_err(|error| error.sentence())?;
    let aims = aims.clone().with_marks(marks.after(&past.marks));
    let mut advice = coach(&reading, &aims, &Options { notes, past });
    if !options.no_excerpts {
        let bar = bar("cutting passages", options.quiet);
        let written = excerpts::write(&session, &reading, trust, &mut advice, &out, &|share| {
            set(&bar, share);
        });
        bar.finish_and_clear();
        written.map_err(|error| error.sentence())?;
    }
    let review = json::Review::new(&reading, &advice).to_json();
    let file = out.join(REVIEW_NAME);
    output::write_whole(&file, review.as_bytes()).map_err(|error| error.sentence())?;
    let page = page::Page { reading: &reading, advice: &advice, marks: aims.said() };
    let page_file = out.join("review.html");
    output::write_whole(&page_file, page::page(&page).as_bytes())
        .map_err(|error| error.sentence())?;
    if let Some(store) = memory {
        let stored = history::record(&file).and_then(|record| store.remember(&record));
        stored.map_err(|error| error.sentence())?;
    }
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

/// What stored sessions say, this one left out.
fn past(store: &Store, reading: &Reading) -> Result<Past, Error> {
    let session = &reading.session;
    let date = session.date.as_deref();
    let this = identity(&session.name, date, session.duration_s);
    store.past(session.operator.as_deref(), date, &this)
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

/// Where the review of a folder goes: as asked, else `<session>-review` beside it.
fn out_folder(folder: &Path, options: &ReviewOptions) -> PathBuf {
    if let Some(out) = &options.out {
        return out.clone();
    }
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
