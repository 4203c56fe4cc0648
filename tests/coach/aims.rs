//! Tests of the team's own targets.

use deskside::coach::{Aims, Options, Outcome, coach};
use deskside::reading::Reading;
use deskside::session::Role;
use deskside::unit::Fact;

use super::{judgement, rules};
use crate::support::readings::{channel, main_mix, session, song, with_main};

fn low_voice() -> Reading {
    let mut voice = channel(17, Role::LeadVocal);
    voice.name = "LV Lead".to_owned();
    voice.loud_level_dbfs = Fact::exact(-26.0);
    session(vec![voice])
}

fn advise(reading: &Reading, text: &str) -> deskside::coach::Advice {
    coach(reading, &Aims::parse(text).expect("the text is lawful"), &Options::default())
}

#[track_caller]
fn rejects(text: &str, sentence: &str) {
    let error = Aims::parse(text).expect_err("the text is not lawful");
    assert_eq!(error.to_string(), sentence, "for {text}");
}

#[test]
fn a_team_moves_an_end_for_one_role() {
    let text = "[[target]]\nrule = 'gain-too-low'\nnumber = 'loud level'\nrole = 'lead-vocal'\ngreen_low = -28\n";
    let advice = advise(&low_voice(), text);
    let found = judgement(&advice, "gain-too-low");
    assert_eq!(found.outcome, Outcome::OnTarget, "-26 lies inside the team's target");
    let target = found.target.expect("there is a target");
    assert_eq!((target.low, target.source), (Some(-28.0), "team"), "and says so");
    let other = "[[target]]\nrule = 'gain-too-low'\nnumber = 'loud level'\nrole = 'keys'\ngreen_low = -28\n";
    assert_eq!(
        judgement(&advise(&low_voice(), other), "gain-too-low").outcome,
        Outcome::Near,
        "not for keys"
    );
}

#[test]
fn a_team_switches_a_rule_off() {
    let advice = advise(&low_voice(), "off = ['gain-too-low']");
    assert!(
        advice.judgements.iter().all(|judgement| judgement.rule.id != "gain-too-low"),
        "not judged"
    );
    let silence = advice.not_judged.iter().find(|silence| silence.rules.contains(&"gain-too-low"));
    assert_eq!(silence.map(|silence| silence.reason.as_str()), Some("switched off by the team"));
}

#[test]
fn a_team_marks_a_channel_or_song_as_done_on_purpose() {
    let advice =
        advise(&low_voice(), "[[on_purpose]]\nrule = 'gain-too-low'\nchannel = 'lv lead'\n");
    assert!(advice.notes.is_empty(), "found {:?}", rules(&advice.notes));
    assert!(judgement(&advice, "gain-too-low").is_on_purpose, "kept with its mark");
    let mut main = main_mix();
    main.songs = ["Lamps", "Brambles"].map(|title| song(title, 100.0)).to_vec();
    for song in &mut main.songs {
        song.mono_fold_lu = Fact::exact(-7.0);
    }
    let reading = with_main(main);
    let mark = "[[on_purpose]]\nrule = 'mono-fold'\nsong = 'brambles'\n";
    assert!(rules(&advise(&reading, mark).notes).is_empty(), "the song is wide on purpose");
    let other = "[[on_purpose]]\nrule = 'mono-fold'\nsong = 'Copper Kettle Weather'\n";
    assert_eq!(
        rules(&advise(&reading, other).notes),
        ["mono-fold"],
        "another song's mark counts for nothing"
    );
}

#[test]
fn an_empty_text_changes_nothing() {
    assert_eq!(Aims::parse("").expect("empty is lawful"), Aims::default());
}

#[test]
fn rejects_what_it_does_not_know_in_one_sentence() {
    rejects(
        "off = ['gain-to-low']",
        "there is no rule `gain-to-low` (list the rules with `deskside explain --list`)",
    );
    rejects(
        "\n[[target]]\nrule = 'mic-far'\ngren_low = 1\n",
        "line 4: unknown field `gren_low`, expected one of `rule`, `number`, `role`, `variant`, `nights`, `green_low`, `green_high`, `amber_low`, `amber_high`",
    );
    rejects(
        "[[target]]\nrule = 'tone-ring'\ngreen_high = 1\n",
        "`tone-ring` is not judged yet, so it has no target to change",
    );
    rejects(
        "[[target]]\nrule = 'gain-too-low'\nnumber = 'loudness'\ngreen_low = -20\n",
        "`gain-too-low` has no number `loudness`; its numbers are: loud level, hit peak",
    );
    rejects(
        "[[target]]\nrule = 'gain-too-low'\ngreen_low = -20\n",
        "`gain-too-low` has several numbers, so `number` has to name one: loud level, hit peak",
    );
    rejects(
        "[[target]]\nrule = 'gain-too-low'\nnumber = 'hit peak'\nrole = 'keys'\ngreen_low = -20\n",
        "`gain-too-low` has no target for this number, role and variant",
    );
    rejects(
        "[[target]]\nrule = 'mic-far'\ngreen_high = 20\n",
        "the target of `mic-far` has no high end",
    );
    rejects(
        "[[on_purpose]]\nrule = 'mic-far'\n",
        "`on_purpose` for `mic-far` names neither a song nor a channel",
    );
}

#[test]
fn rejects_ends_that_cross() {
    let sentence = "the ends of `mic-far` cross: amber_low, green_low, green_high and amber_high rise in this order";
    rejects("[[target]]\nrule = 'mic-far'\ngreen_low = 5\n", sentence);
    rejects("[[target]]\nrule = 'mic-far'\ngreen_low = nan\n", sentence);
}
