//! `deskside explain`: one rule, or all of them.

use super::args::Explain;
use super::{Outcome, place};
use crate::coach::{RESERVED, RULES, rule};
use crate::report::handbook;

/// Explains a rule or lists all.
pub(super) fn run(arguments: &Explain) -> Outcome {
    one(arguments).map_err(|error| vec![error])
}

fn one(arguments: &Explain) -> Result<(), String> {
    let look = place::look(false);
    let Some(id) = arguments.rule.as_deref().filter(|_| !arguments.list) else {
        return place::print(&handbook::list(look, RULES, RESERVED));
    };
    if let Some(rule) = rule(id) {
        return place::print(&handbook::explain(look, rule));
    }
    if let Some(reserved) = RESERVED.iter().find(|reserved| reserved.id == id) {
        return place::print(&handbook::explain_reserved(look, reserved));
    }
    Err(format!("there is no rule `{id}` (list the rules with `deskside explain --list`)"))
}
