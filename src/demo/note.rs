//! What the operator of the demo noted: `session.toml`.
//!
//! Takes a scene, gives the text. Names, songs, and only what the names of the recordings can't tell.

use std::fmt::Write;

use crate::demo::{
    geometry::minus,
    record::file_name,
    scene::{Channel, OutputKind, Pattern, Scene},
};

/// The text of `session.toml`.
pub(super) fn session_toml(scene: &Scene) -> String {
    let mut text = String::new();
    write_all(&mut text, scene).expect("a text takes all that is written to it");
    text
}

fn write_all(text: &mut String, scene: &Scene) -> std::fmt::Result {
    writeln!(text, "name = {:?}", scene.title)?;
    writeln!(text, "date = {:?}", scene.date)?;
    writeln!(text, "operator = {:?}", scene.operator)?;
    writeln!(text, "place = {:?}", scene.place)?;
    writeln!(text, "tap = \"raw\"")?;
    if scene.plot_noted {
        plot(text, scene)?;
    }
    for song in scene.segments.iter().filter(|segment| segment.kind == "song") {
        writeln!(text, "\n[[song]]\ntitle = {:?}", song.title)?;
        writeln!(text, "start = {:?}\nend = {:?}", song.start_s, song.end_s)?;
    }
    for channel in &scene.channels {
        noted(text, scene, channel)?;
    }
    outputs(text, scene)
}

/// Hall and wedges.
fn plot(text: &mut String, scene: &Scene) -> std::fmt::Result {
    let [width_m, length_m, height_m] = minus(scene.hall.high_m, scene.hall.low_m);
    writeln!(text, "air_temperature_c = {:?}", scene.temperature_c)?;
    writeln!(
        text,
        "\n[hall]\nlength_m = {length_m:?}\nwidth_m = {width_m:?}\nheight_m = {height_m:?}"
    )?;
    writeln!(text, "\n[stage]\nchecked = {:?}", scene.date)?;
    for wedge in &scene.wedges {
        writeln!(text, "\n[[stage.wedge]]\nname = {:?}\nposition = {:?}", wedge.name, wedge.at_m)?;
        writeln!(text, "serves = {:?}", wedge.serves)?;
    }
    Ok(())
}

/// What the operator noted of an input, if anything.
fn noted(text: &mut String, scene: &Scene, channel: &Channel) -> std::fmt::Result {
    let served = scene.wedges.iter().any(|wedge| wedge.serves.contains(&channel.name));
    let mic = channel.mic.filter(|_| scene.plot_noted && served);
    if mic.is_none() && channel.drift_ppm.is_none() {
        return Ok(());
    }
    writeln!(text, "\n[[channel]]\nname = {:?}", channel.name)?;
    if let Some(mic) = mic {
        writeln!(text, "pattern = {:?}\nposition = {:?}", word(mic.pattern), mic.at_m)?;
        writeln!(text, "axis = {:?}", mic.axis)?;
    }
    if channel.drift_ppm.is_some() {
        writeln!(text, "own_clock = true\nlevel_control = \"off\"")?;
    }
    Ok(())
}

/// Recordings whose place on the desk a name can't tell.
fn outputs(text: &mut String, scene: &Scene) -> std::fmt::Result {
    for output in &scene.outputs {
        let file = file_name(output.number, &output.name);
        match (output.kind, &output.channel) {
            (OutputKind::EffectLeft | OutputKind::EffectRight, _) => {
                writeln!(
                    text,
                    "\n[[channel]]\nfile = {file:?}\nrole = \"fx-return\"\ntap = \"effects\""
                )?;
            }
            (OutputKind::Processed, Some(raw)) => {
                writeln!(text, "\n[[channel]]\nfile = {file:?}\ntap = \"processed\"")?;
                writeln!(text, "processed_of = {raw:?}")?;
            }
            (OutputKind::Monitor, _) => {
                writeln!(text, "\n[[channel]]\nfile = {file:?}\nrole = \"monitor-mix\"")?;
                writeln!(text, "tap = \"monitor\"")?;
            }
            (OutputKind::Processed, None) | (OutputKind::Main, _) => {}
        }
    }
    Ok(())
}

const fn word(pattern: Pattern) -> &'static str {
    match pattern {
        Pattern::Omni => "omni",
        Pattern::Cardioid => "cardioid",
        Pattern::Supercardioid => "supercardioid",
        Pattern::Hypercardioid => "hypercardioid",
    }
}
