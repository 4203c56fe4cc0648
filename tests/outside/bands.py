"""Third-octave levels against a transform with scipy, at the session's rate and at another.

Usage: python tests/outside/bands.py PROGRAM
"""

import sys

import numpy
import scipy.signal

import support

# Class 1 filters of IEC 61260-1 are not ideal: on noise with a smooth spectrum a band may read 0.4 dB off the power
# between its edges, and its level from 60 s of noise scatters by 4.34 / sqrt(bandwidth x time) dB: 0.23 dB at 50 Hz.
TOLERANCE_DB = 0.8
# Below this band the scatter is larger than the tolerance allows.
LOWEST_HZ = 50
LENGTH_S = 60


def smooth_noise(rate_hz, seed):
    """Noise that falls by 3 dB an octave: as much power in each third-octave."""
    count = LENGTH_S * rate_hz
    spectrum = numpy.fft.rfft(numpy.random.default_rng(seed).standard_normal(count))
    hz = numpy.fft.rfftfreq(count, 1 / rate_hz)
    spectrum[1:] /= numpy.sqrt(hz[1:])
    spectrum[hz < 20] = 0
    samples = numpy.fft.irfft(spectrum, count)
    return 0.1 * samples / numpy.std(samples)


def band_levels(samples, rate_hz, nominal_hz):
    """Power between the exact base-10 edges of each band, re the power of all of them, in dB."""
    hz, density = scipy.signal.welch(samples, rate_hz, nperseg=rate_hz * 2)
    exact = 10 ** (numpy.round(10 * numpy.log10(nominal_hz)) / 10)
    power = []
    for middle in exact:
        low, high = middle * 10**-0.05, middle * 10**0.05
        # Each line of the transform covers half a hertz: lines at the edges count by the part that lies inside.
        width = hz[1] - hz[0]
        share = numpy.clip((numpy.minimum(hz + width / 2, high) - numpy.maximum(hz - width / 2, low)) / width, 0, 1)
        power.append(numpy.sum(density * share))
    return 10 * numpy.log10(numpy.array(power) / numpy.sum(power))


def main(program):
    checks = support.Checks()
    given = {
        "Keys": (smooth_noise(48000, 1), 48000),
        "Violin": (smooth_noise(48000, 2), 48000),
        "Trumpet": (smooth_noise(44100, 3), 44100),
    }
    review, stored = support.review(program, given)
    for name, samples in stored.items():
        tone = support.channel(review, name)["spectrum"]
        nominal_hz = numpy.array(tone["third_octave_hz"])
        expected = band_levels(samples, given[name][1], nominal_hz)
        for at, middle_hz in enumerate(nominal_hz):
            if middle_hz >= LOWEST_HZ:
                found = tone["third_octave_db"][at]
                checks.near(f"{name}: {middle_hz:g} Hz", found, expected[at], TOLERANCE_DB)
    checks.end()


if __name__ == "__main__":
    main(sys.argv[1])
