//! What a rule is: its number, targets, texts and guards, all as data.
//!
//! A rule states which facts it looks at; it never computes a measurement and never words a finding itself.

use std::borrow::Cow;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize, Serializer};

use super::chance::Chances;
use crate::reading::{Channel, Reading};
use crate::session::{Role, Tap};
use crate::unit::{Fact, Span, Unit};

/// Everything known about one rule.
#[derive(Debug)]
pub struct Rule {
    /// Stable name in kebab case: it names the fault, not the cure.
    pub id: &'static str,
    /// The fault in a few words, without full stop.
    pub title: &'static str,
    /// Where it stands in the order of fixing.
    pub group: Group,
    /// How far it is to be trusted.
    pub tier: Tier,
    /// How audible the fault is to an untrained listener, 0 to 4.
    pub effect: u8,
    /// 1 (seconds, at the source) to 3 (other people, money, hall).
    pub ease: u8,
    /// Ids of the rules whose findings on the same channel are effects of this one.
    pub explains: &'static [&'static str],
    /// What the numbers are, as a sentence.
    pub measures: &'static str,
    /// The numbers, one to three, each with its targets.
    pub limbs: &'static [Limb],
    /// How the outcomes of the limbs become one.
    pub combine: Combine,
    /// What has to be recorded.
    pub needs: &'static [Need],
    /// What has to hold before anything is judged.
    pub guards: Guards,
    /// All guards, in words.
    pub guard_text: &'static str,
    /// Why there was nothing to look at, as a clause: `no line input was recorded`.
    pub absent: &'static str,
    /// What is heard, without the number: `{who} {is} low at the input`.
    pub heard: &'static str,
    /// Why a listener minds, as a sentence.
    pub why: &'static str,
    /// What to try, in the order to try it, each a sentence that starts with a verb. `{db}` is the suggested change.
    pub advice: &'static [&'static str],
    /// What stands behind `why` and `advice`.
    pub backing: &'static [Source],
    /// What to show beside the note.
    pub shows: &'static str,
    /// What could fool it, as a clause.
    pub fooled_by: &'static str,
    /// Other possible causes, as a clause.
    pub other_causes: &'static str,
    /// A question for the mentor to ask.
    pub question: &'static str,
    /// One exercise of a few minutes, as a sentence.
    pub exercise: &'static str,
    /// What went well where the target is met everywhere: a sentence with `{n}` for how many were looked at.
    pub praise: Option<&'static str>,
    /// Whose page a finding goes to.
    pub page: Page,
    /// What a finding is worth that rests on a recording right after the preamplifier.
    pub raw_wording: RawWording,
    /// Safety wording that stands above the notes.
    pub safety: Option<&'static str>,
    /// Picks what to judge from the reading.
    pub observe: fn(&Reading) -> Vec<Observation>,
}

impl Serialize for Rule {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.id)
    }
}

impl JsonSchema for Rule {
    fn schema_name() -> Cow<'static, str> {
        "RuleId".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({ "type": "string", "description": "Id of a rule." })
    }
}

/// One number of a rule, with its targets.
#[derive(Clone, Copy, Debug)]
pub struct Limb {
    /// What it is called in a sentence: `loud level`.
    pub name: &'static str,
    /// Its unit.
    pub unit: Unit,
    /// Its targets; the first that fits role and variant counts. A limb without a fitting target doesn't apply.
    pub windows: &'static [Window],
}

/// A target: the range that is on target (green) and the range that is near it (amber). Ends are inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Roles that it holds for; empty for all.
    pub roles: &'static [Role],
    /// Variant that it holds for; empty for all.
    pub variant: &'static str,
    /// On target.
    pub green: Ends,
    /// Near. An end that is missing where green has one means: this side is near at most.
    pub amber: Ends,
    /// Where the borders come from.
    pub source: Source,
}

/// Ends of a range; a missing end is open.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Ends {
    /// Low end.
    pub low: Option<f64>,
    /// High end.
    pub high: Option<f64>,
}

impl Window {
    /// On target from `green` upwards, near from `amber` upwards.
    pub const fn at_least(green: f64, amber: f64, source: Source) -> Self {
        Self::new(
            Ends { low: Some(green), high: None },
            Ends { low: Some(amber), high: None },
            source,
        )
    }

    /// On target up to `green`, near up to `amber`.
    pub const fn at_most(green: f64, amber: f64, source: Source) -> Self {
        Self::new(
            Ends { low: None, high: Some(green) },
            Ends { low: None, high: Some(amber) },
            source,
        )
    }

    /// On target up to `green`, near beyond it, however far.
    pub const fn near_above(green: f64, source: Source) -> Self {
        Self::new(Ends { low: None, high: Some(green) }, Ends { low: None, high: None }, source)
    }

    /// On target down to `green`, near below it, however far.
    pub const fn near_below(green: f64, source: Source) -> Self {
        Self::new(Ends { low: Some(green), high: None }, Ends { low: None, high: None }, source)
    }

    /// On target within `green`, near within `amber`; each is low end, high end.
    pub const fn between(green: [f64; 2], amber: [f64; 2], source: Source) -> Self {
        Self::new(
            Ends { low: Some(green[0]), high: Some(green[1]) },
            Ends { low: Some(amber[0]), high: Some(amber[1]) },
            source,
        )
    }

    /// The same target for some roles only.
    pub const fn roles(self, roles: &'static [Role]) -> Self {
        Self { roles, ..self }
    }

    /// The same target for one variant only.
    pub const fn variant(self, variant: &'static str) -> Self {
        Self { variant, ..self }
    }

    const fn new(green: Ends, amber: Ends, source: Source) -> Self {
        Self { roles: &[], variant: "", green, amber, source }
    }
}

/// Where a border or a piece of advice comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// A published text.
    Published(&'static str),
    /// Habit of the trade, without a text.
    CommonPractice,
    /// Computed, from what.
    Computed(&'static str),
    /// The team's own file.
    Team,
    /// The same, learnt from so many good nights.
    Nights(u32),
}

impl Source {
    /// The source as pages print it.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Published(text) | Self::Computed(text) => text,
            Self::CommonPractice => "common practice",
            Self::Team | Self::Nights(_) => "team",
        }
    }
}

/// How the outcomes of several limbs become one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Combine {
    /// The worst limb counts.
    Worst,
    /// All limbs have to be off target; the mildest counts.
    All,
}

/// What has to be recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// Recordings right after the preamplifier.
    Raw,
    /// Recordings after the channel's processing.
    Processed,
    /// The main mix.
    Main,
    /// A stretch in which every channel is quiet.
    Quiet,
    /// A plot of the stage.
    Plot,
    /// A channel before and after its processing, else the mix.
    Between,
}

/// What has to hold before a number is judged.
#[derive(Clone, Copy, Debug)]
pub struct Guards {
    /// Time in which the source was heard, in seconds; enough on its own.
    pub min_active_s: f64,
    /// Separate events; enough on their own. 0 where events don't count.
    pub min_events: usize,
    /// Confidence of the facts, 0 to 1.
    pub min_confidence: f64,
    /// Own-to-spill of a microphone, in dB; line inputs pass.
    pub min_own_to_spill_db: Option<f64>,
}

impl Guards {
    /// The least that every rule asks for: 20 s of active time or three separate events.
    pub const USUAL: Self =
        Self { min_active_s: 20.0, min_events: 3, min_confidence: 0.5, min_own_to_spill_db: None };
}

/// What a finding is worth that rests on a recording right after the preamplifier.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RawWording {
    /// A finding like any other.
    Finding,
    /// A check, near at most: the recording is taken before what is named here.
    Check(&'static str),
    /// The same, for the mentor only.
    MentorCheck(&'static str),
    /// A finding for the mentor only.
    MentorFinding,
}

/// Groups of rules, in the order in which a problem is fixed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Group {
    /// Source and room.
    Source,
    /// Microphone choice and placement.
    Microphone,
    /// Gain.
    Gain,
    /// Polarity and time.
    Polarity,
    /// High-pass and tone.
    Tone,
    /// Dynamics.
    Dynamics,
    /// Balance.
    Balance,
    /// Effects.
    Effects,
    /// Monitors and feedback.
    Feedback,
    /// Loudness and hearing.
    Loudness,
    /// Recording hygiene.
    Recording,
    /// Operating habits.
    Habits,
}

impl Group {
    /// The group in words.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Source => "source and room",
            Self::Microphone => "microphone choice and placement",
            Self::Gain => "gain",
            Self::Polarity => "polarity and time",
            Self::Tone => "high-pass and tone",
            Self::Dynamics => "dynamics",
            Self::Balance => "balance",
            Self::Effects => "effects",
            Self::Feedback => "monitors and feedback",
            Self::Loudness => "loudness and hearing",
            Self::Recording => "recording hygiene",
            Self::Habits => "operating habits",
        }
    }
}

/// How far a rule is to be trusted.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
pub enum Tier {
    /// The trainee may see it from confidence 0.7.
    A,
    /// The trainee may see it from confidence 0.8.
    B,
    /// For the mentor only.
    C,
}

impl Tier {
    /// The tier that is trusted less.
    pub const fn below(self) -> Self {
        match self {
            Self::A => Self::B,
            Self::B | Self::C => Self::C,
        }
    }

    /// Confidence below which a finding is no note, 0 to 1; none is high enough for tier C.
    pub const fn floor(self) -> f64 {
        match self {
            Self::A => 0.7,
            Self::B => 0.8,
            Self::C => f64::INFINITY,
        }
    }
}

/// Whose page a finding goes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Page {
    /// The operator in training.
    Trainee,
    /// The mentor only.
    Mentor,
    /// The team lead: hall, gear and completeness of the recording.
    Lead,
}

/// What a rule picked from the reading, ready to be judged.
#[derive(Clone, Debug)]
pub struct Observation {
    /// Ids of the channels it is about.
    pub channels: Vec<String>,
    /// Ids of further channels on which its effects show: no sentence names them.
    pub also: Vec<String>,
    /// What to call them in a sentence, if not by their names.
    pub subject: Option<&'static str>,
    /// Role that picks the target.
    pub role: Role,
    /// Variant that picks the target.
    pub variant: &'static str,
    /// One fact a limb; `None` where the limb doesn't apply here.
    pub facts: Vec<Option<Fact>>,
    /// Titles of the songs that the numbers rest on, where they rest on single songs.
    pub songs: Vec<String>,
    /// Where it can be heard.
    pub evidence: Vec<Span>,
    /// Time in which the source was heard, in seconds.
    pub active_s: f64,
    /// Separate events behind the numbers.
    pub n_events: usize,
    /// How often it could have happened and did, where that is not once for the whole observation.
    pub chances: Option<Chances>,
    /// Time in which the fault would be heard, in seconds.
    pub affected_s: f64,
    /// What else the numbers rest on (activity, role): no confidence above this, 0 to 1.
    pub confidence_cap: f64,
    /// Whether the numbers rest on recordings right after the preamplifier.
    pub is_raw: bool,
    /// Own-to-spill, where the rule asks for it and the channel is a microphone.
    pub own_to_spill_db: Option<Fact>,
    /// Suggested change of the gain, in dB; negative for down.
    pub change_db: Option<f64>,
    /// A further sentence for the note.
    pub detail: Option<Cow<'static, str>>,
    /// A page that overrides the rule's.
    pub page: Option<Page>,
    /// Whether the safety wording of the rule applies.
    pub is_safety: bool,
    /// Ids of rules that would explain this elsewhere, and don't here.
    pub unexplained_by: &'static [&'static str],
    /// Why this is not judged at all, as a clause.
    pub withheld: Option<&'static str>,
    /// Why no finding is made where the target is missed, as a clause; meeting it counts.
    pub doubt: Option<&'static str>,
}

impl Observation {
    /// An observation of one channel over its active time.
    pub fn of(channel: &Channel, facts: Vec<Option<Fact>>) -> Self {
        Self {
            channels: vec![channel.id.clone()],
            role: channel.role,
            facts,
            active_s: channel.active_s,
            affected_s: channel.active_s,
            confidence_cap: channel.active_confidence,
            is_raw: channel.tap == Tap::Raw,
            own_to_spill_db: (!channel.is_line).then(|| channel.own_to_spill_db.clone()),
            ..Self::of_session(Vec::new(), channel.duration_s)
        }
    }

    /// An observation of the whole session.
    pub fn of_session(facts: Vec<Option<Fact>>, duration_s: f64) -> Self {
        Self {
            channels: Vec::new(),
            also: Vec::new(),
            subject: None,
            role: Role::Unknown,
            variant: "",
            facts,
            songs: Vec::new(),
            evidence: Vec::new(),
            active_s: duration_s,
            n_events: 0,
            chances: None,
            affected_s: duration_s,
            confidence_cap: 1.0,
            is_raw: false,
            own_to_spill_db: None,
            change_db: None,
            detail: None,
            page: None,
            is_safety: false,
            unexplained_by: &[],
            withheld: None,
            doubt: None,
        }
    }

    /// The same, not judged, and why.
    pub fn withheld(self, reason: &'static str) -> Self {
        Self { withheld: self.withheld.or(Some(reason)), ..self }
    }

    /// The same; where `holds`, a missed target is no finding, and why.
    pub fn doubted(self, holds: bool, reason: &'static str) -> Self {
        Self { doubt: self.doubt.or(holds.then_some(reason)), ..self }
    }
}
