//! From a reading to advice: judge everything, fold effects into causes, choose, and explain every silence.
//!
//! Takes the reading, the team's targets and the options; gives an [`Advice`]. The same input gives the same advice.

use super::advice::{Advice, Focus, Folded, Held, Hidden, NotJudged, Note, SafetyLine};
use super::aims::Aims;
use super::judge::{Judgement, judge};
use super::marks::Verdict;
use super::past::Past;
use super::rule::{Page, RawWording, Rule, Tier};
use super::rules::RULES;
use super::{chance, choice, fold, note, silence, strength, wording};
use crate::reading::Reading;

/// What to learn first, in the first six sessions of an operator.
const STARTERS: [&str; 12] = [
    "gain-too-low",
    "gain-too-hot",
    "clip-input",
    "mic-far",
    "cue-late",
    "open-mics",
    "hpf-missing",
    "voice-buried",
    "feedback-howl",
    "fx-on-speech",
    "speech-mic-in-songs",
    "left-out",
];
/// Stored sessions from which all rules count.
const STARTER_SESSIONS: usize = 6;

/// Whether a rule belongs to what is learnt first.
pub fn is_starter(id: &str) -> bool {
    STARTERS.contains(&id)
}

/// How many notes the trainee gets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoteLimit {
    /// So many at most, and never more than five.
    AtMost(usize),
    /// Every finding that passes.
    All,
}

/// What the caller decides.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Options {
    /// How many notes.
    pub notes: NoteLimit,
    /// What stored sessions say; empty without a history.
    pub past: Past,
}

impl Default for Options {
    fn default() -> Self {
        Self { notes: NoteLimit::AtMost(3), past: Past::default() }
    }
}

/// The rule with an id, if it is judged yet.
pub fn rule(id: &str) -> Option<&'static Rule> {
    RULES.iter().copied().find(|rule| rule.id == id)
}

/// Looks at a reading and says what helps.
pub fn coach(reading: &Reading, aims: &Aims, options: &Options) -> Advice {
    let past = &options.past;
    let (judgements, mut not_judged) = judge_all(reading, aims);
    let is_in_reach = |judgement: &Judgement| {
        reading.session.operator.is_none()
            || past.n_sessions >= STARTER_SESSIONS
            || is_starter(judgement.rule.id)
    };
    let may_be_told = |judgement: &Judgement| {
        page(judgement) == Page::Trainee && is_sure(judgement) && is_in_reach(judgement)
    };
    // What is kept for later explains nothing now: a cause that isn't told would take its effects along.
    let trainee =
        Reader::new(&judgements, past, |judgement| may_be_told(judgement) || is_safety(judgement));
    let lead = Reader::new(&judgements, past, |judgement| {
        is_sure(judgement) && page(judgement) == Page::Lead
    });
    let mentor = Reader::new(&judgements, past, is_sure);

    let candidates = trainee.notes(reading, None, may_be_told);
    let practised = practised(&judgements, past);
    let (notes, _) =
        choice::choose(candidates, options.notes, reading, practised.map(|rule| rule.id));
    let is_chosen = |judgement: &Judgement| {
        notes.iter().any(|note| note.rule.id == judgement.rule.id)
            && page(judgement) == Page::Trainee
            && is_sure(judgement)
    };

    let lead_notes =
        lead.notes(reading, None, |judgement| page(judgement) == Page::Lead && is_sure(judgement));
    let mut mentor_notes: Vec<Note> = Vec::new();
    for held in [Held::MentorOnly, Held::Unsure, Held::NotStarter, Held::NoRoom] {
        mentor_notes.extend(mentor.notes(reading, Some(held), |judgement| {
            let is_lead = page(judgement) == Page::Lead && is_sure(judgement);
            !is_chosen(judgement) && !is_lead && held == why_held(judgement, is_in_reach(judgement))
        }));
    }
    mentor_notes.sort_by_key(|note| note.group);

    not_judged.extend(silence::reserved());
    Advice {
        safety_lines: safety_lines(&judgements),
        strengths: strength::strongest(&judgements, reading, past).into_iter().collect(),
        focus: practised
            .and_then(|rule| kept(rule, &judgements))
            .or_else(|| notes.first().map(focus)),
        notes,
        mentor: mentor_notes,
        lead: lead_notes,
        folded: mentor.folded(reading),
        not_judged,
        hidden: hidden(&judgements),
        demoted: demoted(aims),
        judgements,
    }
}

/// Every rule on every observation, and why some were not judged.
fn judge_all(reading: &Reading, aims: &Aims) -> (Vec<Judgement>, Vec<NotJudged>) {
    let mut judgements = Vec::new();
    let mut silences = silence::Silences::default();
    for rule in RULES.iter().copied() {
        if aims.is_off(rule.id) {
            silences.whole(rule, "switched off by the team");
            continue;
        }
        let observations = (rule.observe)(reading);
        if observations.is_empty() {
            silences.whole(rule, silence::absence(rule, reading));
        }
        let version = chance::version(rule, aims);
        for observation in observations {
            let is_on_purpose = aims.is_on_purpose(rule.id, &observation, reading);
            let mut judgement = judge(rule, observation, aims).counted(is_on_purpose, &version);
            judgement.mark = aims.said().verdict(rule.id, &judgement.channels, reading);
            silences.note(&judgement);
            judgements.push(judgement);
        }
    }
    (judgements, silences.list())
}

/// The page that a judgement belongs to.
fn page(judgement: &Judgement) -> Page {
    let rule = judgement.rule;
    let is_mentors = judgement.observation.is_raw
        && matches!(rule.raw_wording, RawWording::MentorCheck(_) | RawWording::MentorFinding);
    match judgement.observation.page {
        Some(page) => page,
        None if judgement.tier == Tier::C || is_mentors => Page::Mentor,
        None => rule.page,
    }
}

/// Whether a judgement is a finding that may stand on a page.
fn is_sure(judgement: &Judgement) -> bool {
    judgement.severity().is_some()
        && judgement.confidence >= judgement.tier.floor()
        && !judgement.is_hidden()
}

fn is_safety(judgement: &Judgement) -> bool {
    judgement.observation.is_safety && judgement.rule.safety.is_some() && is_sure(judgement)
}

fn why_held(judgement: &Judgement, is_in_reach: bool) -> Held {
    if page(judgement) == Page::Mentor {
        Held::MentorOnly
    } else if !is_sure(judgement) {
        Held::Unsure
    } else if !is_in_reach {
        Held::NotStarter
    } else {
        Held::NoRoom
    }
}

/// What one reader sees, effects folded into the causes that this reader sees.
struct Reader<'a> {
    judgements: &'a [Judgement],
    past: &'a Past,
    causes: Vec<Option<usize>>,
}

impl<'a> Reader<'a> {
    fn new(
        judgements: &'a [Judgement],
        past: &'a Past,
        is_seen: impl Fn(&Judgement) -> bool,
    ) -> Self {
        Self { judgements, past, causes: fold::causes(judgements, is_seen) }
    }

    /// Notes over the findings that pass, one a rule, effects left out.
    fn notes(
        &self,
        reading: &Reading,
        held: Option<Held>,
        passes: impl Fn(&Judgement) -> bool,
    ) -> Vec<Note> {
        let is_in = |idx: &usize| {
            let judgement = &self.judgements[*idx];
            judgement.severity().is_some()
                && !judgement.is_hidden()
                && self.causes[*idx].is_none()
                && passes(judgement)
        };
        let members: Vec<usize> = (0..self.judgements.len()).filter(is_in).collect();
        let of_rule = |rule: &Rule| -> Vec<usize> {
            members.iter().copied().filter(|idx| self.judgements[*idx].rule.id == rule.id).collect()
        };
        RULES
            .iter()
            .filter_map(|rule| {
                let members = of_rule(rule);
                let findings: Vec<&Judgement> =
                    members.iter().map(|idx| &self.judgements[*idx]).collect();
                let page = page(findings.first()?);
                let folds = self.effects(&members, rule, reading);
                note::note(&findings, folds, page, held, reading, self.past)
            })
            .collect()
    }

    /// Effects whose cause is one of the findings of a rule.
    fn effects(&self, causes: &[usize], rule: &'static Rule, reading: &Reading) -> Vec<Folded> {
        let is_effect = |idx: usize| {
            self.causes[idx].is_some_and(|cause| causes.contains(&cause))
                && !self.judgements[idx].is_hidden()
        };
        RULES
            .iter()
            .filter_map(|effect| {
                let findings: Vec<&Judgement> = (0..self.judgements.len())
                    .filter(|idx| self.judgements[*idx].rule.id == effect.id && is_effect(*idx))
                    .map(|idx| &self.judgements[idx])
                    .collect();
                note::folded(&findings, rule, reading)
            })
            .collect()
    }

    /// Every effect with its cause.
    fn folded(&self, reading: &Reading) -> Vec<Folded> {
        RULES
            .iter()
            .flat_map(|rule| {
                let causes: Vec<usize> = (0..self.judgements.len())
                    .filter(|idx| self.judgements[*idx].rule.id == rule.id)
                    .collect();
                self.effects(&causes, rule, reading)
            })
            .collect()
    }
}

fn safety_lines(judgements: &[Judgement]) -> Vec<SafetyLine> {
    RULES
        .iter()
        .filter_map(|rule| {
            let of_rule: Vec<&Judgement> = judgements
                .iter()
                .filter(|judgement| judgement.rule.id == rule.id && is_safety(judgement))
                .collect();
            let text = rule.safety.filter(|_| !of_rule.is_empty())?;
            let channels =
                of_rule.iter().flat_map(|judgement| judgement.channels.clone()).collect();
            Some(SafetyLine { rule: rule.id, channels, text })
        })
        .collect()
}

/// Findings that the team does not want to see.
fn hidden(judgements: &[Judgement]) -> Vec<Hidden> {
    let is_meant = |judgement: &&Judgement| judgement.severity().is_some() && judgement.is_hidden();
    let one = |judgement: &Judgement| Hidden {
        rule: judgement.rule.id,
        title: judgement.rule.title,
        channels: judgement.channels.clone(),
        why: judgement
            .mark
            .filter(|mark| mark.hides() && !judgement.is_on_purpose)
            .map_or(Verdict::OnPurpose.word(), Verdict::word),
    };
    judgements.iter().filter(is_meant).map(one).collect()
}

/// Rules that marks said too often not to fit.
fn demoted(aims: &Aims) -> Vec<&'static str> {
    RULES.iter().map(|rule| rule.id).filter(|id| !aims.said().fits(id)).collect()
}

fn focus(note: &Note) -> Focus {
    let noticed = wording::goal(note.measured.first(), &note.target);
    Focus { rule: note.rule.id, exercise: note.rule.exercise, noticed, is_kept: false }
}

/// What is being practised: the focus of the last session, until it was on target in two sessions running. What was not judged tonight, or
/// was marked as wanted, not so or a matter of others, is let go.
fn practised(judgements: &[Judgement], past: &Past) -> Option<&'static Rule> {
    let (id, was_met) = past.focus()?;
    let rule = rule(id)?;
    let own = || judgements.iter().filter(|judgement| judgement.rule.id == id);
    let is_let_go =
        own().any(|judgement| judgement.is_hidden() || judgement.mark == Some(Verdict::DoesNotFit));
    let is_judged = own().any(|judgement| judgement.chances.n_chances > 0);
    let is_off = own().any(is_sure);
    (!is_let_go && is_judged && (is_off || !was_met)).then_some(rule)
}

/// The focus of the last session as tonight's: its worst judgement says how it will be noticed.
fn kept(rule: &'static Rule, judgements: &[Judgement]) -> Option<Focus> {
    let own = judgements.iter().filter(|one| one.rule.id == rule.id && one.target.is_some());
    let worst = own.min_by(|a, b| a.margin.total_cmp(&b.margin))?;
    let noticed = wording::goal(worst.measured.first(), &worst.target?);
    Some(Focus { rule: rule.id, exercise: rule.exercise, noticed, is_kept: true })
}
