"""Loudness, peaks and crest factors against pyloudnorm, numpy and scipy.

Usage: python tests/outside/loudness.py PROGRAM
"""

import sys

import numpy
import pyloudnorm
import scipy.signal

import support

# Two independent implementations of ITU-R BS.1770 agree to 1e-4 LU; 0.01 LU is what the program promises.
LOUDNESS_TOLERANCE_LU = 0.01
# A sample peak is a maximum of stored samples: only the printing of the number rounds.
PEAK_TOLERANCE_DB = 0.0005
# The promise for signals below 0.45 of the rate. Sixtyfourfold oversampling errs by less than 0.003 dB there:
# -20 lg cos(pi 0.45 / 64).
TRUE_PEAK_TOLERANCE_DB = 0.1
RATES_HZ = (44100, 48000)
LENGTH_S = 30


def signals(rate_hz):
    """Seeded signals that exercise gates and filters, by the name of a channel."""
    noise = numpy.random.default_rng(20260314)
    time_s = numpy.arange(LENGTH_S * rate_hz) / rate_hz
    white = noise.standard_normal(time_s.size)
    # Passages of 3 s at four levels: the relative gate drops the lowest, the absolute gate the pauses.
    steps_db = numpy.array([-20.0, -34.0, -90.0, -26.0, -60.0])[(time_s // 3).astype(int) % 5]
    low = scipy.signal.sosfilt(scipy.signal.butter(2, 200, fs=rate_hz, output="sos"), white)
    # Faded at both ends: a tone that is cut off has a true peak of its own there.
    fade = numpy.clip(numpy.minimum(time_s, time_s[::-1]) / 0.05, 0, 1)
    tone = lambda hz, phase: fade * numpy.sin(2 * numpy.pi * hz * time_s + phase)
    return {
        "tone": 0.25 * tone(997, 0),
        "steps": 0.5 * 10 ** (steps_db / 20) * white / 3,
        "rumble": 0.1 * low / numpy.std(low),
        "between": 0.4 * tone(rate_hz / 4, numpy.pi / 4),
    }


def decibel(ratio):
    """20 lg of a ratio of amplitudes."""
    return 20 * numpy.log10(ratio)


def main(program):
    checks = support.Checks()
    for rate_hz in RATES_HZ:
        given = signals(rate_hz)
        review, stored = support.review(program, {name: (x, rate_hz) for name, x in given.items()})
        # The default filters of this library read 0.04 LU low; these are the standard's.
        meter = pyloudnorm.Meter(rate_hz, filter_class="DeMan")
        for name, samples in stored.items():
            found = support.channel(review, name)
            peak, rms = numpy.max(numpy.abs(samples)), numpy.sqrt(numpy.mean(samples**2))
            dense = scipy.signal.resample_poly(samples[: 4 * rate_hz], 64, 1, window=("kaiser", 12.0))
            true_peak = max(numpy.max(numpy.abs(dense[: -rate_hz * 64 // 10])), peak)
            label = f"{name} at {rate_hz} Hz"
            checks.near(f"{label}: integrated loudness", found["integrated_lufs"],
                        meter.integrated_loudness(samples), LOUDNESS_TOLERANCE_LU)
            checks.near(f"{label}: sample peak", found["top_peak_dbfs"], decibel(peak), PEAK_TOLERANCE_DB)
            checks.near(f"{label}: crest factor", found["crest_db"], decibel(peak / rms), PEAK_TOLERANCE_DB)
            if name in ("tone", "between"):
                checks.near(f"{label}: true peak", found["true_peak_dbtp"], decibel(true_peak), TRUE_PEAK_TOLERANCE_DB)
    checks.end()


if __name__ == "__main__":
    main(sys.argv[1])
