//! The first `session.toml`: it reads back, and states no more than is known.

use std::path::Path;

use deskside::session::note::parse;
use deskside::session::{Role, RoleSource, Session, first_note};

use crate::support::folders::Scratch;

/// The session as it is read with its own first note beside it.
fn reread(scratch: &Scratch, session: &Session) -> Session {
    scratch.text("session.toml", &first_note(session));
    scratch.session()
}

#[test]
fn a_first_note_reads_back_to_the_same_channels() {
    let scratch = Scratch::new();
    scratch.wave("01 Kik.wav", 1, 480).wave("02 Gtr.wav", 1, 480).wave("CH03.wav", 1, 480);
    scratch.wave("13-14 Keys.wav", 2, 480).wave("mains/Main L.wav", 1, 480);
    scratch.wave("mains/Main R.wav", 1, 480).wave("17 LV.wav", 1, 480);
    scratch.wave("18 LV proc.wav", 1, 480);
    let first = scratch.session();
    let second = reread(&scratch, &first);
    assert!(second.warnings.is_empty(), "no doubt about it: {:?}", second.warnings);
    let facts = |session: &Session| -> Vec<_> {
        let channels = session.channels.iter();
        channels
            .map(|c| (c.id.clone(), c.name.clone(), c.role, c.tap, c.side, c.partner, c.raw))
            .collect()
    };
    assert_eq!(facts(&first), facts(&second), "the same channels");
    assert_eq!(first_note(&second).matches("role = \"kick\"\n").count(), 1, "now stated");
}

#[test]
fn a_sure_role_is_stated_and_an_open_one_suggested() {
    let scratch = Scratch::new();
    scratch.wave("01 Kik.wav", 1, 480).wave("02 Gtr.wav", 1, 480).wave("CH03.wav", 1, 480);
    let text = first_note(&scratch.session());
    assert!(text.contains("\nrole = \"kick\"  # from the name, confidence 0.95"), "{text}");
    assert!(
        text.contains("\n# role = \"electric guitar\"  # from the name, confidence 0.75, may also be acoustic guitar"),
        "{text}"
    );
    assert!(text.contains("# role = \"…\"  # the name does not tell"), "{text}");
    let session = reread(&scratch, &scratch.session());
    let sources: Vec<_> = session.channels.iter().map(|c| (c.role, c.role_source)).collect();
    assert_eq!(
        sources,
        [
            (Role::Kick, RoleSource::Stated),
            (Role::ElectricGuitar, RoleSource::Name),
            (Role::Unknown, RoleSource::None)
        ],
        "only the sure one counts as stated"
    );
    assert!(!session.taps_stated(), "taps are suggestions");
}

#[cfg(unix)]
#[test]
fn odd_file_names_read_back() {
    use std::os::unix::ffi::OsStrExt;
    let scratch = Scratch::new();
    for name in ["a \"b\".wav", "back\\slash.wav", "hash # tag.wav", "line\nbreak.wav", "tab\t.wav"]
    {
        scratch.wave(name, 1, 480);
    }
    for odd in [b"odd \xff.wav", b"odd \xfe.wav"] {
        let path = scratch.path().join(std::ffi::OsStr::from_bytes(odd));
        std::fs::copy(scratch.path().join("tab\t.wav"), path).expect("copied");
    }
    let session = scratch.session();
    let text = first_note(&session);
    let note = parse(&text, Path::new("session.toml")).map_err(|error| error.sentence());
    let files: Vec<_> = note.expect("it reads back").channels.into_iter().map(|c| c.file).collect();
    for take in &session.takes {
        assert!(files.contains(&Some(take.label.clone())), "`{}` in {text}", take.label);
    }
}
