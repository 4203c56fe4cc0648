//! The team's own targets: ends of a target by rule and role, rules switched off, things done on purpose.
//!
//! Takes the text of a `targets.toml`, never a path. What the file doesn't name stays as it is.

use serde::Deserialize;

use super::marks::Marks;
use super::reserved::RESERVED;
use super::rule::{Limb, Observation, Rule, Source, Window};
use super::rules::RULES;
use crate::reading::Reading;
use crate::session::{Role, is_same_name};

/// The team's own targets.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Aims {
    /// Ids of rules that are switched off.
    #[serde(default)]
    off: Vec<String>,
    #[serde(default, rename = "target")]
    targets: Vec<OwnTarget>,
    #[serde(default, rename = "on_purpose")]
    on_purpose: Vec<OnPurpose>,
    #[serde(skip)]
    marks: Marks,
}

/// Ends that replace those of a target.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct OwnTarget {
    rule: String,
    number: Option<String>,
    role: Option<Role>,
    variant: Option<String>,
    /// Good nights that it was learnt from.
    nights: Option<u32>,
    green_low: Option<f64>,
    green_high: Option<f64>,
    amber_low: Option<f64>,
    amber_high: Option<f64>,
}

/// What was done on purpose.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct OnPurpose {
    rule: String,
    song: Option<String>,
    channel: Option<String>,
}

/// What is wrong with a team's file, in one sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum AimsError {
    /// The text is no TOML, or a key or word is not known.
    #[error("line {line}: {message}")]
    Syntax {
        /// Line, from 1.
        line: usize,
        /// What is amiss there.
        message: String,
    },
    /// There is no rule of that name.
    #[error("there is no rule `{rule}` (list the rules with `deskside explain --list`)")]
    UnknownRule {
        /// The name.
        rule: String,
    },
    /// The rule has no target yet.
    #[error("`{rule}` is not judged yet, so it has no target to change")]
    NotJudgedYet {
        /// The rule.
        rule: String,
    },
    /// The rule has no such number.
    #[error("`{rule}` has no number `{number}`; its numbers are: {known}")]
    UnknownNumber {
        /// The rule.
        rule: String,
        /// The name.
        number: String,
        /// Its numbers.
        known: String,
    },
    /// The rule has several numbers and none was named.
    #[error("`{rule}` has several numbers, so `number` has to name one: {known}")]
    WhichNumber {
        /// The rule.
        rule: String,
        /// Its numbers.
        known: String,
    },
    /// The rule has no target for this role and variant.
    #[error("`{rule}` has no target for this number, role and variant")]
    NoTarget {
        /// The rule.
        rule: String,
    },
    /// The target is open on this side.
    #[error("the target of `{rule}` has no {side} end")]
    OpenEnd {
        /// The rule.
        rule: String,
        /// `low` or `high`.
        side: &'static str,
    },
    /// The ends cross.
    #[error(
        "the ends of `{rule}` cross: amber_low, green_low, green_high and amber_high rise in this order"
    )]
    Crossed {
        /// The rule.
        rule: String,
    },
    /// Neither song nor channel is named.
    #[error("`on_purpose` for `{rule}` names neither a song nor a channel")]
    NoPlace {
        /// The rule.
        rule: String,
    },
}

impl Aims {
    /// Reads the text of a team's file.
    ///
    /// # Errors
    ///
    /// [`AimsError`] for text that is no TOML, an unknown key, rule, number or role, and ends that cross.
    pub fn parse(text: &str) -> Result<Self, AimsError> {
        let aims: Self = toml::from_str(text).map_err(|error| {
            let offset = error.span().map_or(0, |span| span.start);
            let line = 1 + text.bytes().take(offset).filter(|byte| *byte == b'\n').count();
            AimsError::Syntax { line, message: error.message().replace('\n', ", ") }
        })?;
        for rule in &aims.off {
            known(rule)?;
        }
        for mark in &aims.on_purpose {
            known(&mark.rule)?;
            if mark.song.is_none() && mark.channel.is_none() {
                return Err(AimsError::NoPlace { rule: mark.rule.clone() });
            }
        }
        for target in &aims.targets {
            target.check()?;
        }
        Ok(aims)
    }

    /// The same, with what the team said of earlier notes.
    pub fn with_marks(self, marks: Marks) -> Self {
        Self { marks, ..self }
    }

    /// What the team said of earlier notes.
    pub const fn said(&self) -> &Marks {
        &self.marks
    }

    /// Whether a rule is switched off.
    pub fn is_off(&self, rule: &str) -> bool {
        self.off.iter().any(|id| id == rule)
    }

    /// The target in force: the given one with the ends that the team replaced. A later entry counts more.
    pub fn window(
        &self,
        rule: &str,
        number: &str,
        observation: &Observation,
        window: Window,
    ) -> Window {
        self.targets
            .iter()
            .filter(|own| {
                own.rule == rule && own.is_for(number, observation.role, observation.variant)
            })
            .fold(window, |window, own| own.over(window))
    }

    /// The targets of a number that the team replaced, each with the role it holds for (`None` for all of the target's).
    pub fn replaced(&self, rule: &Rule, limb: &Limb) -> Vec<(Option<Role>, Window)> {
        let own = self.targets.iter().filter(|own| {
            own.rule == rule.id && own.number.as_deref().is_none_or(|number| number == limb.name)
        });
        own.flat_map(|own| {
            let fitting = limb.windows.iter().filter(|window| own.fits(window));
            fitting.map(|window| (own.role, own.over(*window)))
        })
        .collect()
    }

    /// What the file does beside targets, a sentence each: rules switched off, things done on purpose.
    pub fn marks(&self) -> Vec<String> {
        let off = self.off.iter().map(|rule| format!("`{rule}` is switched off."));
        let on_purpose = self.on_purpose.iter().map(|mark| {
            let places: Vec<String> = [("song", &mark.song), ("channel", &mark.channel)]
                .into_iter()
                .filter_map(|(what, name)| Some(format!("{what} `{}`", name.as_ref()?)))
                .collect();
            format!("`{}` is on purpose for {}.", mark.rule, places.join(" and "))
        });
        off.chain(on_purpose).collect()
    }

    /// Whether the team marked the observation as done on purpose, by song or channel.
    pub fn is_on_purpose(&self, rule: &str, observation: &Observation, reading: &Reading) -> bool {
        let is_channel = |label: &str| {
            observation.channels.iter().any(|id| {
                id == label
                    || reading.channel(id).is_some_and(|channel| is_same_name(&channel.name, label))
            })
        };
        self.on_purpose.iter().filter(|mark| mark.rule == rule).any(|mark| {
            mark.channel.as_deref().is_none_or(is_channel)
                && mark.song.as_deref().is_none_or(|title| {
                    observation.songs.iter().any(|song| is_same_name(song, title))
                })
        })
    }
}

impl OwnTarget {
    fn is_for(&self, number: &str, role: Role, variant: &str) -> bool {
        self.number.as_deref().is_none_or(|own| own == number)
            && self.role.is_none_or(|own| own == role)
            && self.variant.as_deref().is_none_or(|own| own == variant)
    }

    fn over(&self, mut window: Window) -> Window {
        let replace = |end: &mut Option<f64>, own: Option<f64>| *end = own.or(*end);
        replace(&mut window.green.low, self.green_low);
        replace(&mut window.green.high, self.green_high);
        replace(&mut window.amber.low, self.amber_low);
        replace(&mut window.amber.high, self.amber_high);
        window.source = self.nights.map_or(Source::Team, Source::Nights);
        window
    }

    fn fits(&self, window: &Window) -> bool {
        let has_role =
            self.role.is_none_or(|own| window.roles.is_empty() || window.roles.contains(&own));
        let has_variant = self
            .variant
            .as_deref()
            .is_none_or(|own| window.variant.is_empty() || window.variant == own);
        has_role && has_variant
    }

    fn check(&self) -> Result<(), AimsError> {
        let rule = || self.rule.clone();
        let law = known(&self.rule)?.ok_or_else(|| AimsError::NotJudgedYet { rule: rule() })?;
        let limb = self.limb(law)?;
        let mut n_fitting = 0;
        for window in limb.windows {
            if !self.fits(window) {
                continue;
            }
            n_fitting += 1;
            if window.green.low.is_none() && self.green_low.or(self.amber_low).is_some() {
                return Err(AimsError::OpenEnd { rule: rule(), side: "low" });
            }
            if window.green.high.is_none() && self.green_high.or(self.amber_high).is_some() {
                return Err(AimsError::OpenEnd { rule: rule(), side: "high" });
            }
            let new = self.over(*window);
            let ends = [new.amber.low, new.green.low, new.green.high, new.amber.high];
            let ends: Vec<f64> = ends.into_iter().flatten().collect();
            if !ends.is_sorted() || ends.iter().any(|end| !end.is_finite()) {
                return Err(AimsError::Crossed { rule: rule() });
            }
        }
        if n_fitting == 0 { Err(AimsError::NoTarget { rule: rule() }) } else { Ok(()) }
    }

    /// The limb that is meant: the named one, or the only one.
    fn limb(&self, law: &'static Rule) -> Result<&'static Limb, AimsError> {
        let known = || law.limbs.iter().map(|limb| limb.name).collect::<Vec<_>>().join(", ");
        let number = match (&self.number, law.limbs) {
            (None, [only]) => return Ok(only),
            (None, _) => {
                return Err(AimsError::WhichNumber { rule: self.rule.clone(), known: known() });
            }
            (Some(number), _) => number.clone(),
        };
        law.limbs.iter().find(|limb| limb.name == number).ok_or_else(|| AimsError::UnknownNumber {
            rule: self.rule.clone(),
            number,
            known: known(),
        })
    }
}

/// The rule of a name, or nothing where it is known but not judged yet.
fn known(id: &str) -> Result<Option<&'static Rule>, AimsError> {
    let rule = RULES.iter().copied().find(|rule| rule.id == id);
    if rule.is_none() && RESERVED.iter().all(|reserved| reserved.id != id) {
        return Err(AimsError::UnknownRule { rule: id.to_owned() });
    }
    Ok(rule)
}
