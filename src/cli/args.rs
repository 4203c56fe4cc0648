//! The commands and their arguments.
//!
//! Takes the command line, gives an [`Args`]; help texts stand here and nowhere else.

use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};

use crate::coach::Wanted;
use crate::session::Role;

/// Reads the per-channel recordings of a rehearsal and gives a few coaching notes.
#[derive(Debug, Parser)]
#[command(name = "deskside", version, about, disable_help_subcommand = true)]
#[command(after_help = "Exit status: 0 done, 1 could not do it, 2 wrong usage.")]
pub(super) struct Args {
    /// What to do.
    #[command(subcommand)]
    pub(super) command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Measure the recordings in a folder and print the notes
    Review(Review),
    /// List what a folder holds: channels, roles, lengths, warnings
    Channels(Channels),
    /// Render the built-in rehearsal with planted things to find, then review it
    Demo(Demo),
    /// Say of a note in a review that it fits, does not fit, was on purpose, or is not ours
    Mark(Mark),
    /// Write the mentor's feedback sheet from a review and its marks; the lead's page; a card for the next line check
    Sheet(Sheet),
    /// Tell what changed between two reviews: findings gone, new and still there, numbers that moved
    Compare(Compare),
    /// Tell what a rule measures, its target and source, why, what to try, when it stays silent
    Explain(Explain),
    /// Show the targets in force, check a team's own file, or learn one from good nights
    #[command(subcommand)]
    Targets(Targets),
    /// Tell what recurs and what changes over the stored sessions
    Habits(Habits),
    /// Look at what is stored, add to it, take it out or erase it
    #[command(subcommand)]
    History(History),
}

/// What a team's file looks like.
const TARGETS_EXAMPLE: &str = "\
Example:
  off = [\"bass-uneven\"]            # rules that are not wanted

  [[target]]                        # ends of a target, for one role or for all
  rule = \"gain-too-low\"
  number = \"loud level\"
  role = \"lead-vocal\"
  green_low = -26.0                 # on target from here
  amber_low = -32.0                 # near from here

  [[on_purpose]]                    # no note about this
  rule = \"drums-loud\"
  song = \"Lanterns Down\"";

/// How the review is printed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// Tables for the terminal
    #[default]
    Table,
    /// The whole review as JSON
    Json,
    /// Markdown for a message or a wiki
    Markdown,
}

/// Options that reviews share.
#[derive(Debug, ClapArgs)]
pub(super) struct ReviewOptions {
    /// Folder for review.html and review.json [default: SESSION-review beside the session folder]
    #[arg(short, long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// How many notes to show: a number or `all`
    #[arg(long, value_name = "N|all", default_value = "3", value_parser = parse_notes)]
    pub(super) notes: Notes,
    /// How to print the review
    #[arg(long, value_enum, default_value_t)]
    pub(super) format: Format,
    /// Print as well what each microphone hears of the others
    #[arg(long)]
    pub(super) spill: bool,
    /// Write no passages to listen to
    #[arg(long)]
    pub(super) no_excerpts: bool,
    /// A team's own targets
    #[arg(long, value_name = "FILE")]
    pub(super) targets: Option<PathBuf>,
    /// What was said of earlier notes [default: marks.json in the folder of the review, if it is there]
    #[arg(long, value_name = "FILE")]
    pub(super) marks: Option<PathBuf>,
    /// Label of the operator (any word; not needed)
    #[arg(long, value_name = "LABEL")]
    pub(super) operator: Option<String>,
    /// Threads to use [default: one a core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    pub(super) jobs: Option<u16>,
    /// Believe the sizes in file headers, repair nothing
    #[arg(long)]
    pub(super) trust_header: bool,
    /// Print no progress, no warnings and no table; files are still written
    #[arg(short, long)]
    pub(super) quiet: bool,
    /// Print without colour (the variable `NO_COLOR` does the same)
    #[arg(long)]
    pub(super) no_color: bool,
}

/// How many notes are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Notes {
    /// At most so many.
    AtMost(usize),
    /// All.
    All,
}

/// `deskside review`
#[derive(Debug, ClapArgs)]
pub(super) struct Review {
    /// Folders of recordings, one a session
    #[arg(required = true, value_name = "FOLDER")]
    pub(super) folders: Vec<PathBuf>,
    /// Each FOLDER holds sessions: review every folder in it
    #[arg(long)]
    pub(super) each: bool,
    /// With several sessions: review those anew that have their review already
    #[arg(long)]
    pub(super) again: bool,
    /// Store the numbers of the review, for `deskside habits`; no sound
    #[arg(long)]
    pub(super) remember: bool,
    /// Where to store them [default: in the data folder of the system]
    #[arg(long, value_name = "FILE", requires = "remember")]
    pub(super) history: Option<PathBuf>,
    /// Shared options.
    #[command(flatten)]
    pub(super) options: ReviewOptions,
}

/// `deskside channels`
#[derive(Debug, ClapArgs)]
pub(super) struct Channels {
    /// A folder of recordings
    #[arg(value_name = "FOLDER")]
    pub(super) folder: PathBuf,
    /// Write a first session.toml into the folder (never over an existing one)
    #[arg(long)]
    pub(super) write: bool,
    /// Believe the sizes in file headers, repair nothing
    #[arg(long)]
    pub(super) trust_header: bool,
    /// Print without colour (the variable `NO_COLOR` does the same)
    #[arg(long)]
    pub(super) no_color: bool,
}

/// `deskside demo`
#[derive(Debug, ClapArgs)]
pub(super) struct Demo {
    /// Where to render it
    #[arg(value_name = "DIR", default_value = "deskside-demo")]
    pub(super) dir: PathBuf,
    /// Render the whole take of 8 minutes 20 seconds (about 2 GB) and not the cut of 90 seconds
    #[arg(long)]
    pub(super) full: bool,
    /// Write ten invented weeks into a new FILE instead, to try `deskside habits` on
    #[arg(long, value_name = "FILE", conflicts_with_all = ["full", "dir"])]
    pub(super) history: Option<PathBuf>,
    /// Shared options.
    #[command(flatten)]
    pub(super) options: ReviewOptions,
}

/// `deskside mark`
#[derive(Debug, ClapArgs)]
pub(super) struct Mark {
    /// A review: its folder, or its review.json
    #[arg(value_name = "REVIEW")]
    pub(super) review: PathBuf,
    /// The rule of the note: `cue-late`
    #[arg(value_name = "RULE")]
    pub(super) rule: String,
    /// What is said of it
    #[arg(value_name = "MARK", value_enum)]
    pub(super) mark: Said,
    /// Name or id of a channel [default: all channels of the note]
    #[arg(long, value_name = "CHANNEL")]
    pub(super) channel: Option<String>,
    /// In own words
    #[arg(long, value_name = "TEXT", default_value = "")]
    pub(super) comment: String,
}

/// What is said of a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Said {
    /// It is so
    Fits,
    /// It is not so
    DoesNotFit,
    /// It is so, and was wanted: it is not shown any more
    OnPurpose,
    /// It is so, and others have to deal with it: it is not shown any more
    NotOurs,
}

/// `deskside sheet`
#[derive(Debug, ClapArgs)]
pub(super) struct Sheet {
    /// A review: its folder, or its review.json
    #[arg(value_name = "REVIEW")]
    pub(super) review: PathBuf,
    /// What was said of its notes; comments on those that fit stand on the sheet [default: marks.json beside the review, if it is there]
    #[arg(long, value_name = "FILE")]
    pub(super) marks: Option<PathBuf>,
    /// A note to put on it, from any part of the review; several times for several [default: the operator's notes, less those marked as not fitting, on purpose or not ours]
    #[arg(long = "note", value_name = "RULE[@CHANNEL]", value_parser = parse_wanted)]
    pub(super) notes: Vec<Wanted>,
    /// The mentor's own words; without them a page has lines to write on
    #[arg(long, value_name = "TEXT", conflicts_with = "words_file")]
    pub(super) words: Option<String>,
    /// The same from a text file, paragraphs parted by empty lines
    #[arg(long, value_name = "FILE")]
    pub(super) words_file: Option<PathBuf>,
    /// Write the lead's page instead: hall, gear, repairs, levels, the recording
    #[arg(long, conflicts_with_all = ["line_check", "notes", "words", "words_file", "marks"])]
    pub(super) lead: bool,
    /// Write a card for the next line check instead: gain, high-pass, pad, input by input
    #[arg(long, conflicts_with_all = ["notes", "words", "words_file", "marks", "audio"])]
    pub(super) line_check: bool,
    /// How to write it [default: by the ending of the file, else Markdown]
    #[arg(long, value_enum)]
    pub(super) format: Option<SheetFormat>,
    /// Where to write it (never over an existing file) [default: standard output]
    #[arg(short, long, value_name = "FILE")]
    pub(super) out: Option<PathBuf>,
    /// Take the passages of its notes along, in a folder `excerpts` beside the file; voices are personal data
    #[arg(long, requires = "out", conflicts_with = "lead")]
    pub(super) audio: bool,
}

/// How a sheet is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum SheetFormat {
    /// Markdown for a message, a wiki or an editor
    Markdown,
    /// A page for screen and paper
    Html,
}

/// `deskside compare`
#[derive(Debug, ClapArgs)]
pub(super) struct Compare {
    /// The earlier review: its folder, or its review.json
    #[arg(value_name = "OLD")]
    pub(super) old: PathBuf,
    /// The later review
    #[arg(value_name = "NEW")]
    pub(super) new: PathBuf,
    /// Write it as a page as well (never over an existing file)
    #[arg(long, value_name = "FILE")]
    pub(super) page: Option<PathBuf>,
    /// How to print it
    #[arg(long, value_enum, default_value_t)]
    pub(super) format: CompareFormat,
    /// Print without colour (the variable `NO_COLOR` does the same)
    #[arg(long)]
    pub(super) no_color: bool,
}

/// How a comparison is printed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum CompareFormat {
    /// Tables for the terminal
    #[default]
    Table,
    /// JSON
    Json,
}

/// `deskside explain`
#[derive(Debug, ClapArgs)]
pub(super) struct Explain {
    /// A rule, as it stands in a review: `gain-too-low`
    #[arg(value_name = "RULE", required_unless_present = "list")]
    pub(super) rule: Option<String>,
    /// List all rules
    #[arg(long)]
    pub(super) list: bool,
}

/// `deskside targets`
#[derive(Debug, Subcommand)]
pub(super) enum Targets {
    /// Show the targets in force, with their sources
    Show {
        /// A team's own targets
        #[arg(long, value_name = "FILE")]
        targets: Option<PathBuf>,
    },
    /// Learn a team's own windows for tone from its good nights: six at least
    Learn {
        /// Files named review.json, of nights that the team agreed were good
        #[arg(required = true, value_name = "REVIEW")]
        reviews: Vec<PathBuf>,
        /// Write the team's file here and not to standard output (never over an existing one)
        #[arg(short, long, value_name = "FILE")]
        out: Option<PathBuf>,
    },
    /// Check a team's file and say what it changes
    #[command(after_help = TARGETS_EXAMPLE)]
    Check {
        /// The file
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
}

/// `deskside habits`
#[derive(Debug, ClapArgs)]
pub(super) struct Habits {
    /// Of one operator only
    #[arg(long, value_name = "LABEL")]
    pub(super) operator: Option<String>,
    /// Of the whole team, without labels; the same as no operator
    #[arg(long, conflicts_with = "operator")]
    pub(super) team: bool,
    /// Of one role only: `lead-vocal`
    #[arg(long, value_name = "ROLE", value_parser = parse_role)]
    pub(super) role: Option<Role>,
    /// Of one channel only, by its name on the desk
    #[arg(long, value_name = "NAME")]
    pub(super) channel: Option<String>,
    /// How many sessions to look back on
    #[arg(long, value_name = "N", default_value_t = 52, value_parser = clap::value_parser!(u16).range(1..=520))]
    pub(super) last: u16,
    /// How to print it
    #[arg(long, value_enum, default_value_t)]
    pub(super) format: HabitsFormat,
    /// Write a page with one picture a habit here as well, whole or not at all: `habits.html`
    #[arg(long, value_name = "FILE")]
    pub(super) page: Option<PathBuf>,
    /// Where the sessions are stored [default: in the data folder of the system]
    #[arg(long, value_name = "FILE")]
    pub(super) history: Option<PathBuf>,
    /// Print without colour (the variable `NO_COLOR` does the same)
    #[arg(long)]
    pub(super) no_color: bool,
}

/// How habits are printed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum HabitsFormat {
    /// A table for the terminal
    #[default]
    Table,
    /// JSON
    Json,
}

/// `deskside history`
#[derive(Debug, Subcommand)]
pub(super) enum History {
    /// Tell what is stored, and where
    Show {
        /// Where the sessions are stored.
        #[command(flatten)]
        place: HistoryPlace,
    },
    /// Store finished reviews, also those of another machine
    Add {
        /// Files named review.json
        #[arg(required = true, value_name = "REVIEW")]
        reviews: Vec<PathBuf>,
        /// Where the sessions are stored.
        #[command(flatten)]
        place: HistoryPlace,
    },
    /// Print everything that is stored, or everything of one label
    Export {
        /// Label of an operator [default: all]
        #[arg(value_name = "LABEL")]
        label: Option<String>,
        /// How to print it
        #[arg(long, value_enum, default_value_t)]
        format: ExportFormat,
        /// Write it here, whole or not at all, and not to standard output (never over an existing file)
        #[arg(short, long, value_name = "FILE")]
        out: Option<PathBuf>,
        /// Where the sessions are stored.
        #[command(flatten)]
        place: HistoryPlace,
    },
    /// Keep the sessions of so many months and erase older ones, now and whenever a session is stored
    Keep {
        /// How many months, or `all`
        #[arg(value_name = "MONTHS|all", value_parser = parse_months)]
        months: Months,
        /// Where the sessions are stored.
        #[command(flatten)]
        place: HistoryPlace,
    },
    /// Erase everything of one label, without a trace in the file
    Erase {
        /// Label of an operator
        #[arg(value_name = "LABEL")]
        label: String,
        /// Where the sessions are stored.
        #[command(flatten)]
        place: HistoryPlace,
    },
}

/// How long sessions are kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Months {
    /// So many months.
    Last(u32),
    /// All.
    All,
}

/// Where the sessions are stored.
#[derive(Debug, ClapArgs)]
pub(super) struct HistoryPlace {
    /// Where the sessions are stored [default: in the data folder of the system]
    #[arg(long, value_name = "FILE")]
    pub(super) history: Option<PathBuf>,
}

/// How stored sessions are printed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum ExportFormat {
    /// Whole sessions, one JSON document a line
    #[default]
    Sessions,
    /// Observations, one JSON document a line
    Jsonl,
    /// Observations as comma-separated values
    Csv,
    /// Observations as Apache Parquet; needs --out
    Parquet,
}

fn parse_months(text: &str) -> Result<Months, String> {
    match text {
        "all" => Ok(Months::All),
        _ => match text.parse() {
            Ok(n_months) if (1..=1200).contains(&n_months) => Ok(Months::Last(n_months)),
            _ => Err("a number from 1 to 1200, or `all`".to_owned()),
        },
    }
}

fn parse_wanted(text: &str) -> Result<Wanted, String> {
    let (rule, channel) = match text.split_once('@') {
        Some((rule, channel)) => (rule, Some(channel.trim().to_owned())),
        None => (text, None),
    };
    if rule.is_empty() || channel.as_ref().is_some_and(String::is_empty) {
        return Err("a rule, or a rule and a channel: `gain-too-low@LV`".to_owned());
    }
    Ok(Wanted { rule: rule.to_owned(), channel })
}

fn parse_role(text: &str) -> Result<Role, String> {
    Role::from_word(text).ok_or_else(|| "a role, as `deskside channels` prints it".to_owned())
}

fn parse_notes(text: &str) -> Result<Notes, String> {
    match text {
        "all" => Ok(Notes::All),
        _ => match text.parse::<usize>() {
            Ok(n_notes) if n_notes >= 1 => Ok(Notes::AtMost(n_notes)),
            _ => Err("a number from 1, or `all`".to_owned()),
        },
    }
}
