"""What the program reads between the taps of a compressor, against a compressor of an independent library.

Phrases of notes go through the compressor of pedalboard. The program gets both taps and tells gain reduction, threshold and ratio. It is
compared with the samples themselves, as this compressor does nothing but a gain, and with what steady tones at the same settings become.

Usage: python tests/outside/dynamics.py PROGRAM
"""

import math
import sys

import numpy
import pedalboard

import support

RATE_HZ = 48000
# Shorter than the minute that the program looks at.
LENGTH_S = 50.0
STEP = RATE_HZ // 100
# threshold in dBFS, ratio, attack and release in ms
SETTINGS = [(-28.0, 4.0, 8.0, 180.0), (-30.0, 2.5, 3.0, 90.0)]
# What is asked of a trace of gain reduction, and of the settings told from it.
TRACE_TOLERANCE_DB = 0.3
THRESHOLD_TOLERANCE_DB = 1.0
RATIO_TOLERANCE = 0.15
# Programme: steps within so much of the 95th percentile.
PROGRAMME_DB = 25.0


def phrases(rng):
    """Notes of a voice in phrases of some seconds, between them nothing but a quiet floor."""
    n = int(LENGTH_S * RATE_HZ)
    sound = 10.0 ** (-92.0 / 20.0) * rng.standard_normal(n)
    at_s = 1.5
    while at_s < LENGTH_S - 3.0:
        for _ in range(rng.integers(4, 9)):
            length_s = rng.uniform(0.18, 0.6)
            note = numpy.arange(int(length_s * RATE_HZ)) / RATE_HZ
            pitch_hz = 130.0 * 2.0 ** (rng.integers(0, 13) / 12.0)
            level = 10.0 ** (rng.uniform(-24.0, -8.0) / 20.0)
            tone = sum(numpy.sin(2 * math.pi * k * pitch_hz * note + k) / k**1.3 for k in range(1, 20))
            rise = numpy.minimum(note / 0.015, 1.0) * numpy.minimum((length_s - note) / 0.04, 1.0)
            start = int(at_s * RATE_HZ)
            sound[start:start + note.size] += 0.6 * level * tone * rise
            at_s += length_s
            if at_s > LENGTH_S - 2.0:
                break
        at_s += rng.uniform(1.6, 2.4)
    return sound


def squeeze(settings, sound):
    """A sound through the compressor of the library."""
    threshold_db, ratio, attack_ms, release_ms = settings
    one = pedalboard.Compressor(threshold_db, ratio, attack_ms, release_ms)
    return one(sound.astype(numpy.float32), RATE_HZ).astype(float)


def reduction_db(settings, level_dbfs):
    """What becomes of a steady tone of 1 kHz of an RMS level."""
    at_s = numpy.arange(2 * RATE_HZ) / RATE_HZ
    tone = math.sqrt(2.0) * 10.0 ** (level_dbfs / 20.0) * numpy.sin(2 * math.pi * 1000.0 * at_s)
    kept = squeeze(settings, tone)[RATE_HZ:]
    return 10.0 * math.log10(numpy.mean(tone[RATE_HZ:] ** 2) / numpy.mean(kept**2))


def effective(settings):
    """Level of a steady tone with 1 dB of reduction, and the ratio between 2 and 6 dB of it."""
    levels_dbfs = numpy.arange(-45.0, 0.0, 0.25)
    reductions_db = numpy.array([reduction_db(settings, level_dbfs) for level_dbfs in levels_dbfs])
    at = [float(numpy.interp(asked_db, reductions_db, levels_dbfs)) for asked_db in (1.0, 2.0, 6.0)]
    return at[0], 1.0 / (1.0 - 4.0 / (at[2] - at[1]))


def in_programme(raw, processed):
    """Gain reduction by steps of 10 ms, while the raw tap sounds."""
    n = raw.size // STEP * STEP
    before, after = (numpy.sum(tap[:n].reshape(-1, STEP) ** 2, axis=1) for tap in (raw, processed))
    level_db = 10.0 * numpy.log10(before + 1e-12)
    sounds = level_db > numpy.percentile(level_db, 95) - PROGRAMME_DB
    return 10.0 * numpy.log10(before[sounds] / after[sounds])


def main():
    if len(sys.argv) != 2:
        sys.exit("usage: python tests/outside/dynamics.py PROGRAM")
    checks = support.Checks()
    for number, settings in enumerate(SETTINGS):
        raw = phrases(numpy.random.default_rng(4000 + number))
        signals = {"LV": (raw, RATE_HZ), "LV post": (squeeze(settings, raw), RATE_HZ)}
        note = '[[channel]]\nname = "LV post"\ntap = "processed"\nprocessed_of = "LV"\n'
        review, stored = support.review(sys.argv[1], signals, note)
        told = support.channel(review, "post")["processing"]
        truth_db = in_programme(stored["LV"], stored["LV post"])
        name = f"{settings[1]}:1"
        for percent, key in [(50, "usual_reduction_db"), (90, "loud_reduction_db")]:
            expected_db = float(numpy.percentile(truth_db, percent))
            checks.near(f"{name}: {key}", told[key], expected_db, TRACE_TOLERANCE_DB)
        checks.near(f"{name}: static_gain_db", told["static_gain_db"], 0.0, TRACE_TOLERANCE_DB)
        threshold_dbfs, ratio = effective(settings)
        checks.near(f"{name}: threshold_dbfs", told["threshold_dbfs"], threshold_dbfs, THRESHOLD_TOLERANCE_DB)
        checks.near(f"{name}: ratio", told["ratio"], ratio, RATIO_TOLERANCE * ratio)
    checks.end()


if __name__ == "__main__":
    main()
