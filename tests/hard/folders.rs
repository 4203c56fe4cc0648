//! Folders that are no session, or hold what a session should not.

use std::fs;
use std::path::Path;

use super::{CHANNELS, Case, N_FRAMES, REVIEW, good, night};
use crate::support::wavefile::{Kind, plain, put};

/// A recording of many channels, of any length.
fn desk(night: &Path, name: &str, n_frames: usize) {
    put(night, name, &plain(Kind::S16, n_frames, 8, 48_000));
}

/// A recording of one channel, of any length.
fn track(night: &Path, name: &str, n_frames: usize) {
    put(night, name, &plain(Kind::S16, n_frames, 1, 48_000));
}

fn empty(folder: &Path) -> std::path::PathBuf {
    let night = folder.join("night");
    fs::create_dir_all(&night).unwrap();
    night
}

pub(super) const TABLE: &[Case] = &[
    Case {
        what: "a folder that is not there",
        lay: |_| {},
        arguments: REVIEW,
        code: 1,
        says: "error: cannot look into `night`: it does not exist (name a folder that holds the recordings of one session)",
    },
    Case {
        what: "a file in place of the folder",
        lay: |folder| good(folder, "night"),
        arguments: REVIEW,
        code: 1,
        says: "error: cannot look into `night`: it is a file, or lies below one; a folder is expected (name a folder that holds the recordings of one session)",
    },
    Case {
        what: "an empty folder",
        lay: |folder| drop(empty(folder)),
        arguments: REVIEW,
        code: 1,
        says: "error: cannot review `night`: no sound file was found in it (name the folder that holds the recordings, at most two levels above them)",
    },
    Case {
        what: "a folder of broken files alone",
        lay: |folder| drop(put(&empty(folder), "01 Kick.wav", b"RIFF but no more")),
        arguments: REVIEW,
        code: 1,
        says: "error: cannot review `night`: none of its 1 sound files can be used; `01 Kick.wav` is left out:",
    },
    Case {
        what: "ten thousand recordings",
        lay: |folder| {
            let night = empty(folder);
            let bytes = plain(Kind::S16, 1, 1, 48_000);
            for number in 1..=10_000 {
                fs::write(night.join(format!("{number:05}.wav")), &bytes).unwrap();
            }
        },
        arguments: CHANNELS,
        code: 1,
        says: "error: cannot review `night`: its recordings hold 10000 channels, 512 at most can be of one session (name the folder of one session)",
    },
    Case {
        what: "ten thousand empty files",
        lay: |folder| {
            let night = empty(folder);
            for number in 1..=10_000 {
                fs::write(night.join(format!("{number:05}.wav")), b"").unwrap();
            }
        },
        arguments: REVIEW,
        code: 1,
        says: "none of its 10000 sound files can be used; `00001.wav` is left out: it is empty (0 bytes)",
    },
    Case {
        what: "a recording of one sample",
        lay: |folder| track(&empty(folder), "01 Kick.wav", 1),
        arguments: REVIEW,
        code: 0,
        says: "too little was heard of it (20 s are needed)",
    },
    Case {
        what: "silence alone",
        lay: |folder| {
            let mut bytes = plain(Kind::S16, N_FRAMES, 1, 48_000);
            let n_head = bytes.len() - 2 * N_FRAMES;
            bytes[n_head..].fill(0);
            put(&empty(folder), "01 Kick.wav", &bytes);
        },
        arguments: REVIEW,
        code: 0,
        says: "Not judged",
    },
    Case {
        what: "rates from 22.05 to 192 kHz in one session",
        lay: |folder| {
            let night = night(folder);
            for (idx, rate_hz) in
                [22_050, 44_100, 88_200, 96_000, 176_400, 192_000].iter().enumerate()
            {
                let n_frames = *rate_hz as usize / 5;
                put(
                    &night,
                    &format!("{:02} Vox.wav", idx + 2),
                    &plain(Kind::S16, n_frames, 1, *rate_hz),
                );
            }
        },
        arguments: CHANNELS,
        code: 0,
        says: "7 channels · 7 files",
    },
    Case {
        what: "64 channels in one file",
        lay: |folder| drop(put(&empty(folder), "Desk.wav", &plain(Kind::S24, 4_800, 64, 48_000))),
        arguments: CHANNELS,
        code: 0,
        says: "64 channels · 1 file",
    },
    Case {
        what: "one part of a split take missing",
        lay: |folder| {
            let night = empty(folder);
            for name in ["REC_001.wav", "REC_002.wav", "REC_004.wav"] {
                desk(&night, name, 4_800);
            }
            desk(&night, "REC_005.wav", 2_400);
        },
        arguments: REVIEW,
        code: 0,
        says: "warning: between `REC_002.wav` and `REC_004.wav` a part is missing by their numbers: times after it run on without it (look on the recorder for it)",
    },
    Case {
        what: "one part of all split tracks missing",
        lay: |folder| {
            let night = empty(folder);
            for name in ["Kick", "Bass"] {
                track(&night, &format!("{name}_1.wav"), 4_800);
                track(&night, &format!("{name}_3.wav"), 2_400);
            }
        },
        arguments: REVIEW,
        code: 0,
        says: "warning: between `Bass_1.wav` and `Bass_3.wav` a part is missing by their numbers: times after it run on without it (look on the recorder for it)",
    },
    Case {
        what: "one part of one split track missing",
        lay: |folder| {
            let night = empty(folder);
            for name in ["Bass", "Kick", "Vox"] {
                track(&night, &format!("{name}_1.wav"), 4_800);
                track(&night, &format!("{name}_2.wav"), 4_800);
                track(&night, &format!("{name}_3.wav"), 2_400);
            }
            fs::remove_file(night.join("Kick_2.wav")).unwrap();
        },
        arguments: REVIEW,
        code: 0,
        says: "warning: a part before `Kick_3.wav` is missing: it is laid where the other tracks have the part of its number",
    },
    #[cfg(target_os = "linux")]
    Case {
        what: "a name that is not UTF-8",
        lay: |folder| {
            use std::os::unix::ffi::OsStrExt;
            let name = std::ffi::OsStr::from_bytes(b"02 Bass \xff\xfe.wav");
            fs::write(night(folder).join(name), plain(Kind::S24, N_FRAMES, 1, 48_000)).unwrap();
        },
        arguments: CHANNELS,
        code: 0,
        says: "2 Bass \u{fffd}\u{fffd} bass name",
    },
    #[cfg(unix)]
    Case {
        what: "a name with control codes of a terminal",
        lay: |folder| good(&night(folder), "02 Bass\u{1b}[31m\n.wav"),
        arguments: CHANNELS,
        code: 0,
        says: "2 Bass\u{fffd}[31m bass name",
    },
    #[cfg(unix)]
    Case {
        what: "a link that leads nowhere",
        lay: |folder| {
            std::os::unix::fs::symlink("gone.wav", night(folder).join("02 Bass.wav")).unwrap();
        },
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: it does not exist (check the name)",
    },
    #[cfg(unix)]
    Case {
        what: "links that lead to each other",
        lay: |folder| {
            let night = night(folder);
            std::os::unix::fs::symlink("03 Vox.wav", night.join("02 Bass.wav")).unwrap();
            std::os::unix::fs::symlink("02 Bass.wav", night.join("03 Vox.wav")).unwrap();
        },
        arguments: REVIEW,
        code: 0,
        says: "warning: `03 Vox.wav` is left out: the system says:",
    },
    #[cfg(unix)]
    Case {
        what: "a link to the folder itself",
        lay: |folder| std::os::unix::fs::symlink(".", night(folder).join("again")).unwrap(),
        arguments: CHANNELS,
        code: 0,
        says: "1 channel · 1 file",
    },
    #[cfg(unix)]
    Case {
        what: "a link to the folder above",
        lay: |folder| {
            std::os::unix::fs::symlink("..", night(folder).join("up")).unwrap();
            good(&folder.join("night"), "02 Bass.wav");
            fs::create_dir(folder.join("other")).unwrap();
            good(&folder.join("other"), "03 Vox.wav");
        },
        arguments: REVIEW,
        code: 0,
        says: "warning: `up` was not looked into: it leads to a folder that holds this one",
    },
    #[cfg(unix)]
    Case {
        what: "a socket with the name of sound",
        lay: |folder| {
            let path = night(folder).join("02 Bass.wav");
            drop(std::os::unix::net::UnixListener::bind(path).unwrap());
        },
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: it is neither a file nor a folder, a sound file is expected (name a sound file)",
    },
    #[cfg(unix)]
    Case {
        what: "a device without end",
        lay: |folder| {
            std::os::unix::fs::symlink("/dev/zero", night(folder).join("02 Bass.wav")).unwrap();
        },
        arguments: REVIEW,
        code: 0,
        says: "warning: `02 Bass.wav` is left out: it is neither a file nor a folder, a sound file is expected (name a sound file)",
    },
];

#[test]
fn odd_folders_are_told() {
    super::check(TABLE);
}
