"""How loud each channel is in a mix, by a small desk in numpy and pyloudnorm's weighting, against what a review reads back.

Five players with spill are mixed with known gains, pans and a high-pass; the program gets the raw channels and the mix only.
`re_mix_lu` is the loudness of a channel's contribution minus that of the mix while its own source sounds: here from the weighted
powers (ITU-R BS.1770-5, the filters of pyloudnorm that are the standard's) of the contributions themselves.

Usage: python tests/outside/contributions.py PROGRAM
"""

import json
import pathlib
import subprocess
import sys
import tempfile

import numpy
import pyloudnorm
import scipy.signal
import soundfile

import support

RATE_HZ = 48_000
LENGTH_S = 40
# Third-octaves stand for the weighting, and a source's own seconds are the review's.
TOLERANCE_LU = 0.5
NAMES = ["01 LV", "02 Keys", "03 Sax", "04 E Git", "05 Fiddle"]
# Gain in dB, pan, corner of a high-pass in Hz.
STRIPS = [(-3.0, 0.0, 120), (-9.0, -0.5, None), (-12.0, 0.5, 200), (-5.0, 0.2, None), (-16.0, -0.2, 90)]


def player(seed):
    """Coloured noise in bursts of its own: on for some seconds, off for some."""
    random = numpy.random.default_rng(seed)
    noise = scipy.signal.lfilter([0.1], [1, -0.4 - 0.1 * (seed % 3)], random.standard_normal(LENGTH_S * RATE_HZ))
    level, at = numpy.zeros(LENGTH_S * RATE_HZ), 0
    while at < len(level):
        length = int(random.uniform(2, 5) * RATE_HZ)
        level[at : at + length] = random.choice([0.0, 0.5, 1.0])
        at += length
    return noise * scipy.signal.lfilter([1 / 2400], [1, -1 + 1 / 2400], level)


def weighted(samples):
    """Power after the weighting, second by second."""
    for stage in pyloudnorm.Meter(RATE_HZ, filter_class="DeMan")._filters.values():
        samples = stage.apply_filter(samples)
    return (samples.reshape(LENGTH_S, RATE_HZ) ** 2).mean(1)


def main(program):
    players = [player(seed) for seed in range(len(NAMES))]
    raw = []
    for mic, own in enumerate(players):
        others = sum(numpy.roll(x, 90 * abs(mic - other)) for other, x in enumerate(players) if other != mic)
        noise = numpy.random.default_rng(50 + mic).standard_normal(len(own))
        raw.append(own + 0.05 * others + 1e-5 * noise)
    given, sides = [], numpy.zeros((2, len(raw[0])))
    for samples, (gain_db, pan, corner_hz) in zip(raw, STRIPS):
        if corner_hz:
            samples = scipy.signal.sosfilt(
                scipy.signal.butter(2, corner_hz, "highpass", fs=RATE_HZ, output="sos"), samples
            )
        samples = samples * 10 ** (gain_db / 20)
        angle = (pan + 1) * numpy.pi / 4
        sides += numpy.array([numpy.cos(angle) * samples, numpy.sin(angle) * samples])
        given.append(weighted(samples))
    main_power = sum(weighted(side) for side in sides)
    checks = support.Checks()
    with tempfile.TemporaryDirectory() as scratch:
        folder = pathlib.Path(scratch) / "night"
        folder.mkdir()
        for name, samples in zip(NAMES, raw):
            soundfile.write(folder / f"{name}.wav", samples, RATE_HZ, "PCM_24")
        soundfile.write(folder / "06 Main.wav", sides.T, RATE_HZ, "PCM_24")
        arguments = ["review", str(folder), "--out", scratch, "--quiet", "--no-excerpts"]
        subprocess.run([program, *arguments], check=True)
        review = json.loads((pathlib.Path(scratch) / "review.json").read_text(encoding="utf-8"))
    channels = {channel["id"]: channel for channel in review["channels"]}
    for line in review["mix"]["channels"]:
        channel = channels[line["channel"]]
        place = NAMES.index(f"{channel['number']:02} {channel['name']}")
        seconds = [
            second
            for second in range(LENGTH_S)
            if any(s["start_s"] <= second + 0.5 < s["end_s"] for s in channel["active"])
        ]
        expected = 10 * numpy.log10(given[place][seconds].sum() / main_power[seconds].sum())
        checks.near(f"loudness of {channel['name']} re the mix", line["re_mix_lu"]["value"], expected, TOLERANCE_LU)
    checks.end()


if __name__ == "__main__":
    main(sys.argv[1])
