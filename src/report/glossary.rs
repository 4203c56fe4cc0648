//! Words of the trade in plain words.
//!
//! Takes a text, gives the entries for the words that it uses, in alphabetical order. Never explains a word that the
//! text doesn't use.

/// A word and what it means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The word as it heads the entry.
    pub word: &'static str,
    /// Forms in which texts use it, in lower case; each is looked for as a whole word.
    pub forms: &'static [&'static str],
    /// What it means, a clause without full stop.
    pub meaning: &'static str,
}

const fn entry(word: &'static str, forms: &'static [&'static str], meaning: &'static str) -> Entry {
    Entry { word, forms, meaning }
}

/// All entries, in alphabetical order.
pub const ENTRIES: &[Entry] = &[
    entry(
        "3:1 spacing",
        &["3:1 spacing", "3:1"],
        "microphones three times as far from each other as each is from its mouth",
    ),
    entry("aux", &["aux", "auxes"], "an additional mix: for players, for effects, for a recording"),
    entry("balance", &["balance"], "how loud the sources are beside each other"),
    entry("bus", &["bus", "buses"], "a path that several channels are added up on"),
    entry(
        "cardioid",
        &["cardioid"],
        "a microphone that hears best in front and least straight behind",
    ),
    entry(
        "clipping",
        &["clipping", "clips", "clipped"],
        "the tops of the wave are cut off because the level is above what the input can take",
    ),
    entry(
        "coherence",
        &["coherence"],
        "how far two signals are one and the same sound: 1 is all of it, 0 is none",
    ),
    entry(
        "comb filter",
        &["comb filter", "comb filtering", "comb"],
        "a hollow tone: a sound added to a slightly later copy of itself",
    ),
    entry(
        "compressor",
        &["compressor", "compression"],
        "turns the loud passages of a channel down by itself",
    ),
    entry("crest", &["crest", "crest factor"], "how far the peaks stand above the average level"),
    entry("cue", &["cue", "cues"], "the moment at which something has to happen"),
    entry("dB", &["db"], "a step of level: 3 is a small step, 10 is heard as about twice as loud"),
    entry(
        "dBFS",
        &["dbfs"],
        "level counted down from the highest that the recording can hold, which is 0",
    ),
    entry(
        "dBTP",
        &["dbtp"],
        "true peak, counted down from the highest level that the recording can hold",
    ),
    entry(
        "DC offset",
        &["dc offset", "dc"],
        "a constant shift of the signal that cannot be heard but takes room",
    ),
    entry(
        "DI",
        &["di"],
        "a small box that makes the signal of an instrument fit the microphone input",
    ),
    entry("dropout", &["dropout", "dropouts"], "a short hole in the recording"),
    entry("dry", &["dry"], "without effects"),
    entry("EQ", &["eq"], "tone control in several ranges"),
    entry(
        "fader",
        &["fader", "faders"],
        "the slide control that sets how loud a channel is in the mix",
    ),
    entry(
        "feedback",
        &["feedback"],
        "the microphone hears its own loudspeaker and a tone builds up",
    ),
    entry(
        "flat top",
        &["flat top", "flat tops"],
        "what a clipped wave looks like: its peak is a level line",
    ),
    entry("floor", &["floor", "noise floor"], "the noise that stays when nobody plays"),
    entry("gain", &["gain"], "how much the input amplifies, before everything else in the channel"),
    entry("gain reduction", &["gain reduction"], "how far a compressor turns the signal down"),
    entry("gate", &["gate", "gates"], "closes a channel while it is quiet"),
    entry("harsh", &["harsh"], "too much between about 2 and 5 kHz"),
    entry("headroom", &["headroom"], "the room left up to the highest possible level"),
    entry(
        "high-pass",
        &["high-pass"],
        "takes out what lies below the tones that a source makes: rumble, steps, wind",
    ),
    entry("hum", &["hum", "hums"], "a steady low tone from the mains"),
    entry("in-ears", &["in-ears", "in-ear"], "earphones that a player wears in place of a wedge"),
    entry("level spread", &["level spread"], "the distance between soft and loud passages"),
    entry("limiter", &["limiter", "limiters"], "does not let peaks above a set level"),
    entry(
        "line check",
        &["line check"],
        "each input heard alone, one after the other, before the band plays",
    ),
    entry("loud level", &["loud level"], "where the loud passages of a channel lie"),
    entry("LU", &["lu"], "a step of loudness, as large as a dB"),
    entry(
        "LUFS",
        &["lufs"],
        "loudness as an ear judges it, counted down from the highest possible",
    ),
    entry(
        "main",
        &["main", "main mix", "mains mix"],
        "what the audience hears from the loudspeakers",
    ),
    entry("momentary", &["momentary"], "over the last 0.4 seconds"),
    entry("mono", &["mono"], "the same signal for both sides"),
    entry("mud", &["mud", "muddy"], "too much between about 200 and 400 Hz"),
    entry("null", &["null"], "the direction from which a microphone hears least"),
    entry("off-axis", &["off-axis"], "from the side of a microphone"),
    entry("overheads", &["overheads", "overhead"], "microphones above the drum kit"),
    entry(
        "own-to-spill",
        &["own-to-spill", "own to spill"],
        "how far a microphone's own source stands above everything else it hears",
    ),
    entry("pad", &["pad"], "a switch that weakens a signal that is too strong for the input"),
    entry("pan", &["pan", "panned"], "where a channel stands between left and right"),
    entry(
        "phantom power",
        &["phantom power"],
        "supply voltage that the desk sends to a microphone through its cable",
    ),
    entry(
        "polarity",
        &["polarity"],
        "whether push is push and not pull; two microphones on one source have to agree",
    ),
    entry("pop", &["pop", "pops"], "a blast of breath, from P and B, that hits the microphone"),
    entry(
        "preamp",
        &["preamp", "preamplifier", "preamplifiers"],
        "the amplifier at the input, set by the gain control",
    ),
    entry("presence", &["presence"], "between about 2 and 4 kHz, where words become clear"),
    entry(
        "proximity effect",
        &["proximity effect", "proximity"],
        "more bass the closer a directional microphone is",
    ),
    entry(
        "raw",
        &["raw"],
        "recorded right after the input's amplifier, before anything that the channel does to the sound",
    ),
    entry("reverb", &["reverb"], "the sound of a hall, made by a device"),
    entry("ring", &["ring", "rings", "ringing"], "a tone that stays a little: feedback is near"),
    entry(
        "send",
        &["send", "sends"],
        "how much of a channel goes to a wedge, in-ears or an effect",
    ),
    entry("sibilance", &["sibilance", "sibilant"], "sharp S sounds"),
    entry("spill", &["spill", "bleed"], "what a microphone hears of sources that are not its own"),
    entry(
        "stage box",
        &["stage box", "stagebox"],
        "the box on the stage into which microphones are plugged",
    ),
    entry("tap", &["tap", "taps"], "the place in the desk where the recording is taken"),
    entry("thin", &["thin"], "the middle of the sound is missing"),
    entry(
        "true peak",
        &["true peak", "true peaks"],
        "the highest point of the wave, also between the samples",
    ),
    entry("wash", &["wash"], "cymbals as a steady hiss under everything"),
    entry("wedge", &["wedge", "wedges"], "a loudspeaker on the floor for the players"),
    entry("wireless pack", &["wireless pack"], "the radio transmitter that a player wears"),
];

/// Whether a text in lower case holds a form as a whole word.
fn holds(text: &str, form: &str) -> bool {
    text.match_indices(form).any(|(at, _)| {
        let before = text[..at].chars().next_back();
        let after = text[at + form.len()..].chars().next();
        ![before, after].into_iter().flatten().any(|c| c.is_alphanumeric() || c == '-')
    })
}

/// The entries for the words that a text uses, in alphabetical order.
pub fn used_in(text: &str) -> Vec<&'static Entry> {
    let text = text.to_lowercase();
    ENTRIES.iter().filter(|entry| entry.forms.iter().any(|form| holds(&text, form))).collect()
}
