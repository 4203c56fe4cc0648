//! Players: a kit and a stereo pair count once, mixes not at all.

use deskside::relate::activity::{Activity, Presence, Source};
use deskside::relate::segments::{Kind, segments};
use deskside::session::Role;
use deskside::unit::Span;

/// Whether a minute in which all these inputs sound at once is taken for a song. A bass and keys are there too, and
/// play together in the last minute, so that the session has more than one player.
fn is_song(roles: &[Role], kin: &[(usize, usize)]) -> bool {
    let sounds = |start_s: f64, end_s: f64| Activity {
        presence: Presence::Own,
        spans: vec![Span::new(start_s, end_s)],
        active_s: end_s - start_s,
        confidence: 0.9,
    };
    let mut sources: Vec<Source> =
        roles.iter().map(|&role| Source { role, is_line: false }).collect();
    let mut activities = vec![sounds(10.0, 70.0); roles.len()];
    for role in [Role::Bass, Role::Keys] {
        sources.push(Source { role, is_line: true });
        activities.push(sounds(120.0, 180.0));
    }
    let found = segments(&activities, &sources, kin, &[], 200.0);
    found.iter().any(|stretch| stretch.kind == Kind::Song && stretch.span.holds(40.0))
}

#[test]
fn drummer_alone_is_one_player_however_many_microphones() {
    let kit = [Role::Kick, Role::SnareTop, Role::HiHat, Role::Tom, Role::Overhead, Role::Overhead];
    assert!(!is_song(&kit, &[]), "a drummer warms up");
    assert!(is_song(&[Role::Kick, Role::SnareTop, Role::Bass], &[]), "drums and bass play a song");
}

#[test]
fn hand_drums_beside_a_kit_are_another_player() {
    assert!(is_song(&[Role::Kick, Role::Percussion], &[]), "two players");
}

#[test]
fn two_sides_are_one_player() {
    let keys = [Role::Keys, Role::Keys];
    assert!(!is_song(&keys, &[(0, 1)]), "left and right of one instrument");
    assert!(is_song(&keys, &[]), "two instruments");
}

#[test]
fn mixes_rooms_and_clicks_are_no_players() {
    for role in [Role::Main, Role::MonitorMix, Role::Room, Role::Click, Role::FxReturn] {
        assert!(!is_song(&[Role::AcousticGuitar, role], &[]), "a guitar and {role:?}");
    }
}
