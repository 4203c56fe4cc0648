//! Tests of `audio`.

mod coded;
mod giant;
mod header;
mod hostile;
mod notes;
mod pcm;
mod refuse;
mod resample;
mod takes;
mod write;

use std::path::Path;

use deskside::audio::{Stream, TrustHeader};

use crate::support::wavefile::{Kind, put};

/// Reads a whole file in blocks of uneven length.
pub(crate) fn read_all(stream: &mut Stream) -> Vec<Vec<f32>> {
    let mut planes = vec![Vec::new(); stream.facts().n_channels];
    let lengths = [1_usize, 7, 480, 1_000, 4_096];
    for block_idx in 0.. {
        let n_wanted = lengths[block_idx % lengths.len()];
        let n_got = stream.read(n_wanted, &mut planes).expect("the file can be read on");
        if n_got == 0 {
            break;
        }
    }
    planes
}

/// Opens a file and reads it whole.
pub(crate) fn open_all(path: &Path) -> (Stream, Vec<Vec<f32>>) {
    let mut stream = Stream::open(path, TrustHeader::No).expect("the file can be read");
    let planes = read_all(&mut stream);
    (stream, planes)
}

/// Writes the bytes to a file and checks that exactly the first `n_frames` of the test signal come out.
///
/// Gives the sentences about repairs.
pub(crate) fn check(bytes: &[u8], kind: Kind, n_frames: usize, n_channels: usize) -> Vec<String> {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = put(folder.path(), "x.wav", bytes);
    let (stream, planes) = open_all(&path);
    let facts = stream.facts();
    assert_eq!(facts.n_channels, n_channels, "channels");
    assert_eq!(facts.n_frames, Some(n_frames as u64), "length in the facts: {facts:?}");
    check_planes(&planes, kind, 0, n_frames);
    facts.repairs.clone()
}

/// Checks that planes hold the test signal from frame `start` on, bit by bit.
pub(crate) fn check_planes(planes: &[Vec<f32>], kind: Kind, start: usize, n_frames: usize) {
    for (c, plane) in planes.iter().enumerate() {
        assert_eq!(plane.len(), n_frames, "frames of channel {c}");
        for (n, sample) in plane.iter().enumerate() {
            let truth = kind.truth(start + n, c);
            assert!(
                sample.to_bits() == truth.to_bits(),
                "frame {} of channel {c} is {sample}, {truth} was stored",
                start + n
            );
        }
    }
}
