"""Compares the program's meters with independent ones.

Makes a folder of recordings, lets the program review it, and compares what it says of each channel with what
independent libraries say of the same samples:

- integrated loudness: pyloudnorm, filter class "DeMan" (its default class reads 0.041 LU low at 997 Hz);
- true peak: sixteenfold resampling by soxr;
- third-octave levels re total: PyOctaveBand;
- change of rate: a recording at 44.1 kHz that soxr made from one at 48 kHz must measure the same.

Usage: python check_meters.py PROGRAM [FOLDER]

PROGRAM is the built `deskside`. FOLDER keeps the recordings and the review; without it a scratch folder is used.
Ends with 0 if all agree, 1 if not, 2 if the review cannot be had.
"""

import json
import math
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pyloudnorm
import soundfile
import soxr
from pyoctaveband import octavefilter

RATE_HZ = 48_000
OTHER_RATE_HZ = 44_100
LENGTH_S = 30

# Two meters of BS.1770 differ by where their blocks start and by their filters off 48 kHz.
LOUDNESS_TOLERANCE_LU = 0.01
LOUDNESS_TOLERANCE_OTHER_RATE_LU = 0.02

# Both interpolate sixteenfold: 0.03 dB of grid on either side, and the ripple of two filters.
TRUE_PEAK_TOLERANCE_DB = 0.1

# Sixth order there, eighth order here: widths differ by 0.09 dB and skirts matter where a neighbour is much louder.
THIRDS_TOLERANCE_DB = 0.3

# Below this a band holds the skirts of others and rounding.
THIRDS_FLOOR_DB = -45.0

# The lowest bands of 30 s of noise: few independent values, and the two filters settle differently.
THIRDS_LOWEST_HZ = 40.0

# Same sound at two rates, through two resamplers.
RATE_TOLERANCE_LU = 0.02
RATE_TOLERANCE_DB = 0.1


def coloured(rng, slope_db_per_octave, low_hz, high_hz):
    """Steady noise whose density falls by a slope, within a band, peaks near -10 dBFS."""
    n = RATE_HZ * LENGTH_S
    frequency_hz = np.fft.rfftfreq(n, 1 / RATE_HZ)
    shape = np.zeros_like(frequency_hz)
    inside = (frequency_hz >= low_hz) & (frequency_hz <= high_hz)
    shape[inside] = (frequency_hz[inside] / 1000.0) ** (slope_db_per_octave / 6.0206)
    spectrum = shape * (rng.standard_normal(shape.size) + 1j * rng.standard_normal(shape.size))
    signal = np.fft.irfft(spectrum, n)
    return 0.316 * signal / np.max(np.abs(signal))


def signals():
    """Names and samples, all at 48 kHz."""
    rng = np.random.default_rng(17)
    time_s = np.arange(RATE_HZ * LENGTH_S) / RATE_HZ
    steady = coloured(rng, 0.0, 30.0, 18_000.0)
    swell = 10 ** ((-12 + 10 * np.sin(2 * np.pi * time_s / 7.0)) / 20)
    return {
        "01 white": steady,
        "02 pink": coloured(rng, -3.0103, 20.0, 18_000.0),
        "03 steep": coloured(rng, -6.0, 60.0, 16_000.0),
        "04 middle": coloured(rng, 0.0, 300.0, 3_000.0),
        "05 swelling": coloured(rng, -3.0103, 40.0, 15_000.0) * swell,
        "06 tone": 0.25 * np.sin(2 * np.pi * 997.0 * time_s),
        # The samples of this tone miss its crests by 3 dB.
        "07 between": 0.4 * np.sin(2 * np.pi * RATE_HZ / 4 * time_s + np.pi / 4) * np.minimum(1, 10 * time_s),
    }


def write(folder):
    """Writes the recordings; gives {name: (rate, samples as stored)}."""
    stored = {}
    for name, signal in signals().items():
        stored[name] = (RATE_HZ, signal)
    other = soxr.resample(stored["02 pink"][1], RATE_HZ, OTHER_RATE_HZ, quality="VHQ")
    stored["08 pink at another rate"] = (OTHER_RATE_HZ, other)
    for name, (rate_hz, signal) in stored.items():
        soundfile.write(folder / f"{name}.wav", signal, rate_hz, subtype="FLOAT")
        stored[name] = (rate_hz, soundfile.read(folder / f"{name}.wav")[0])
    return stored


def review(program, folder, out):
    """The channels of the review, by name."""
    command = [program, "review", str(folder), "--format", "json", "--out", str(out)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1):
        raise Trouble(f"{' '.join(command)} ended with {done.returncode}:\n{done.stderr}")
    files = [out] if out.is_file() else sorted(out.rglob("review.json"))
    text = files[0].read_text(encoding="utf-8") if files else done.stdout
    found = channels_in(json.loads(text))
    if found is None:
        raise Trouble("the review holds no channels")
    return {channel["name"]: channel for channel in found}


def channels_in(node):
    """The list under the first key `channels` whose items carry loudness."""
    if isinstance(node, dict):
        channels = node.get("channels")
        if isinstance(channels, list) and any("integrated_lufs" in channel for channel in channels):
            return channels
        node = list(node.values())
    if isinstance(node, list):
        for child in node:
            found = channels_in(child)
            if found is not None:
                return found
    return None


def channel_of(channels, name):
    """The channel of a recording: its name is that of the file, with or without its number."""
    for wanted in (name, name.split(" ", 1)[1]):
        for found, channel in channels.items():
            if found.casefold() == wanted.casefold():
                return channel
    raise Trouble(f"the review has no channel {name!r}, only {sorted(channels)}")


def value(fact):
    """The value of a fact, not a number if it has none."""
    return fact.get("value", math.nan) if isinstance(fact, dict) else math.nan


def outside_loudness_lufs(rate_hz, signal):
    return pyloudnorm.Meter(rate_hz, filter_class="DeMan").integrated_loudness(signal)


def outside_true_peak_dbtp(rate_hz, signal):
    fine = soxr.resample(signal, rate_hz, 16 * rate_hz, quality="VHQ")
    return 20 * math.log10(np.max(np.abs(fine)))


def outside_thirds_db(rate_hz, signal, asked_hz):
    """Levels re the total of all asked bands, by nominal frequency as asked."""
    levels, found_hz = octavefilter(signal, rate_hz, fraction=3, order=6, limits=[22.5, 17_700.0])
    nearest = [int(np.argmin(np.abs(np.log(np.array(found_hz) / hz)))) for hz in asked_hz]
    picked = np.array([levels[idx] for idx in nearest])
    return picked - 10 * np.log10(np.sum(10 ** (picked / 10)))


class Trouble(Exception):
    """The review cannot be had."""


class Checks:
    """Counts what agrees."""

    def __init__(self):
        self.passed = self.failed = 0

    def near(self, what, found, expected, tolerance):
        agrees = abs(found - expected) <= tolerance  # false for what is not a number
        self.passed += agrees
        self.failed += not agrees
        mark = "ok  " if agrees else "FAIL"
        print(f"{mark} {what}: {found:.3f}, independent {expected:.3f}, within {tolerance}")


def check_thirds(checks, name, rate_hz, signal, spectrum):
    asked_hz = spectrum["third_octave_hz"]
    expected = outside_thirds_db(rate_hz, signal, asked_hz)
    n_compared = 0
    for hz, found_db, expected_db in zip(asked_hz, spectrum["third_octave_db"], expected):
        if expected_db > THIRDS_FLOOR_DB and hz >= THIRDS_LOWEST_HZ:
            found_db = math.nan if found_db is None else found_db
            checks.near(f"{name}, {hz:g} Hz re total, dB", found_db, expected_db, THIRDS_TOLERANCE_DB)
            n_compared += 1
    checks.near(f"{name}, any band compared", float(n_compared > 0), 1.0, 0.0)


def check_rates(checks, one, other):
    """One sound at two rates."""
    pairs = zip(one["spectrum"]["third_octave_hz"], one["spectrum"]["third_octave_db"],
                other["spectrum"]["third_octave_db"])
    loudness = value(other["integrated_lufs"]), value(one["integrated_lufs"])
    checks.near("44.1 against 48 kHz, LUFS", *loudness, RATE_TOLERANCE_LU)
    for hz, one_db, other_db in pairs:
        if hz >= THIRDS_LOWEST_HZ and one_db is not None and other_db is not None:
            checks.near(f"44.1 against 48 kHz, {hz:g} Hz, dB", other_db, one_db, RATE_TOLERANCE_DB)


def main():
    if len(sys.argv) not in (2, 3):
        print(__doc__, file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as scratch:
        base = Path(sys.argv[2] if len(sys.argv) == 3 else scratch)
        folder, out = base / "recordings", base / "out"
        folder.mkdir(parents=True, exist_ok=True)
        out.mkdir(exist_ok=True)
        stored = write(folder)
        channels = review(sys.argv[1], folder, out)
        checks = Checks()
        for name, (rate_hz, signal) in stored.items():
            channel = channel_of(channels, name)
            tolerance = (LOUDNESS_TOLERANCE_LU if rate_hz == RATE_HZ
                         else LOUDNESS_TOLERANCE_OTHER_RATE_LU)
            checks.near(f"{name}, LUFS", value(channel["integrated_lufs"]),
                        outside_loudness_lufs(rate_hz, signal), tolerance)
            checks.near(f"{name}, dBTP", value(channel["true_peak_dbtp"]),
                        outside_true_peak_dbtp(rate_hz, signal), TRUE_PEAK_TOLERANCE_DB)
            if name[:2] in ("01", "02", "03", "08"):
                check_thirds(checks, name, rate_hz, signal, channel["spectrum"])
        check_rates(checks, channel_of(channels, "02 pink"),
                    channel_of(channels, "08 pink at another rate"))
    print(f"{checks.passed} passed, {checks.failed} failed")
    return 1 if checks.failed else 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except Trouble as trouble:
        print(trouble, file=sys.stderr)
        sys.exit(2)
