//! Roles by sound, with sounds made from the centres of the band windows: a sound in the middle of its own window.

use std::path::Path;

use deskside::session::{
    NameRole, Role, RoleSource, Settled, Sound, reconcile, role_by_sound, roles,
};

/// Half of a window without a low end, as in the definition of the score.
const OPEN_HALF_DB: f64 = 7.0;

/// Band shares in the middle of a role's window.
fn centre(role: Role) -> [Option<f64>; 10] {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/roles/windows.csv");
    let text = std::fs::read_to_string(path).expect("the corpus holds the windows");
    let line = text
        .lines()
        .find(|line| line.split(',').next() == Some(role.word()))
        .expect("the role has a window");
    let ends: Vec<Option<f64>> = line.split(',').skip(2).map(|field| field.parse().ok()).collect();
    std::array::from_fn(|idx| {
        let high_db = ends[2 * idx + 1].expect("the high end is known");
        Some(ends[2 * idx].map_or(high_db - OPEN_HALF_DB, |low_db| (low_db + high_db) / 2.0))
    })
}

/// A sound in the middle of a role's window, in the manner that is usual for it.
fn typical(role: Role) -> Sound {
    let (crest_db, hits_per_s, active_share, is_line_like, pause_share) = match role {
        Role::Kick | Role::SnareTop | Role::SnareBottom => (20.0, 1.5, 0.6, false, 0.2),
        Role::HiHat => (18.0, 4.0, 0.7, false, 0.1),
        Role::Tom => (22.0, 0.4, 0.1, false, 0.3),
        Role::Percussion => (20.0, 3.0, 0.6, false, 0.2),
        Role::Overhead => (17.0, 2.0, 0.8, false, 0.05),
        Role::Speech => (17.0, 0.1, 0.2, false, 0.35),
        Role::LeadVocal | Role::BackingVocal => (16.0, 0.1, 0.5, false, 0.25),
        Role::Bass | Role::Keys => (13.0, 0.1, 0.8, true, 0.05),
        Role::AcousticGuitar => (17.0, 0.1, 0.7, true, 0.1),
        Role::Playback => (12.0, 0.1, 0.3, true, 0.02),
        _ => (14.0, 0.1, 0.6, false, 0.1),
    };
    let window = if role == Role::Playback { Role::Main } else { role };
    Sound { band_db: centre(window), crest_db, hits_per_s, active_share, is_line_like, pause_share }
}

const WINDOWED: [Role; 19] = [
    Role::Speech,
    Role::LeadVocal,
    Role::BackingVocal,
    Role::Choir,
    Role::Kick,
    Role::SnareTop,
    Role::SnareBottom,
    Role::HiHat,
    Role::Tom,
    Role::Overhead,
    Role::Percussion,
    Role::Bass,
    Role::AcousticGuitar,
    Role::ElectricGuitar,
    Role::Keys,
    Role::Strings,
    Role::Brass,
    Role::Woodwind,
    Role::Playback,
];

fn name(name: &str) -> NameRole {
    roles(&[name]).remove(0)
}

/// What comes of a name alone in its list and a typical sound.
fn check(label: &str, sound: Role) -> Settled {
    reconcile(&name(label), &typical(sound))
}

#[test]
fn a_typical_sound_is_among_the_three_best_of_its_role() {
    for role in WINDOWED {
        let scores = role_by_sound(&typical(role));
        let place = scores.iter().position(|&(scored, _)| scored == role).expect("it is scored");
        assert!(place < 3, "{} is number {} of {:?}", role.word(), place + 1, &scores[..4]);
    }
}

#[test]
fn a_typical_drum_bass_or_playback_is_the_best_of_its_role() {
    for role in [Role::Kick, Role::SnareTop, Role::HiHat, Role::Tom, Role::Bass, Role::Playback] {
        let scores = role_by_sound(&typical(role));
        assert_eq!(scores[0].0, role, "best of {:?}", &scores[..3]);
    }
}

#[test]
fn scores_lie_between_0_and_1_and_fall() {
    let scores = role_by_sound(&typical(Role::Keys));
    assert!(scores.iter().all(|(_, score)| (0.0..=1.0).contains(score)), "{scores:?}");
    assert!(scores.windows(2).all(|pair| pair[0].1 >= pair[1].1), "{scores:?}");
}

#[test]
fn hh_is_decided_by_its_sound() {
    let handheld = check("HH", Role::Speech);
    assert_eq!((handheld.role, handheld.source), (Role::Speech, RoleSource::Sound), "handheld");
    let hat = check("HH", Role::HiHat);
    assert_eq!((hat.role, hat.source), (Role::HiHat, RoleSource::Name), "hi-hat");
    assert!(hat.confidence > name("HH").confidence, "the sound makes the name surer");
}

#[test]
fn tom_is_decided_by_its_sound() {
    assert_eq!(check("Tom", Role::Tom).role, Role::Tom, "a drum");
    let person = check("Tom", Role::LeadVocal).role;
    assert_eq!(person.family(), deskside::session::Family::Voice, "a singer");
}

#[test]
fn a_plain_guitar_is_acoustic_by_its_edge() {
    // The electric guitar's window ends at -18 dB there, the acoustic one's at -12 dB.
    let mut bright = typical(Role::AcousticGuitar);
    bright.band_db[8] = Some(-15.0);
    assert_eq!(reconcile(&name("Gtr"), &bright).role, Role::AcousticGuitar, "bright");
    assert_eq!(check("Gtr", Role::ElectricGuitar).role, Role::ElectricGuitar, "dark");
    assert_eq!(
        check("E Gtr", Role::AcousticGuitar).role,
        Role::ElectricGuitar,
        "a sure name stays"
    );
}

#[test]
fn a_bare_name_takes_a_clear_sound_only() {
    let kick = check("CH07", Role::Kick);
    assert_eq!((kick.role, kick.source), (Role::Kick, RoleSource::Sound), "clear");
    assert!(kick.confidence <= 0.6, "sound alone is never sure, found {}", kick.confidence);
    // Lead and backing voices sound alike: neither is claimed.
    let voice = check("CH07", Role::LeadVocal);
    assert_eq!((voice.role, voice.source), (Role::Unknown, RoleSource::None), "not clear");
}

#[test]
fn a_sure_name_stands_and_the_contradiction_is_told() {
    let wrong = check("Lead Vox", Role::Kick);
    assert_eq!(wrong.role, Role::LeadVocal, "the name stands");
    assert_eq!(wrong.contradiction, Some(Role::Kick), "the sound is told");
    assert_eq!(check("Kick In", Role::Kick).contradiction, None, "agreement");
}

#[test]
fn roles_without_a_window_are_never_contradicted() {
    assert_eq!(check("Click", Role::Kick).contradiction, None, "a click may sound like anything");
}

#[test]
fn a_sound_without_bands_tells_nothing() {
    let mute = Sound { band_db: [None; 10], ..typical(Role::Kick) };
    assert!(role_by_sound(&mute).is_empty(), "no band, no score");
    assert_eq!(reconcile(&name("CH07"), &mute).role, Role::Unknown, "and no role");
}
