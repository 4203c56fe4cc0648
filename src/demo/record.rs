//! Writes the recordings of a take to a folder.
//!
//! Takes a take's pieces, gives files named as a desk's recorder names them. Never holds more than a piece.

use std::path::Path;

use rayon::prelude::*;

use crate::{
    audio::{SampleFormat, WaveSpec, WaveWriter},
    demo::{
        drift::Drift,
        scene::{Channel, Format, Output, OutputKind, Scene},
        take::Piece,
    },
    error::Error,
};

/// Clock time at which the demo's takes start, in seconds since midnight: half past seven in the evening.
const START_S: u64 = 19 * 3600 + 30 * 60;

impl Channel {
    /// Number in the file name: as stated, else the place on the desk.
    pub fn number(&self, channel_idx: usize) -> u32 {
        self.number.unwrap_or_else(|| u32::try_from(channel_idx + 1).unwrap_or(u32::MAX))
    }
}

/// Name of a recording: `07 OH L.wav`.
pub fn file_name(number: u32, name: &str) -> String {
    format!("{number:02} {name}.wav")
}

/// The recorders of a take.
pub(super) struct Recorder<'a> {
    scene: &'a Scene,
    channels: Vec<(WaveWriter, Option<Drift>)>,
    outputs: Vec<WaveWriter>,
}

impl<'a> Recorder<'a> {
    pub(super) fn create(scene: &'a Scene, folder: &Path) -> Result<Self, Error> {
        let channels = scene.channels.iter().enumerate().map(|(idx, channel)| {
            let path = folder.join(file_name(channel.number(idx), &channel.name));
            let writer =
                WaveWriter::create(&path, spec(scene, channel.format, vec![channel.name.clone()]))?;
            Ok((writer, channel.drift_ppm.map(Drift::new)))
        });
        let outputs = scene.outputs.iter().map(|output| {
            let path = folder.join(file_name(output.number, &output.name));
            WaveWriter::create(&path, spec(scene, Format::Int24, tracks(output)))
        });
        Ok(Self {
            scene,
            channels: channels.collect::<Result<_, Error>>()?,
            outputs: outputs.collect::<Result<_, Error>>()?,
        })
    }

    pub(super) fn write(&mut self, piece: &Piece) -> Result<(), Error> {
        let channels = self.channels.par_iter_mut().zip(&piece.raw);
        let written: Vec<Result<(), Error>> = channels
            .map(|((writer, drift), samples)| match drift {
                Some(drift) => writer.write(&[&drift.run(samples)]),
                None => writer.write(&[samples]),
            })
            .collect();
        written.into_iter().collect::<Result<(), Error>>()?;
        for (writer, output) in self.outputs.iter_mut().zip(&self.scene.outputs) {
            let [left, right] = &piece.mix.main;
            match output.kind {
                OutputKind::Main => writer.write(&[left, right])?,
                OutputKind::EffectLeft => writer.write(&[&piece.mix.effect[0]])?,
                OutputKind::EffectRight => writer.write(&[&piece.mix.effect[1]])?,
                OutputKind::Processed => {
                    let idx = output.channel.as_ref().and_then(|name| self.scene.channel_idx(name));
                    writer.write(&[idx.map_or(&[][..], |idx| &piece.mix.processed[idx])])?;
                }
                OutputKind::Monitor => {
                    let idx = output.wedge.as_ref().and_then(|name| self.scene.wedge_idx(name));
                    writer.write(&[idx.map_or(&[][..], |idx| &piece.monitors[idx])])?;
                }
            }
        }
        Ok(())
    }

    pub(super) fn finish(self) -> Result<(), Error> {
        for (mut writer, drift) in self.channels {
            if let Some(drift) = drift {
                writer.write(&[&drift.finish()])?;
            }
            writer.finish()?;
        }
        self.outputs.into_iter().try_for_each(WaveWriter::finish)
    }
}

fn tracks(output: &Output) -> Vec<String> {
    match output.kind {
        OutputKind::Main => vec![format!("{} L", output.name), format!("{} R", output.name)],
        _ => vec![output.name.clone()],
    }
}

fn spec(scene: &Scene, format: Format, track_names: Vec<String>) -> WaveSpec {
    let format = match format {
        Format::Int24 => SampleFormat::Int24,
        Format::Float32 => SampleFormat::Float32,
    };
    let n_channels = u16::try_from(track_names.len()).unwrap_or(1);
    WaveSpec {
        start_samples: Some(START_S * u64::from(scene.rate_hz)),
        date: Some(scene.date.clone()),
        track_names,
        ..WaveSpec::new(scene.rate_hz, n_channels, format)
    }
}
