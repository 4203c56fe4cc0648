//! `deskside targets`: the targets in force, and a check of a team's file.

use super::args::Targets;
use super::{Outcome, place, review};
use crate::coach::{Aims, RULES};
use crate::report::targets::{changed, shown};

/// Shows or checks.
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
        Targets::Check { file } => place::print(&changed(look, RULES, &review::aims(file)?)),
    }
}
