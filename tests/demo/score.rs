//! Tests of `demo::score`: who plays when.

use deskside::demo::{
    scene::{Part, Scene},
    score::write,
    source::Note,
};

fn notes(scene: &Scene, source: &str) -> Vec<Note> {
    write(scene).remove(scene.source_idx(source).unwrap())
}

/// A player may be this late or a tune that much shorter, in seconds.
const TOUCH_S: f64 = 0.03;

#[test]
fn parts_play_in_their_sections_only() {
    let scene = Scene::cut();
    let bar_s = 4.0 * 60.0 / 112.0;
    let song_s = scene.songs[0].start_s;
    // Intro of 2 bars, verse of 6, chorus of 8, outro of 2.
    let chorus_s = song_s + 8.0 * bar_s..song_s + 16.0 * bar_s + TOUCH_S;
    let after_checks = |note: &&Note| note.start_s > 12.0;
    for singer in ["above", "below", "singer-3"] {
        let notes = notes(&scene, singer);
        let mut sung = notes.iter().filter(after_checks).peekable();
        assert!(sung.peek().is_some(), "{singer} sings");
        for note in sung {
            assert!(chorus_s.contains(&note.start_s), "{singer} sings at {} s", note.start_s);
        }
    }
}

#[test]
fn the_tune_stays_in_its_key() {
    let scene = Scene::full();
    // D major, G minor, E minor: half tones above the tonic.
    let keys =
        [(62, [0, 2, 4, 5, 7, 9, 11]), (55, [0, 2, 3, 5, 7, 8, 10]), (64, [0, 2, 3, 5, 7, 8, 10])];
    for ((tonic, steps), song) in keys.iter().zip(&scene.songs) {
        let end_s = song.start_s + 105.0;
        let sung = notes(&scene, "lead");
        let sung = sung.iter().filter(|n| n.start_s >= song.start_s && n.start_s < end_s);
        for note in sung {
            let above = (note.pitch - f64::from(*tonic)).rem_euclid(12.0);
            let in_key = steps.iter().any(|step| (f64::from(*step) - above).abs() < 1e-9);
            assert!(in_key, "{}: {above} half tones", song.title);
        }
    }
}

#[test]
fn an_octave_moves_every_note_and_no_time() {
    let mut scene = Scene::cut();
    let usual = notes(&scene, "lead");
    let lead = scene.source_idx("lead").unwrap();
    scene.sources[lead].octave = -1;
    let low = notes(&scene, "lead");
    assert_eq!(usual.len(), low.len(), "the same notes");
    let moved = usual
        .iter()
        .zip(&low)
        .all(|(usual, low)| *low == Note { pitch: usual.pitch - 12.0, ..*usual });
    assert!(moved && !low.is_empty(), "an octave lower");
}

#[test]
fn toms_play_through_where_they_lead() {
    let mut scene = Scene::cut();
    let first = |scene: &Scene, source: &str| {
        let sheet = notes(scene, source);
        sheet.iter().filter(|note| (26.0..30.4).contains(&note.start_s)).count()
    };
    let before = ["rack", "floor-tom"].map(|tom| first(&scene, tom));
    // The opening has two bars, too few for a fill.
    assert_eq!(before, [0, 0]);
    scene.songs[0].sections[0].solo = Some(Part::Floor);
    assert_eq!(["rack", "floor-tom"].map(|tom| first(&scene, tom)), [8, 10], "each bar alike");
}

#[test]
fn a_verse_has_the_same_tune_each_time() {
    let scene = Scene::full();
    let bar_s = 4.0 * 60.0 / 112.0;
    let song_s = scene.songs[0].start_s;
    let sung = notes(&scene, "lead");
    let verse = |from_bar: f64| -> Vec<f64> {
        let (from, to) =
            (song_s + from_bar * bar_s - 0.01, song_s + (from_bar + 8.0) * bar_s - 0.01);
        sung.iter().filter(|n| (from..to).contains(&n.start_s)).map(|n| n.pitch).collect()
    };
    let (first, second) = (verse(3.0), verse(19.0));
    assert!(first.len() > 16, "{} notes in a verse", first.len());
    let same = first.iter().zip(&second).all(|(a, b)| (a - b).abs() < 0.5);
    assert!(same && first.len() == second.len(), "the verses differ");
}

#[test]
fn talk_starts_and_ends_with_its_span_and_pauses_between() {
    let scene = Scene::full();
    let host = notes(&scene, "host");
    let welcome: Vec<&Note> = host.iter().filter(|n| (56.0..80.0).contains(&n.start_s)).collect();
    let (first, last) = (welcome.first().unwrap(), welcome.last().unwrap());
    assert!((first.start_s - 56.6).abs() < 1e-9, "starts at {} s", first.start_s);
    assert!((last.start_s + last.length_s - 79.0).abs() < 1e-9, "ends late or early");
    for pair in welcome.windows(2) {
        let pause_s = pair[1].start_s - pair[0].start_s - pair[0].length_s;
        assert!((0.45..0.8).contains(&pause_s), "pause of {pause_s} s");
    }
}

#[test]
fn heads_of_one_drum_and_sides_of_one_piano_have_one_sheet() {
    let scene = Scene::cut();
    for (a, b) in [("snare", "snare-under"), ("keys-left", "keys-right")] {
        let in_song = |source| -> Vec<Note> {
            notes(&scene, source).into_iter().filter(|note| note.start_s > 12.0).collect()
        };
        assert_eq!(in_song(a), in_song(b), "{a} and {b}");
    }
}
