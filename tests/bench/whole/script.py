"""The usual measurements of channels by the usual libraries, as a careful script would do them.

Usage: python script.py FILE...

Reads mono files, two at a time, and prints a JSON object: seconds it took, channel-seconds, and a check sum of what it found.
Vectorised throughout; filters as second-order sections; nothing is computed twice.
"""

import json
import multiprocessing
import sys
import time

import numpy
import pyloudnorm
import scipy.ndimage
import scipy.signal
import soundfile

THIRDS_HZ = 1000 * 2 ** (numpy.arange(-15, 14) / 3)
HUM_HZ = (50, 60)


def steps(x, n):
    """Rows of n samples."""
    return x[: x.size // n * n].reshape(-1, n)


def levels(x, rate_hz):
    """Level and peak by 10 ms, and the same above 120 Hz."""
    high = scipy.signal.sosfilt(scipy.signal.butter(2, 120, "high", fs=rate_hz, output="sos"), x)
    n = rate_hz // 100
    return [numpy.mean(steps(y, n) ** 2, axis=1) for y in (x, high)] + [numpy.abs(steps(x, n)).max(axis=1)]


def loudness(x, rate_hz):
    """Integrated, highest short-term loudness, loudness range, true peak."""
    meter = pyloudnorm.Meter(rate_hz, filter_class="DeMan")
    integrated = meter.integrated_loudness(x)
    weighted = x
    for stage in meter._filters.values():
        weighted = stage.apply_filter(weighted)
    tenths = numpy.mean(steps(weighted, rate_hz // 10) ** 2, axis=1)
    short = numpy.convolve(tenths, numpy.ones(30) / 30, "valid")
    lufs = -0.691 + 10 * numpy.log10(short + 1e-12)
    lufs = lufs[lufs > -70]
    kept = lufs[lufs > lufs.mean() - 20] if lufs.size else numpy.zeros(1)
    # In pieces: the whole at four times the rate would not fit.
    peak = max(
        numpy.abs(scipy.signal.resample_poly(piece, 4, 1)).max() for piece in numpy.array_split(x, max(1, x.size // 480000))
    )
    return [integrated, lufs.max(initial=-120.0), *numpy.percentile(kept, (10, 95)), peak]


def thirds(x, rate_hz):
    """29 third-octaves by 0.2 s; low ones at an eighth of the rate."""
    low, low_hz = scipy.signal.decimate(x, 8, ftype="fir"), rate_hz // 8
    found = []
    for centre_hz in THIRDS_HZ:
        y, hz = (low, low_hz) if centre_hz < 800 else (x, rate_hz)
        band = [centre_hz * 2 ** (-1 / 6), centre_hz * 2 ** (1 / 6)]
        y = scipy.signal.sosfilt(scipy.signal.butter(3, band, "band", fs=hz, output="sos"), y)
        found.append(numpy.mean(steps(y, hz // 5) ** 2, axis=1))
    return found


def faults(x, rate_hz):
    """Flat tops, offset, zeros and repeated blocks, clicks."""
    top = numpy.abs(x) >= 0.999 * numpy.abs(x).max()
    flat = numpy.count_nonzero(top[2:] & top[1:-1] & top[:-2])
    zeros = numpy.count_nonzero(scipy.ndimage.minimum_filter1d((x == 0).astype(numpy.int8), 32))
    repeats = numpy.count_nonzero(numpy.all(steps(x, 64)[1:] == steps(x, 64)[:-1], axis=1))
    bend = numpy.abs(numpy.diff(x, 2))
    usual = scipy.ndimage.uniform_filter1d(bend, rate_hz // 100)
    return [flat, zeros, repeats, numpy.count_nonzero(bend > 12 * usual + 1e-5), x.mean()]


def lines(x, rate_hz):
    """Hum, and the strongest line of each 128 ms as howls are looked for."""
    low = scipy.signal.decimate(scipy.signal.decimate(x, 10, ftype="fir"), 4, ftype="fir")
    _, power = scipy.signal.welch(low, rate_hz / 40, nperseg=4096)
    hum = [power[[round(k * hz * 40 * 4096 / rate_hz) for k in range(1, 7)]].sum() for hz in HUM_HZ]
    half = scipy.signal.decimate(x, 3, ftype="fir")
    _, _, spectra = scipy.signal.stft(half, rate_hz / 3, nperseg=2048, noverlap=1536)
    power = numpy.abs(spectra) ** 2
    return [*hum, (power.max(axis=0) / (power.mean(axis=0) + 1e-20)).max()]


def voice(x, rate_hz):
    """Sharp s sounds and blasts of air: two bands against the whole, by 10 ms."""
    n = rate_hz // 100
    found = []
    for band in ((4000, 10000), (20, 120)):
        y = scipy.signal.sosfilt(scipy.signal.butter(4, band, "band", fs=rate_hz, output="sos"), x)
        found.append(numpy.mean(steps(y, n) ** 2, axis=1))
    return found


def measure(path):
    """Channel-seconds of a file, and a sum over what was found."""
    x, rate_hz = soundfile.read(path, dtype="float32")
    found = []
    for part in (levels, loudness, thirds, faults, lines, voice):
        found.extend(part(x, rate_hz))
    return x.size / rate_hz, float(sum(numpy.sum(value) for value in found))


if __name__ == "__main__":
    begin = time.monotonic()
    with multiprocessing.Pool(2) as pool:
        done = pool.map(measure, sys.argv[1:], chunksize=1)
    print(
        json.dumps(
            {
                "seconds": time.monotonic() - begin,
                "channel_seconds": sum(one[0] for one in done),
                "sum": sum(one[1] for one in done),
            }
        )
    )
