//! Facts of songs in the mix: who is how loud against whom.
//!
//! Takes the board of a session and when sources sound, gives a record a song. A stereo pair is one player, a kit as well. Decides
//! nothing that a rule decides.

use super::idle_facts::idle;
use super::mix_facts::{Look, MOST_SPANS, TOO_LITTLE, count, explained, sure_of, usual};
use super::treble_facts;
use crate::dsp::percentile::median;
use crate::reading::{BackingMix, LeadMix, Segment, SegmentKind, SoloMix, SongMix, TakenOver};
use crate::relate::audibility::audibility;
use crate::relate::balance::{Levels, Window, each_second, middle_db, share_percent, stretches};
use crate::relate::board::Board;
use crate::session::{Family, Role};
use crate::unit::spans::{both, either, longest, shared_s, total_s, widened, without};
use crate::unit::{Fact, Span, Unmeasured};

/// A voice that sings for less is none of the song, in seconds.
const SINGS_S: f64 = 10.0;

/// This far under the rest a voice is buried, in LU; this far above the voice an instrument takes over.
const BURIED_LU: f64 = -4.0;
const TAKES_OVER_LU: f64 = 2.0;

/// Where words are told apart, in Hz.
const WORDS_HZ: [f64; 2] = [1000.0, 4000.0];

/// A passage without voices, and how long a cue holds at most, in seconds.
const PASSAGE_S: f64 = 8.0;
const CUE_S: f64 = 30.0;

/// Breaths and short rests of voices, in seconds.
const BREATH_S: f64 = 1.5;

/// A sung word with the breaths around it cut off, in seconds.
const WORD_S: f64 = 1.0;

/// A soloist plays in this share of the passage, and this much less while voices sing.
const PLAYS: f64 = 0.7;
const PLAYS_MORE: f64 = 0.3;

/// Confidence of a solo without a cue.
const UNCUED: f64 = 0.6;

/// One player: the lines that carry one source.
pub(super) struct Player {
    /// Lines of the board.
    pub(super) lines: Vec<usize>,
    /// What the first of them carries.
    pub(super) role: Role,
    /// When any of them sounds.
    pub(super) sounds: Vec<Span>,
    /// When any of them is open, as far as it can be told.
    pub(super) on: Vec<Span>,
    /// Whether all come by wire.
    is_line: bool,
}

/// Everybody in the mix: stereo pairs and the kit are one.
pub(super) fn players(look: &Look<'_>, board: &Board) -> Vec<Player> {
    let mut players: Vec<Player> = Vec::new();
    for (place, line) in board.lines.iter().enumerate() {
        let channel = &look.channels[line.channel];
        let is_mine = |player: &&mut Player| {
            let is_kit = |role: Role| role.family() == Family::Drums && role != Role::Percussion;
            let is_partner = player.lines.iter().any(|&other| {
                channel.partner.as_ref() == Some(&look.channels[board.lines[other].channel].id)
            });
            is_partner || (is_kit(player.role) && is_kit(channel.role))
        };
        match players.iter_mut().find(is_mine) {
            Some(player) => {
                player.lines.push(place);
                player.sounds = either(&player.sounds, &channel.active);
                player.on = either(&player.on, &both(&line.on, &line.told));
                player.is_line &= channel.is_line;
            }
            None => players.push(Player {
                lines: vec![place],
                role: channel.role,
                sounds: channel.active.clone(),
                on: both(&line.on, &line.told),
                is_line: channel.is_line,
            }),
        }
    }
    players
}

impl Player {
    /// Whether a microphone hears it, whose rests cost gain before feedback.
    pub(super) fn is_microphone(&self) -> bool {
        !self.is_line && self.role.is_input()
    }
}

/// All songs.
pub(super) fn songs(
    look: &Look<'_>,
    board: &Board,
    levels: &Levels,
    players: &[Player],
) -> Vec<SongMix> {
    let words = Levels::between(board, WORDS_HZ[0], WORDS_HZ[1]);
    let all = look.segments.iter().filter(|segment| segment.kind == SegmentKind::Song);
    all.map(|song| Stage { look, board, levels, words: &words, players, song }.song()).collect()
}

/// Returns of effects against talkers while these speak to the audience, and where the effects are loudest. `talks` is what of it lies far
/// enough from songs.
pub(super) fn effects_in_talk(
    players: &[Player],
    levels: &Levels,
    talks: &[Span],
    sure: Option<f64>,
) -> (Fact, Vec<Span>) {
    let lines = |role: Role| -> Vec<usize> {
        let of_role = players.iter().filter(|player| player.role == role);
        of_role.flat_map(|player| player.lines.clone()).collect()
    };
    let (returns, talkers) = (lines(Role::FxReturn), lines(Role::Speech));
    if returns.is_empty() {
        return (Fact::missing(Unmeasured::NotRecorded("a return of an effect")), Vec::new());
    }
    let Some(sure) = sure else { return (Fact::missing(TOO_LITTLE), Vec::new()) };
    let speak = players.iter().filter(|player| player.role == Role::Speech);
    let sounds = speak.fold(Vec::new(), |all, player| either(&all, &player.sounds));
    let windows: Vec<Window> =
        talks.iter().flat_map(|talk| levels.over(&returns, &talkers, *talk, &sounds)).collect();
    let fact = usual(&windows, sure);
    let border_db = fact.value().unwrap_or(f64::INFINITY);
    let found = stretches(&windows, |window| window.over_db >= border_db);
    (fact, longest(&found, MOST_SPANS))
}

struct Stage<'a> {
    look: &'a Look<'a>,
    board: &'a Board,
    levels: &'a Levels,
    words: &'a Levels,
    players: &'a [Player],
    song: &'a Segment,
}

impl Stage<'_> {
    fn song(&self) -> SongMix {
        let span = self.song.span;
        let share = explained(self.board, span);
        let sure = share.and_then(sure_of).map(|sure| sure.min(self.song.confidence));
        let overheads = self.lines_of(&[Role::Overhead, Role::HiHat]);
        let leads: Vec<&Player> = self.singing(&[Role::LeadVocal]);
        let backing: Vec<&Player> = self.singing(&[Role::BackingVocal]);
        let lead = leads.iter().max_by(|a, b| self.sung_s(a).total_cmp(&self.sung_s(b))).copied();
        let has_kit = self.players.iter().any(|player| player.role.family() == Family::Drums);
        let treble = treble_facts::treble(self.board, span, sure, has_kit);
        SongMix {
            title: self.song.title.clone(),
            span,
            explained_share: match (share, sure) {
                (Some(share), Some(_)) => Fact::sure(share, 1.0),
                (Some(_), None) => Fact::missing(TOO_LITTLE),
                (None, _) => Fact::missing(Unmeasured::Silent),
            },
            leads: leads.iter().map(|voice| self.lead(voice, sure)).collect(),
            backing: lead.map_or_else(Vec::new, |lead| {
                backing.iter().map(|voice| self.backing(voice, lead, sure)).collect()
            }),
            backing_over_lead_lu: self.all_backing(&backing, lead, sure),
            solos: self.solos(sure),
            overheads_re_kit_lu: self.overheads(&overheads, sure),
            overheads: overheads.iter().map(|&line| self.id(line)).collect(),
            effects_re_voice_lu: self.effects(&leads, sure),
            treble_db: treble.share_db,
            treble_movement_db: treble.movement_db,
            treble_from: treble.from.into_iter().map(|line| self.id(line)).collect(),
            idle: Some(idle(self.look.channels, self.board, self.players, &[span], sure)),
        }
    }

    fn id(&self, line: usize) -> String {
        self.look.channels[self.board.lines[line].channel].id.clone()
    }

    fn lines_of(&self, roles: &[Role]) -> Vec<usize> {
        let is_meant = |&line: &usize| {
            let line = &self.board.lines[line];
            roles.contains(&self.look.channels[line.channel].role)
        };
        (0..self.board.lines.len()).filter(is_meant).collect()
    }

    fn sung_s(&self, player: &Player) -> f64 {
        shared_s(&player.sounds, self.song.span)
    }

    /// Players of these roles that sing in the song.
    fn singing(&self, roles: &[Role]) -> Vec<&Player> {
        let sings =
            |player: &&Player| roles.contains(&player.role) && self.sung_s(player) >= SINGS_S;
        self.players.iter().filter(sings).collect()
    }

    /// How sure what hangs on a player's activity is.
    fn sure(&self, player: &Player, sure: Option<f64>) -> Option<f64> {
        let of_line =
            |&line: &usize| self.look.channels[self.board.lines[line].channel].active_confidence;
        sure.map(|sure| player.lines.iter().map(of_line).fold(sure, f64::min))
    }

    /// Lines of everybody but some, effects and other lead voices left out, and what no channel explains: a part that was not recorded
    /// covers a voice as well.
    fn others(&self, of: &Player) -> Vec<usize> {
        let is_other = |player: &&Player| {
            player.lines != of.lines
                && player.role.family() != Family::Utility
                && !(of.role == Role::LeadVocal && player.role == Role::LeadVocal)
        };
        let others = self.players.iter().filter(is_other).flat_map(|player| player.lines.clone());
        others.chain([self.board.unexplained()]).collect()
    }

    fn lead(&self, voice: &Player, sure: Option<f64>) -> LeadMix {
        let span = self.song.span;
        let others = self.others(voice);
        let backing = [self.board.backing()];
        let windows = self.levels.over(&voice.lines, &backing, span, &voice.sounds);
        let words = self.words.over(&voice.lines, &backing, span, &voice.sounds);
        let heard = audibility(self.board, &voice.lines, &others, span, &voice.sounds);
        let sure = self.sure(voice, sure);
        let told = |value: Result<f64, Unmeasured>| match sure {
            Some(sure) => Fact::from_result(value, sure),
            None => Fact::missing(TOO_LITTLE),
        };
        let is_buried = |window: &Window| window.over_db < BURIED_LU;
        LeadMix {
            channel: self.id(voice.lines[0]),
            sung_s: self.sung_s(voice),
            gain_db: told(self.gain_db(voice, &[span]).ok_or(Unmeasured::NeverActive)),
            over_rest_lu: sure.map_or(Fact::missing(TOO_LITTLE), |sure| usual(&windows, sure)),
            over_rest_each_second_lu: sure.map_or_else(Vec::new, |_| each_second(&windows, span)),
            buried_percent: told(share_percent(&windows, is_buried)),
            buried: lowest(&windows),
            over_rest_1_to_4_khz_db: told(middle_db(&words)),
            over_rest_1_to_4_khz_each_second_db: sure
                .map_or_else(Vec::new, |_| each_second(&words, span)),
            audibility_index: told(heard.clone().map(|heard| heard.index)),
            covered_hz: told(heard.clone().map(|heard| heard.covered_hz)),
            covered_by: heard.ok().and_then(|heard| heard.covered_by).map(|line| self.id(line)),
            taken_over: sure.map_or_else(Vec::new, |sure| self.taken_over(voice, sure)),
        }
    }

    /// Median gain of a player's first line while it sounds in some stretches.
    fn gain_db(&self, player: &Player, within: &[Span]) -> Option<f64> {
        let sounding = both(&player.sounds, within);
        let is_inside = |at: usize| sounding.iter().any(|one| one.holds(count(at) + 0.5));
        let gains = self.board.lines[player.lines[0]].gain_db.iter().enumerate();
        let gains = gains.filter(|one| is_inside(one.0)).filter_map(|one| one.1.map(f64::from));
        median(&gains.collect::<Vec<f64>>())
    }

    fn taken_over(&self, voice: &Player, sure: f64) -> Vec<TakenOver> {
        let may = |player: &&Player| {
            let is_drum = player.role.family() == Family::Drums;
            is_drum
                || matches!(
                    player.role,
                    Role::ElectricGuitar
                        | Role::Keys
                        | Role::Brass
                        | Role::Strings
                        | Role::Woodwind
                        | Role::Playback
                )
        };
        let over = |player: &Player| {
            let span = self.song.span;
            let windows = self.levels.over(&player.lines, &voice.lines, span, &voice.sounds);
            let takes_over = |window: &Window| window.over_db > TAKES_OVER_LU;
            let share = share_percent(&windows, takes_over).ok().filter(|&share| share > 0.0)?;
            let louder: Vec<f64> =
                windows.iter().filter(|one| takes_over(one)).map(|one| one.over_db).collect();
            Some(TakenOver {
                channel: self.id(self.loudest(player)),
                share_percent: Fact::sure(share, sure),
                over_voice_lu: Fact::sure(median(&louder)?, sure),
                evidence: longest(&stretches(&windows, takes_over), MOST_SPANS),
            })
        };
        let mut found: Vec<TakenOver> = self.players.iter().filter(may).filter_map(over).collect();
        let share = |one: &TakenOver| one.share_percent.value().unwrap_or(0.0);
        found.sort_by(|a, b| share(b).total_cmp(&share(a)));
        found
    }

    /// The line of a player that gives most in the song.
    fn loudest(&self, player: &Player) -> usize {
        let power = |line: &usize| self.levels.mean(&[*line], self.song.span).unwrap_or(0.0);
        let best = player.lines.iter().max_by(|a, b| power(a).total_cmp(&power(b)));
        best.copied().unwrap_or(player.lines[0])
    }

    fn backing(&self, voice: &Player, lead: &Player, sure: Option<f64>) -> BackingMix {
        let together = both(&voice.sounds, &lead.sounds);
        let windows = self.levels.over(&voice.lines, &lead.lines, self.song.span, &together);
        BackingMix {
            channel: self.id(voice.lines[0]),
            lead: self.id(lead.lines[0]),
            together_s: shared_s(&together, self.song.span),
            over_lead_lu: self
                .sure(voice, self.sure(lead, sure))
                .map_or(Fact::missing(TOO_LITTLE), |sure| usual(&windows, sure)),
            evidence: longest(&stretches(&windows, |_| true), MOST_SPANS),
        }
    }

    fn all_backing(&self, backing: &[&Player], lead: Option<&Player>, sure: Option<f64>) -> Fact {
        let Some(lead) = lead else {
            return Fact::missing(Unmeasured::Because("no lead voice sings"));
        };
        if backing.is_empty() {
            return Fact::missing(Unmeasured::Because("no backing voice sings"));
        }
        let sounds = backing.iter().fold(Vec::new(), |all, voice| either(&all, &voice.sounds));
        let lines: Vec<usize> = backing.iter().flat_map(|voice| voice.lines.clone()).collect();
        let together = both(&sounds, &lead.sounds);
        let windows = self.levels.over(&lines, &lead.lines, self.song.span, &together);
        let sure = backing.iter().fold(self.sure(lead, sure), |sure, one| self.sure(one, sure));
        sure.map_or(Fact::missing(TOO_LITTLE), |sure| usual(&windows, sure))
    }

    fn overheads(&self, overheads: &[usize], sure: Option<f64>) -> Fact {
        let kit: Vec<usize> = self
            .players
            .iter()
            .filter(|player| player.lines.iter().any(|line| overheads.contains(line)))
            .flat_map(|player| player.lines.clone())
            .collect();
        let Some(sure) = sure else { return Fact::missing(TOO_LITTLE) };
        if overheads.is_empty() {
            return Fact::missing(Unmeasured::NotRecorded("overheads or hi-hat"));
        }
        let span = self.song.span;
        let pair = self.levels.mean(overheads, span).zip(self.levels.mean(&kit, span));
        match pair.filter(|pair| pair.0 > 0.0 && pair.1 > 0.0) {
            Some((cymbals, kit)) => Fact::sure(10.0 * (cymbals / kit).log10(), sure),
            None => Fact::missing(Unmeasured::NeverActive),
        }
    }

    fn effects(&self, leads: &[&Player], sure: Option<f64>) -> Fact {
        let returns = self.lines_of(&[Role::FxReturn]);
        if returns.is_empty() {
            return Fact::missing(Unmeasured::NotRecorded("a return of an effect"));
        }
        if leads.is_empty() {
            return Fact::missing(Unmeasured::Because("no lead voice sings"));
        }
        let sounds = leads.iter().fold(Vec::new(), |all, voice| either(&all, &voice.sounds));
        let voices: Vec<usize> = leads.iter().flat_map(|voice| voice.lines.clone()).collect();
        let windows = self.levels.over(&returns, &voices, self.song.span, &sounds);
        sure.map_or(Fact::missing(TOO_LITTLE), |sure| usual(&windows, sure))
    }

    /// Passages in which one instrument carries the melody: those of the cue sheet, and those in which one plays that rests
    /// while voices sing.
    fn solos(&self, sure: Option<f64>) -> Vec<SoloMix> {
        let Some(sure) = sure else { return Vec::new() };
        let sung = self.sung();
        let free = without(&[self.song.span], &sung);
        let mut solos: Vec<SoloMix> = self
            .cues()
            .into_iter()
            .filter_map(|(at_s, player)| {
                let end_s = free
                    .iter()
                    .find(|span| span.end_s > at_s + 1.0)
                    .map_or(at_s + CUE_S, |span| span.end_s)
                    .min(at_s + CUE_S)
                    .min(self.song.span.end_s);
                let span = Span::new(at_s, end_s);
                (span.length_s() >= PASSAGE_S).then(|| self.solo(player, span, true, sure))
            })
            .collect();
        // What stands before the first words or after the last is an intro or an end.
        let is_between = |span: &&Span| {
            let (first, last) = (sung.first(), sung.last());
            span.length_s() >= PASSAGE_S
                && first.is_some_and(|first| first.start_s < span.start_s)
                && last.is_some_and(|last| last.end_s > span.end_s)
        };
        for span in free.iter().filter(is_between) {
            if solos.iter().any(|solo| solo.span.shared(*span).is_some()) {
                continue;
            }
            let soloists: Vec<&Player> =
                self.players.iter().filter(|player| self.carries(player, *span, &sung)).collect();
            if let [soloist] = soloists[..] {
                solos.push(self.solo(soloist, *span, false, sure.min(UNCUED)));
            }
        }
        solos.sort_by(|a, b| a.span.start_s.total_cmp(&b.span.start_s));
        solos
    }

    /// When voices sing. What a microphone of voices hears for less than a word is nobody's line.
    fn sung(&self) -> Vec<Span> {
        let voices = self.players.iter().filter(|player| player.role.family() == Family::Voice);
        let lines = voices.fold(Vec::new(), |all, voice| {
            let mut lines = widened(&voice.sounds, BREATH_S);
            lines.retain(|line| line.length_s() >= WORD_S + 2.0 * BREATH_S);
            either(&all, &lines)
        });
        both(&lines, &[self.song.span])
    }

    /// Cues of the song that name a player who may carry a melody.
    fn cues(&self) -> Vec<(f64, &Player)> {
        let span = self.song.span;
        let cues = self.look.note.songs.iter().flat_map(|song| &song.cues);
        cues.filter(|cue| span.holds(cue.at_s))
            .filter_map(|cue| {
                let text = cue.text.to_lowercase();
                let named = |player: &&Player| {
                    may_solo(player.role)
                        && player.lines.iter().any(|&line| self.is_named(line, &text))
                };
                Some((cue.at_s, self.players.iter().find(named)?))
            })
            .collect()
    }

    /// Whether a text names a line: by its channel's name, its player or what it carries.
    fn is_named(&self, line: usize, text: &str) -> bool {
        let idx = self.board.lines[line].channel;
        let channel = &self.look.channels[idx];
        let has = |name: &str| !name.is_empty() && text.contains(&name.to_lowercase());
        let words = channel.name.split(|c: char| !c.is_alphabetic());
        let mut long = words.filter(|word| word.chars().count() > 2);
        has(channel.role.word())
            || self.look.session[idx].note.player.as_deref().is_some_and(has)
            || long.any(has)
    }

    /// Whether a player carries the melody of a passage without voices.
    fn carries(&self, player: &Player, span: Span, sung: &[Span]) -> bool {
        let sung_s = total_s(sung).max(1.0);
        let here = shared_s(&player.sounds, span) / span.length_s();
        let there = total_s(&both(&player.sounds, sung)) / sung_s;
        may_solo(player.role) && here >= PLAYS && here - there >= PLAYS_MORE
    }

    fn solo(&self, player: &Player, span: Span, is_cued: bool, sure: f64) -> SoloMix {
        let others = self.others(player);
        let windows = self.levels.over(&player.lines, &others, span, &[span]);
        let elsewhere = without(&[self.song.span], &[span]);
        let lift = self
            .gain_db(player, &[span])
            .zip(self.gain_db(player, &elsewhere))
            .map(|(here, there)| here - there);
        SoloMix {
            channel: self.id(self.loudest(player)),
            span,
            is_cued,
            over_rest_lu: usual(&windows, sure),
            lift_db: Fact::from_result(
                lift.ok_or(Unmeasured::Because("it plays nowhere else in the song")),
                sure,
            ),
        }
    }
}

/// Whether what a channel carries may have a melody of its own.
fn may_solo(role: Role) -> bool {
    matches!(
        role,
        Role::ElectricGuitar
            | Role::AcousticGuitar
            | Role::Keys
            | Role::Strings
            | Role::Brass
            | Role::Woodwind
    )
}

/// Where a voice lies lowest: the windows in which it is buried, else the lowest fifth.
fn lowest(windows: &[Window]) -> Vec<Span> {
    let mut levels: Vec<f64> = windows.iter().map(|window| window.over_db).collect();
    levels.sort_by(f64::total_cmp);
    let border_db = levels.get(levels.len() / 5).copied().unwrap_or(0.0).max(BURIED_LU);
    let found = stretches(windows, |window| window.over_db <= border_db);
    longest(&found, MOST_SPANS)
}
