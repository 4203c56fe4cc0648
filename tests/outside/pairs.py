"""Arrivals and coherences of two channels against numpy and scipy.

Two ways. The program reviews channels on one source, and its delays and signs are held against a generalised
cross-correlation. And the table `corpus/reference/pairs_oracle.csv`, with which the program's own tests compare the meters
that a review uses for chosen minutes only, is computed anew from the same samples and must be what is stored.

Usage: python tests/outside/pairs.py PROGRAM
       python tests/outside/pairs.py --write     writes the table
"""

import pathlib
import sys

import numpy
import scipy.fft
import scipy.signal

import support

RATE_HZ = 48000
LENGTH_S = 12
TABLE = pathlib.Path(__file__).resolve().parents[2] / "corpus" / "reference" / "pairs_oracle.csv"
# Samples before the first, so that a channel can be early.
LEAD = 256
# Two estimates of one delay from the same seconds differ by how they weigh frequencies.
DELAY_TOLERANCE_SAMPLES = 0.05
# Ten digits are stored; other machines add in another order.
TABLE_TOLERANCE = 1e-6
# name, seed, whole samples of delay (half a sample comes on top), amplitude in the second channel, noise in either, pole of a
# low-pass before both
CASES = [
    ("near", 11, 37, 0.7, 0.1, 0.1, 0.0),
    ("early and inverted", 12, -100, -0.8, 0.5, 0.4, 0.0),
    ("dark", 13, 12, 0.5, 0.02, 0.02, 0.95),
    ("as loud as its disturbance", 14, 140, 1.0, 0.0, 1.0, 0.0),
    ("under its disturbance", 15, 3, 0.5, 0.5, 1.0, 0.0),
    ("strangers", 16, 0, 0.0, 1.0, 1.0, 0.0),
]
SOURCE = (
    "generalised cross-correlation with phase transform (Knapp & Carter 1976) and coherence by numpy and scipy 1.17.1; "
    "signals by splitmix64 as in tests/outside/pairs.py"
)
COLUMNS = ["case", "seed", "whole_samples", "gain", "noise_first", "noise_second", "pole",
           "gcc_delay_samples", "gcc_sign", "coherence_40_16000_hz", "coherence_300_3000_hz"]


def even(seed, count):
    """Numbers evenly between -1 and 1 (splitmix64; Steele, Lea & Flood 2014)."""
    with numpy.errstate(over="ignore"):
        bits = numpy.uint64(seed) + numpy.arange(1, count + 1, dtype=numpy.uint64) * numpy.uint64(0x9E3779B97F4A7C15)
        bits = (bits ^ (bits >> numpy.uint64(30))) * numpy.uint64(0xBF58476D1CE4E5B9)
        bits = (bits ^ (bits >> numpy.uint64(27))) * numpy.uint64(0x94D049BB133111EB)
        bits ^= bits >> numpy.uint64(31)
    return 2.0 * ((bits >> numpy.uint64(11)).astype(float) / 2.0**53) - 1.0


def channels(case):
    """Both channels of a case, in single precision: the second is the mean of two neighbouring delays."""
    _, seed, whole, gain, noise_first, noise_second, pole = case
    count = LENGTH_S * RATE_HZ
    source = even(1000 * seed, count + 2 * LEAD)
    source = scipy.signal.lfilter([1.0 - pole], [1.0, -pole], source)
    at = numpy.arange(count) + LEAD
    first = source[at] + noise_first * even(1000 * seed + 1, count)
    later = 0.5 * (source[at - whole] + source[at - whole - 1])
    second = gain * later + noise_second * even(1000 * seed + 2, count)
    return first.astype(numpy.float32), second.astype(numpy.float32)


def correlation(first, second):
    """Delay of the second channel in samples and its sign: phase transform of Welch's cross-spectrum (Knapp & Carter 1976)."""
    length, finer = 16384, 16
    hz, cross = scipy.signal.csd(first, second, RATE_HZ, "hann", length, 3 * length // 4, detrend=False)
    inside = (hz >= 60) & (hz <= 14000)
    lags = scipy.fft.irfft(numpy.where(inside, cross / (abs(cross) + 1e-300), 0), finer * length)
    far = 2400 * finer
    near_zero = numpy.concatenate([lags[-far:], lags[: far + 1]])
    size = abs(near_zero)
    peak = int(numpy.argmax(size[1:-1])) + 1
    before, here, after = size[peak - 1 : peak + 2]
    part = 0.5 * (before - after) / (before - 2 * here + after)
    return (peak + part - far) / finer, float(numpy.sign(near_zero[peak]))


def coherence(first, second, low_hz, high_hz):
    """Magnitude-squared coherence, weighted by both powers, without what chance adds to so many frames."""
    welch = {"fs": RATE_HZ, "window": "hann", "nperseg": 4096, "noverlap": 2048, "detrend": False}
    hz, found = scipy.signal.coherence(first, second, **welch)
    powers = [scipy.signal.welch(x, **welch)[1] for x in (first, second)]
    inside = (hz >= low_hz) & (hz < high_hz)
    weight = sum(power[inside] / power[inside].sum() for power in powers)
    n_frames = (first.size - 4096) // 2048 + 1
    chance = 19 / 18 / n_frames
    return float(numpy.average((found[inside] - chance) / (1 - chance), weights=weight))


def rows():
    """The table, computed."""
    for case in CASES:
        first, second = (x.astype(float) for x in channels(case))
        delay, sign = correlation(first, second) if case[3] else (numpy.nan, numpy.nan)
        # From the lowest edge of the third-octave at 40 Hz to the highest of that at 16 kHz.
        low_hz, high_hz = 1000 * 2 ** (-29 / 6), 16000 * 2 ** (1 / 6)
        wide, voice = coherence(first, second, low_hz, high_hz), coherence(first, second, 300, 3000)
        yield [*case, *(f"{x:.10g}" for x in (delay, sign, max(wide, 0), max(voice, 0)))]


def check_review(checks, program):
    """Delay and sign of pairs that a review measures over the whole recording."""
    names = [("Bass DI", "Bass Mic", CASES[0]), ("Snare Top", "Snare Bottom", CASES[1])]
    given = {}
    for first_name, second_name, case in names:
        for name, samples in zip((first_name, second_name), channels(case)):
            given[name] = (0.2 * samples, RATE_HZ)
    review, stored = support.review(program, given)
    for first_name, second_name, _ in names:
        ids = [support.channel(review, name)["id"] for name in (first_name, second_name)]
        pairs = [pair for pair in review["pairs"] if [pair["source"], pair["mic"]] == ids]
        checks.holds(len(pairs) == 1, f"{first_name} and {second_name} are one pair")
        delay, sign = correlation(stored[first_name], stored[second_name])
        for pair in pairs:
            samples = pair["delay_s"].get("value", numpy.nan) * RATE_HZ
            checks.near(f"{second_name}: samples later", samples, delay, DELAY_TOLERANCE_SAMPLES)
            checks.near(f"{second_name}: sign", pair["polarity"], sign, 0.0)


def main(program):
    if program == "--write":
        support.write_table(TABLE, SOURCE, COLUMNS, rows())
        return
    checks = support.Checks()
    checks.table(TABLE, COLUMNS, rows(), 7, TABLE_TOLERANCE)
    check_review(checks, program)
    checks.end()


if __name__ == "__main__":
    main(sys.argv[1])
