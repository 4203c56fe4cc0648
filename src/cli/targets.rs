//! `deskside targets`: the targets in force, a check of a team's file, and one learnt from good nights.

use std::path::{Path, PathBuf};

use super::args::Targets;
use super::{Outcome, output, place, review};
use crate::coach::{Aims, RULES};
use crate::error::Error;
use crate::history::{GoodNight, MIN_NIGHTS, learn};
use crate::report::json::SCHEMA;
use crate::report::targets::{changed, learnt, shown};
use crate::report::text;

/// Shows, learns or checks.
pub(super) fn run(arguments: &Targets) -> Outcome {
    one(arguments).map_err(|error| vec![error])
}

fn one(arguments: &Targets) -> Result<(), String> {
    let look = place::look(false);
    match arguments {
        Targets::Show { targets } => {
            let aims = targets.as_deref().map_or_else(|| Ok(Aims::default()), review::aims)?;
            place::print(&shown(look, RULES, &aims))
        }
        Targets::Learn { reviews, out } => learn_from(reviews, out.as_deref()),
        Targets::Check { file } => place::print(&changed(look, RULES, &review::aims(file)?)),
    }
}

/// Learns a team's file. Nights that are left out are told, and so is a window that lies far from the general one.
fn learn_from(reviews: &[PathBuf], out: Option<&Path>) -> Result<(), String> {
    let nights: Result<Vec<GoodNight>, Error> = reviews.iter().map(|path| night(path)).collect();
    let found = learn(nights.map_err(|error| error.sentence())?);
    for (name, reason) in &found.left_out {
        place::complain("warning", &format!("`{name}` is left out: {reason}"));
    }
    if found.n_nights < MIN_NIGHTS {
        let n_nights = text::counted(found.n_nights, "good night");
        return Err(format!(
            "{n_nights} can't tell what is usual: {MIN_NIGHTS} are needed (name more reviews)"
        ));
    }
    for own in found.windows.iter().filter(|own| own.is_far) {
        place::complain(
            "warning",
            &format!(
                "`{}` of {}: the own window lies far beyond the general one; listen whether the team got used to a fault",
                own.rule.id,
                own.role.word()
            ),
        );
    }
    let file = learnt(&found);
    match out {
        Some(path) => output::write_new(path, file.as_bytes()).map_err(|error| error.sentence()),
        None => place::print(&file),
    }
}

fn night(path: &Path) -> Result<GoodNight, Error> {
    let text = output::read_text(path)?;
    GoodNight::read(&text, SCHEMA).map_err(|cause| {
        Error::new("cannot use", path, cause, "review the recordings again with this version")
    })
}
