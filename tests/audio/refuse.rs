//! What is no sound is refused in one clear sentence, with what to do.

use std::path::Path;

use deskside::audio::{TrustHeader, is_audio_name, probe};

use crate::support::codedfile::{aiff, caf, flac};
use crate::support::wavefile::{
    Kind, chunk, plain, plain_format, put, riff, sized_chunk, tagged_format,
};

/// Checks that the file is refused for this cause.
fn refused(name: &str, bytes: &[u8], cause: &str) {
    let folder = tempfile::tempdir().expect("a scratch folder");
    refused_at(&put(folder.path(), name, bytes), cause);
}

fn refused_at(path: &Path, cause: &str) {
    let error = probe(path, TrustHeader::No).expect_err("it can't be read");
    assert!(error.cause.contains(cause), "{cause:?} in {:?}", error.sentence());
    assert_eq!(error.path, path, "the path is named");
    let tail = error.hint.chars().last();
    assert!(tail.is_some_and(|c| c != '.'), "the hint is a clause: {:?}", error.hint);
    assert!(!error.sentence().contains('\n'), "one line: {:?}", error.sentence());
}

#[test]
fn an_empty_file() {
    refused("x.wav", b"", "it is empty (0 bytes)");
}

#[test]
fn text_with_the_name_of_sound() {
    refused("x.wav", b"Kick was too loud tonight.\r\n", "it holds text, not sound");
    refused("x.mp3", "Schlagzeug zu laut: ä\n".repeat(100).as_bytes(), "it holds text, not sound");
}

#[test]
fn bytes_that_are_nothing() {
    refused("x.wav", &[0x5a_u8; 5_000].map(|b| b | 0x80), "no sound was found in it");
    refused("x.flac", &[0; 5_000], "no sound was found in it");
}

#[test]
fn a_header_cut_off() {
    let bytes = plain(Kind::S24, 100, 1, 48_000);
    refused("x.wav", &bytes[..13], "it ends inside its header");
    refused("x.wav", &bytes[..30], "it");
    refused("x.wav", &bytes[..36], "it ends before the sound begins");
    refused("x.wav", &bytes[..44], "no sound after it");
}

#[test]
fn a_header_without_format() {
    refused("x.wav", &riff(&[chunk(b"data", &[1; 60])]), "does not say how the sound is stored");
}

#[test]
fn a_header_that_can_t_be_true() {
    let with = |format: Vec<u8>| riff(&[chunk(b"fmt ", &format), chunk(b"data", &[1; 60])]);
    refused("x.wav", &with(plain_format(Kind::S24, 0, 48_000)), "names 0 channels, 1 to 1024");
    refused("x.wav", &with(tagged_format(1, 8, 5_000, 48_000)), "names 5000 channels");
    refused("x.wav", &with(plain_format(Kind::S24, 1, 0)), "a sample rate of 0 Hz");
    refused("x.wav", &with(tagged_format(1, 48, 1, 48_000)), "samples of 48 bits");
    refused("x.wav", &with(tagged_format(3, 16, 1, 48_000)), "samples of 16 bits");
    refused("x.wav", &with(vec![0; 10]), "has 10 bytes, 16 are needed");
}

#[test]
fn codecs_that_can_t_be_decoded() {
    let mut ogg = b"OggS\0\x02\0\0\0\0\0\0\0\0\x01\0\0\0\0\0\0\0\0\0\0\0\x01\x13".to_vec();
    ogg.extend_from_slice(b"OpusHead\x01\x02\x38\x01\x80\xbb\0\0\0\0\0");
    refused("x.ogg", &ogg, "it is Opus");
    refused("x.wv", &[b"wvpk".as_slice(), &[1; 100]].concat(), "it is WavPack");
    let format = tagged_format(0x2_000, 16, 2, 48_000);
    let bytes = riff(&[chunk(b"fmt ", &format), sized_chunk(b"data", 400, &[7; 400])]);
    refused("x.wav", &bytes, "can't be decoded here (format tag 8192)");
}

#[test]
fn other_files_cut_off() {
    for (name, bytes) in
        [("x.aiff", aiff(2_000, 2)), ("x.caf", caf(2_000, 2)), ("x.flac", flac(2_000, 2))]
    {
        refused(name, &bytes[..40], "it is damaged or cut off");
    }
}

#[test]
fn a_folder_and_a_missing_file() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    refused_at(folder.path(), "it is a folder, a sound file is expected");
    refused_at(&folder.path().join("none.wav"), "it does not exist");
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_read() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = put(folder.path(), "x.wav", &plain(Kind::S24, 100, 1, 48_000));
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o0)).expect("the mode is set");
    // The administrator may read everything; then there is nothing to refuse.
    if std::fs::File::open(&path).is_err() {
        refused_at(&path, "the system does not permit to read it");
    }
}

#[cfg(unix)]
#[test]
fn a_socket_is_not_waited_for() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("x.wav");
    let _socket = std::os::unix::net::UnixListener::bind(&path).expect("a socket can be made");
    refused_at(&path, "neither a file nor a folder");
}

#[test]
fn names_of_sound_are_told_from_others() {
    for name in [
        "a.wav",
        "b/C.WAV",
        "d.e.Flac",
        "01 Kick.aif",
        "x.w64",
        "y.rf64",
        "z.m4a",
        "v.ogg",
        "w.opus",
    ] {
        assert!(is_audio_name(Path::new(name)), "{name} is sound");
    }
    for name in ["wav", ".wav", "._Kick.wav", "a.txt", "b.wav.part", "session.toml", "c.", ""] {
        assert!(!is_audio_name(Path::new(name)), "{name} is no sound");
    }
}
