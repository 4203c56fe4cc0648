//! Plug or phantom bang in the system.
//!
//! Looks at bangs of one input after which its floor is another. Never counts a hit that many inputs hear.

use crate::coach::pick;
use crate::coach::rule::{
    Combine, Group, Guards, Limb, Need, Observation, Page, RawWording, Rule, Source, Tier, Window,
};
use crate::reading::{Channel, Events, Reading};
use crate::session::Tap;
use crate::unit::{Fact, Unit};

/// How sure a single bang is.
const SURE: f64 = 0.8;

pub(super) const RULE: Rule = Rule {
    id: "plug-pop",
    title: "Plug or phantom bang in the system",
    group: Group::Habits,
    tier: Tier::B,
    effect: 3,
    ease: 1,
    explains: &["ear-spike"],
    measures: "Bangs of 50 ms at most, 25 dB or more over the level around them, after which the channel's floor is higher or lower by 6 dB or more, while the channel is open in the mix.",
    limbs: &[Limb {
        name: "bangs",
        unit: Unit::Count,
        windows: &[Window::at_most(0.0, 1.0, Source::CommonPractice)],
    }],
    combine: Combine::Worst,
    needs: &[Need::Raw],
    guards: Guards { min_active_s: 0.0, ..Guards::USUAL },
    guard_text: "Inputs other than drums; the floor is another within 0.15 s and stays so; no more than a quarter of the other inputs get louder by 10 dB at the moment, or move their floors by half as much; where the mix was read, the channel is open in it; else for the mentor.",
    absent: "no input was recorded",
    heard: "{who} {is} plugged or switched while open",
    why: "Bangs can harm ears, loudspeakers and nerves.",
    advice: &[
        "Mute the channel and its sends first, then plug or unplug, wait 5 s, then open; nobody listens by in-ears meanwhile.",
        "Switch phantom power with the mutes on only.",
        "Make a sign with the stage before anybody pulls a plug.",
    ],
    backing: &[Source::CommonPractice],
    shows: "Times, and the floor before and after.",
    fooled_by: "a single loud hit into silence before the music starts",
    other_causes: "a loose plug, a pack that is switched on, a pedal that is kicked",
    question: "Who plugged or switched something there, and was the channel muted?",
    exercise: "Swap a cable with the stage: mute, sign, plug, wait 5 s, open; three times, 3 minutes.",
    praise: None,
    page: Page::Trainee,
    raw_wording: RawWording::Finding,
    safety: None,
    observe,
};

fn observe(reading: &Reading) -> Vec<Observation> {
    pick::inputs(reading)
        .filter(|input| input.tap == Tap::Raw)
        .map(|input| of(reading, input))
        .collect()
}

fn of(reading: &Reading, input: &Channel) -> Observation {
    let in_mix = reading.mix.as_ref().and_then(|mix| mix.channel(&input.id));
    let is_open = |at_s: &f64| {
        in_mix.is_none_or(|one| one.is_in_mix && one.on.iter().any(|span| span.holds(*at_s)))
    };
    let at_s: Vec<f64> = input.plug_pops.at_s.iter().copied().filter(is_open).collect();
    let bangs = Events { count: at_s.len(), at_s };
    Observation {
        n_events: bangs.count,
        evidence: pick::moments(&bangs),
        // A bang is heard however little the source plays.
        confidence_cap: 1.0,
        page: in_mix.is_none().then_some(Page::Mentor),
        ..Observation::of(input, vec![Some(Fact::sure(bangs.count as f64, SURE))])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coach::Outcome::{Near, OnTarget, Outside};
    use crate::coach::example::{channel, judged, mixed, only, session};
    use crate::session::Role;
    use crate::unit::Span;

    fn banging(at_s: &[f64]) -> Channel {
        let mut bass = channel(10, Role::Bass);
        bass.plug_pops = Events { count: at_s.len(), at_s: at_s.to_vec() };
        bass
    }

    #[test]
    fn fires_on_a_bang() {
        assert_eq!(only(&RULE, &session(vec![banging(&[60.0])])), Near, "one");
        assert_eq!(only(&RULE, &session(vec![banging(&[60.0, 90.0])])), Outside, "two");
    }

    #[test]
    fn stays_quiet_without_a_bang() {
        assert_eq!(only(&RULE, &session(vec![banging(&[])])), OnTarget, "none");
    }

    #[test]
    fn is_not_fooled_by_a_muted_channel() {
        let mut reading = mixed(vec![channel(10, Role::Bass)]);
        let id = reading.channels[0].id.clone();
        reading.channels[0].plug_pops = Events { count: 1, at_s: vec![60.0] };
        for one in reading.mix.iter_mut().flat_map(|mix| &mut mix.channels) {
            one.on = vec![Span::new(100.0, 200.0)];
        }
        let of_bass = |reading: &Reading| {
            let all = judged(&RULE, reading);
            let found = all.into_iter().find(|one| one.channels.contains(&id));
            found.expect("the bass is judged").outcome
        };
        assert_eq!(of_bass(&reading), OnTarget, "closed");
        reading.channels[0].plug_pops.at_s = vec![150.0];
        assert_eq!(of_bass(&reading), Near, "open");
    }
}
