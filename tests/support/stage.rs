//! A stage in levels: who plays when, what each microphone hears of the others, as traces of 10 ms with their truth.

use deskside::measure::Trace;
use deskside::relate::activity::Source;
use deskside::session::Role;

use super::planted::Dice;

/// Steps of a trace in a second.
pub(crate) const STEPS: usize = 100;

/// How a source moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Motion {
    /// Hits in a steady row, so many in ten seconds.
    Hits(usize),
    /// Notes that swell and fade a little.
    Notes,
    /// Syllables and short breaths.
    Words,
}

/// One channel of the stage.
#[derive(Clone, Debug)]
pub(crate) struct Channel {
    pub(crate) role: Role,
    pub(crate) is_line: bool,
    pub(crate) motion: Motion,
    /// Level of its own source at its own microphone.
    pub(crate) own_dbfs: f64,
    /// How far under that it hears the others, which are 0 dB loud in the room.
    pub(crate) spill_db: f64,
    /// How loud it is in the room.
    pub(crate) stage_db: f64,
    pub(crate) noise_dbfs: f64,
    /// When it plays, in seconds.
    pub(crate) plays: Vec<(f64, f64)>,
}

/// The channels and what follows from them.
#[derive(Clone, Debug, Default)]
pub(crate) struct Stage {
    pub(crate) channels: Vec<Channel>,
    pub(crate) kin: Vec<(usize, usize)>,
    pub(crate) length_s: f64,
}

impl Stage {
    /// Adds a microphone that hears each of the others 26 dB under its own source.
    pub(crate) fn mic(&mut self, role: Role, motion: Motion) -> usize {
        let channel = Channel {
            role,
            is_line: false,
            motion,
            own_dbfs: -18.0,
            spill_db: -26.0,
            stage_db: 0.0,
            noise_dbfs: -80.0,
            plays: Vec::new(),
        };
        self.channels.push(channel);
        self.channels.len() - 1
    }

    /// Adds a line input, which the room hears softly.
    pub(crate) fn line(&mut self, role: Role, motion: Motion) -> usize {
        let idx = self.mic(role, motion);
        self.channels[idx].is_line = true;
        self.channels[idx].stage_db = -8.0;
        self.channels[idx].noise_dbfs = -85.0;
        idx
    }

    /// Lets channels play from `start_s` to `end_s`.
    pub(crate) fn play(&mut self, channels: &[usize], start_s: f64, end_s: f64) {
        for &idx in channels {
            self.channels[idx].plays.push((start_s, end_s));
        }
    }

    pub(crate) fn sources(&self) -> Vec<Source> {
        let source = |c: &Channel| Source { role: c.role, is_line: c.is_line };
        self.channels.iter().map(source).collect()
    }

    /// The levels of every channel.
    pub(crate) fn traces(&self, seed: u64) -> Vec<Trace> {
        let n_steps = (self.length_s * STEPS as f64) as usize;
        let mut dice = Dice::new(seed);
        let own: Vec<Vec<f64>> =
            self.channels.iter().map(|c| envelope(c, n_steps, &mut dice)).collect();
        (0..self.channels.len())
            .map(|mic| {
                let channel = &self.channels[mic];
                let gain: Vec<f64> = (0..self.channels.len())
                    .map(|from| self.coupling_db(mic, from, &mut dice))
                    .map(|db| 10f64.powf(db / 10.0))
                    .collect();
                let mut trace = Trace::new(1.0 / STEPS as f64);
                for step in 0..n_steps {
                    let heard: f64 =
                        own.iter().zip(&gain).map(|(own, gain)| gain * own[step]).sum();
                    // Spill of one source differs from its own microphone by some decibels in each moment.
                    let ripple = 10f64.powf(0.15 * dice.normal());
                    let noise = 10f64.powf(channel.noise_dbfs / 10.0);
                    trace.push_power(heard * ripple + noise * (1.0 + 0.2 * dice.even()));
                }
                trace
            })
            .collect()
    }

    fn coupling_db(&self, mic: usize, from: usize, dice: &mut Dice) -> f64 {
        let (at, source) = (&self.channels[mic], &self.channels[from]);
        let is_kin = self.kin.contains(&(mic, from)) || self.kin.contains(&(from, mic));
        // Each place of the stage hears each other one differently.
        let place_db = 8.0 * (dice.even() - 0.5);
        match (mic == from, is_kin, at.is_line) {
            (true, ..) => at.own_dbfs,
            (_, true, _) => at.own_dbfs - 2.0,
            (.., true) => -300.0,
            _ => at.own_dbfs + at.spill_db + source.stage_db + place_db,
        }
    }

    /// Whether the own source of a channel sounds in each frame of 100 ms: `None` where it is too soft to say.
    pub(crate) fn truth(&self, idx: usize, seed: u64) -> Vec<Option<bool>> {
        let n_steps = (self.length_s * STEPS as f64) as usize;
        let mut dice = Dice::new(seed);
        let mut own = Vec::new();
        for channel in &self.channels[..=idx] {
            own = envelope(channel, n_steps, &mut dice);
        }
        let frame = |steps: &[f64]| {
            let level_db = 10.0 * (steps.iter().sum::<f64>() / 10.0).max(1e-30).log10();
            match level_db {
                l if l > -16.0 => Some(true),
                l if l < -40.0 => Some(false),
                _ => None,
            }
        };
        own.chunks_exact(10).map(frame).collect()
    }
}

/// Power of a source over time, about 1 while it sounds.
fn envelope(channel: &Channel, n_steps: usize, dice: &mut Dice) -> Vec<f64> {
    let mut walk_db = 0.0;
    let mut breath = 0usize;
    let mut own = vec![0.0; n_steps];
    for (step, own) in own.iter_mut().enumerate() {
        walk_db = 0.98 * walk_db + 0.8 * dice.normal();
        breath = if breath > 0 { breath - 1 } else { usize::from(dice.even() < 0.005) * 25 };
        let at_s = step as f64 / STEPS as f64;
        let Some(play) = channel.plays.iter().find(|(from, to)| (*from..*to).contains(&at_s))
        else {
            continue;
        };
        let since = ((at_s - play.0) * STEPS as f64).round() as usize;
        let level_db = match channel.motion {
            Motion::Hits(in_ten_s) => 4.0 - 0.9 * (since % (10 * STEPS / in_ten_s)) as f64,
            Motion::Notes => walk_db - 0.05 * (since % 60) as f64,
            Motion::Words if breath > 0 => -60.0,
            Motion::Words => walk_db + 3.0 * (since as f64 * 0.3).sin(),
        };
        *own = 10f64.powf(level_db / 10.0);
    }
    own
}

/// A band of 20 inputs: kit of six, bass, guitars, keys, fiddle, three voices, choir, host, playback.
#[derive(Clone, Debug)]
pub(crate) struct Band {
    pub(crate) stage: Stage,
    pub(crate) kit: Vec<usize>,
    pub(crate) players: Vec<usize>,
    pub(crate) voices: Vec<usize>,
    pub(crate) choir: usize,
    pub(crate) host: usize,
    pub(crate) playback: [usize; 2],
}

impl Band {
    pub(crate) fn new() -> Self {
        let mut stage = Stage::default();
        let kick = stage.mic(Role::Kick, Motion::Hits(20));
        let top = stage.mic(Role::SnareTop, Motion::Hits(10));
        let bottom = stage.mic(Role::SnareBottom, Motion::Hits(10));
        let hat = stage.mic(Role::HiHat, Motion::Hits(40));
        let left = stage.mic(Role::Overhead, Motion::Hits(5));
        let right = stage.mic(Role::Overhead, Motion::Hits(5));
        let bass = stage.line(Role::Bass, Motion::Notes);
        let acoustic = stage.line(Role::AcousticGuitar, Motion::Notes);
        let electric = stage.mic(Role::ElectricGuitar, Motion::Notes);
        let keys_left = stage.line(Role::Keys, Motion::Notes);
        let keys_right = stage.line(Role::Keys, Motion::Notes);
        let fiddle = stage.mic(Role::Strings, Motion::Notes);
        let lead = stage.mic(Role::LeadVocal, Motion::Words);
        let backing = stage.mic(Role::BackingVocal, Motion::Words);
        let choir = stage.mic(Role::Choir, Motion::Words);
        let host = stage.mic(Role::Speech, Motion::Words);
        let playback = [(); 2].map(|()| stage.line(Role::Playback, Motion::Notes));
        for &idx in &[left, right] {
            stage.channels[idx].spill_db = -16.0;
        }
        for &idx in &[lead, backing, host] {
            stage.channels[idx].spill_db = -22.0;
            stage.channels[idx].stage_db = -6.0;
        }
        stage.channels[choir].spill_db = -18.0;
        stage.channels[choir].stage_db = -6.0;
        stage.kin =
            vec![(top, bottom), (left, right), (keys_left, keys_right), (playback[0], playback[1])];
        Self {
            stage,
            kit: vec![kick, top, bottom, hat, left, right],
            players: vec![bass, acoustic, electric, keys_left, keys_right, fiddle],
            voices: vec![lead, backing],
            choir,
            host,
            playback,
        }
    }

    /// The band plays from `start_s` to `end_s`: the kit joins after 4 s, the voices after 8 s, with rests.
    pub(crate) fn song(&mut self, start_s: f64, end_s: f64) {
        let Self { stage, kit, players, voices, .. } = self;
        stage.play(players, start_s, end_s);
        stage.play(kit, start_s + 4.0, end_s - 1.0);
        let mut at_s = start_s + 8.0;
        while at_s + 9.0 < end_s {
            stage.play(&voices[..1], at_s, at_s + 8.0);
            stage.play(&voices[1..], at_s + 4.0, at_s + 7.0);
            at_s += 12.0;
        }
    }

    /// Every input alone for `each_s`, pairs together; gives the end.
    pub(crate) fn line_check(&mut self, start_s: f64, each_s: f64) -> f64 {
        let mut at_s = start_s;
        for idx in 0..self.stage.channels.len() {
            if self.stage.kin.iter().any(|&(_, second)| second == idx) {
                continue;
            }
            let second = self.stage.kin.iter().find(|&&(first, _)| first == idx).map(|pair| pair.1);
            self.stage.play(&[idx], at_s, at_s + each_s);
            self.stage.play(second.as_slice(), at_s, at_s + each_s);
            at_s += each_s;
        }
        at_s
    }

    /// Ninety seconds: four inputs alone, quiet, talk, one song of 40 s, playback, talk. Gives the song.
    pub(crate) fn cut(&mut self) -> (f64, f64) {
        let (kick, bass) = (self.kit[0], self.players[0]);
        for (idx, start_s) in
            [(kick, 0.0), (bass, 2.5), (self.voices[0], 5.0), (self.players[5], 7.5)]
        {
            self.stage.play(&[idx], start_s, start_s + 2.5);
        }
        let (host, playback) = (self.host, self.playback);
        self.stage.play(&[host], 16.0, 26.0);
        self.song(26.5, 66.5);
        self.stage.play(&playback, 67.5, 73.5);
        self.stage.play(&[host], 75.0, 89.0);
        self.stage.length_s = 90.0;
        (26.5, 66.5)
    }

    /// Eight minutes: line check, quiet, talk, three songs, talk, playback, talk. Gives the songs.
    pub(crate) fn evening(&mut self) -> Vec<(f64, f64)> {
        let end_s = self.line_check(1.0, 3.4);
        assert!(end_s < 50.0, "the line check ends at {end_s} s");
        let (host, playback) = (self.host, self.playback);
        self.stage.play(&[host], 57.0, 80.0);
        let songs = vec![(84.0, 190.0), (218.0, 320.0), (352.0, 460.0)];
        for &(start_s, end_s) in &songs {
            self.song(start_s, end_s);
        }
        self.stage.play(&[host], 193.0, 215.0);
        self.stage.play(&[self.choir], 250.0, 280.0);
        self.stage.play(&playback, 323.0, 350.0);
        self.stage.play(&[host], 464.0, 500.0);
        self.stage.length_s = 502.0;
        songs
    }
}
