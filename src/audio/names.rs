//! Which file names are taken for sound.
//!
//! Takes a path, tells from its extension alone. Never opens the file.

use std::path::Path;

/// Extensions of sound files, in lower case. The last two can't be decoded: they are to be refused aloud rather than
/// overlooked.
const EXTENSIONS: [&str; 18] = [
    "wav", "wave", "bwf", "rf64", "bw64", "w64", "aif", "aiff", "aifc", "caf", "flac", "m4a",
    "aac", "mp3", "ogg", "oga", "opus", "wv",
];

/// Whether a file's name says that it holds sound.
///
/// Names that begin with a dot are left out: some systems lay a hidden `._name.wav` without sound beside each file.
pub fn is_audio_name(path: &Path) -> bool {
    let hidden = path.file_name().is_none_or(|name| name.as_encoded_bytes().starts_with(b"."));
    let extension = path.extension().and_then(|extension| extension.to_str());
    !hidden && extension.is_some_and(|e| EXTENSIONS.contains(&e.to_ascii_lowercase().as_str()))
}
