//! The review for other programs: `review.json`.
//!
//! Takes the reading and the advice, gives one JSON document. Never holds a time of the run or a path of a machine: the
//! same recordings give the same bytes.

use schemars::JsonSchema;
use serde::Serialize;

use super::rounded;
use crate::coach::{
    Advice, Focus, Folded, Hidden, Judgement, NotJudged, Note, SafetyLine, Strength,
};
use crate::reading::{
    Channel, Feedback, LineCheck, MainMix, Mix, Pair, Reading, Recorder, Room, Segment,
    SessionFacts,
};
use crate::unit::Span;

/// Name of the format: a renamed or removed key is a new one.
pub const SCHEMA: &str = "deskside-review/1";

/// What writes reviews.
const PROGRAM: &str = concat!("deskside ", env!("CARGO_PKG_VERSION"));

/// A review of one session.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Review<'a> {
    /// Name of the format: `deskside-review/1`.
    pub schema: &'static str,
    /// The version of the program that wrote it: `deskside 0.1.0`.
    pub program: &'static str,
    /// The session as a whole.
    pub session: &'a SessionFacts,
    /// The channels, in desk order.
    pub channels: &'a [Channel],
    /// What two channels say about each other.
    pub pairs: &'a [Pair],
    /// The mix that the audience hears, if it was recorded.
    pub main: Option<&'a MainMix>,
    /// What the operator did with the mix, if channels and main mix were recorded together.
    pub mix: Option<&'a Mix>,
    /// Recorders beside the one that recorded most channels and that of the main mix.
    pub recorders: &'a [Recorder],
    /// Howls, and rings on the edge of feedback.
    pub feedback: &'a Feedback,
    /// What a microphone in the hall tells.
    pub room: Option<&'a Room>,
    /// The session cut into talk, songs, playback and the rest, in order, without gaps.
    pub segments: &'a [Segment],
    /// The line check before the first song.
    pub line_check: &'a LineCheck,
    /// Stretches in which every channel is quiet.
    pub quiet: &'a [Span],
    /// Every judgement, in the order of rules.
    pub observations: &'a [Judgement],
    /// Safety wording that stands above the notes.
    pub safety: &'a [SafetyLine],
    /// The notes for the operator in training, most helpful first.
    pub notes: &'a [Note],
    /// What worked well: one at most.
    pub strengths: &'a [Strength],
    /// What to practise next.
    pub focus: Option<&'a Focus>,
    /// Other findings, for the mentor, in the order of fixing.
    pub mentor: &'a [Note],
    /// Findings about hall, gear and recording, for the team lead.
    pub lead: &'a [Note],
    /// Effects that a finding explains.
    pub folded: &'a [Folded],
    /// What was not judged, and why.
    pub not_measurable: &'a [NotJudged],
    /// Findings that the team does not want to see, by its marks or its own targets.
    pub hidden: &'a [Hidden],
    /// Ids of rules that are trusted less, because marks said too often that they do not fit.
    pub demoted: &'a [&'static str],
    /// What was repaired or could not be read, one sentence each.
    pub warnings: &'a [String],
}

impl<'a> Review<'a> {
    /// The review of a reading with its advice.
    pub fn new(reading: &'a Reading, advice: &'a Advice) -> Self {
        Self {
            schema: SCHEMA,
            program: PROGRAM,
            session: &reading.session,
            channels: &reading.channels,
            pairs: &reading.pairs,
            main: reading.main.as_ref(),
            mix: reading.mix.as_ref(),
            recorders: &reading.recorders,
            feedback: &reading.feedback,
            room: reading.room.as_ref(),
            segments: &reading.segments,
            line_check: &reading.line_check,
            quiet: &reading.quiet,
            observations: &advice.judgements,
            safety: &advice.safety_lines,
            notes: &advice.notes,
            strengths: &advice.strengths,
            focus: advice.focus.as_ref(),
            mentor: &advice.mentor,
            lead: &advice.lead,
            folded: &advice.folded,
            not_measurable: &advice.not_judged,
            hidden: &advice.hidden,
            demoted: &advice.demoted,
            warnings: &reading.warnings,
        }
    }

    /// The document, indented, with a line break at its end.
    ///
    /// # Panics
    ///
    /// Never: the review holds no map whose keys are not text.
    pub fn to_json(&self) -> String {
        rounded::text(self).expect("a review is plain data")
    }
}
