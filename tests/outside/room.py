"""What a microphone in the hall tells, against independent libraries.

A hall is simulated by pyroomacoustics (image sources). Its microphone hears quiet, a clap, and after it music whose level moves. The
program reviews that recording, and what it says is compared with:

- decay times behind the clap: pyroomacoustics, from the impulse response itself, by octave bands of scipy;
- clarity and definition: their definitions (ISO 3382-1) on the same bands;
- A- and C-weighted averages, the highest level with time weighting F: PyOctaveBand on the same samples;
- daily exposure and dose: their definitions (2003/10/EC; 3 dB of exchange re 85 dB and 8 h, seconds from 80 dB on) from outside levels.

Usage: python tests/outside/room.py PROGRAM
"""

import math
import sys

import numpy
import pyoctaveband
import pyroomacoustics
import scipy.signal
from pyroomacoustics.experimental.rt60 import measure_rt60

import support

RATE_HZ = 48000
CLAP_S = 12.0
MUSIC_S = 20.0
LENGTH_S = 80.0
# What is added to dBFS to get dB SPL: pressures in Pa are samples times this.
STEP_DB = 110.0
PASCAL = 20e-6 * 10.0 ** (STEP_DB / 20.0)
# Samples before the direct sound.
LEAD = RATE_HZ // 2
OCTAVES_HZ = [500, 1000, 2000, 4000]
# The just noticeable difference of a decay time (ISO 3382-1, table A.1).
DECAY_TOLERANCE = 0.05
# The same for clarity and definition.
CLARITY_TOLERANCE_DB = 1.0
DEFINITION_TOLERANCE = 0.05
# Two realisations of the weightings, each within class 1 (IEC 61672-1), and 24 bits.
LEVEL_TOLERANCE_DB = 0.1
DOSE_TOLERANCE = 0.03
# Quieter seconds do not count towards a dose (NIOSH 98-126; from memory).
DOSE_FROM_DB = 80.0


def hall():
    """Impulse response of a simulated hall, from its direct sound on."""
    material = pyroomacoustics.Material(energy_absorption=0.16)
    room = pyroomacoustics.ShoeBox([14.0, 9.0, 5.0], fs=RATE_HZ, materials=material, max_order=60, air_absorption=True)
    room.add_source([3.0, 4.1, 1.7])
    room.add_microphone([9.7, 5.3, 1.4])
    room.compute_rir()
    response = room.rir[0][0]
    # The simulation has a shift of its sources' low end that no recording has.
    response = scipy.signal.sosfilt(scipy.signal.butter(2, 30, "highpass", fs=RATE_HZ, output="sos"), response)
    direct = int(numpy.argmax(abs(response) > 0.3 * abs(response).max()))
    return response[max(direct - 24, 0):]


def music(rng):
    """Noise that falls by 3 dB an octave and moves by 12 dB."""
    n = int((LENGTH_S - MUSIC_S) * RATE_HZ)
    hz = numpy.maximum(numpy.fft.rfftfreq(n, 1 / RATE_HZ), 30.0)
    noise = numpy.fft.irfft(numpy.fft.rfft(rng.standard_normal(n)) / numpy.sqrt(hz), n)
    noise /= numpy.sqrt(numpy.mean(noise**2))
    at_s = numpy.arange(n) / RATE_HZ
    level_db = -26.0 + 6.0 * numpy.sin(2 * numpy.pi * at_s / 7.3) + 2.0 * numpy.sin(2 * numpy.pi * at_s / 0.9)
    return noise * 10.0 ** (level_db / 20.0)


def octave(response, middle_hz):
    """An octave of a response, its filter run backwards in time so that its own decay does not add to the sound's; it begins LEAD early,
    as the filter spreads the direct sound to before its arrival."""
    edges = [middle_hz / math.sqrt(2.0), middle_hz * math.sqrt(2.0)]
    band = scipy.signal.butter(3, edges, "bandpass", fs=RATE_HZ, output="sos")
    padded = numpy.concatenate([numpy.zeros(LEAD), response])
    return scipy.signal.sosfilt(band, padded[::-1])[::-1]


def early_share(band, limit_s):
    """Share of the energy of an octave that arrives before a limit."""
    return numpy.sum(band[: LEAD + int(limit_s * RATE_HZ)] ** 2) / numpy.sum(band**2)


def clarity(band, limit_s):
    """Early over late energy of an octave, in dB."""
    early = early_share(band, limit_s)
    return 10.0 * math.log10(early / (1.0 - early))


def main():
    if len(sys.argv) != 2:
        sys.exit("usage: python tests/outside/room.py PROGRAM")
    rng = numpy.random.default_rng(20310412)
    response = hall()
    n = int(LENGTH_S * RATE_HZ)
    heard = 10.0 ** (-98.0 / 20.0) * rng.standard_normal(n)
    at = int(CLAP_S * RATE_HZ)
    heard[at:at + response.size] += 0.5 * response / abs(response).max()
    heard[int(MUSIC_S * RATE_HZ):] += music(rng)
    stage = {name: 0.1 * music(numpy.random.default_rng(seed)) for seed, name in enumerate(["Kik", "LV"], 1)}
    lead = numpy.zeros(int(MUSIC_S * RATE_HZ))
    signals = {name: (numpy.concatenate([lead, part]), RATE_HZ) for name, part in stage.items()}
    signals["Room"] = (heard, RATE_HZ)
    note = (
        f'[[channel]]\nname = "Room"\nlevel_control = "off"\ncalibration = {{ dbfs_to_db_spl = {STEP_DB} }}\n'
    )
    review, stored = support.review(sys.argv[1], signals, note)
    checks = support.Checks()
    room = review["room"]
    middle_s = []
    for middle_hz in OCTAVES_HZ:
        told = next(one for one in room["octaves"] if one["octave_hz"] == middle_hz)
        band = octave(response, middle_hz)
        t20_s = measure_rt60(band, RATE_HZ, decay_db=20)
        t30_s = measure_rt60(band, RATE_HZ, decay_db=30)
        middle_s.append(t30_s)
        checks.near(f"T20 at {middle_hz} Hz, s", told["t20_s"], t20_s, DECAY_TOLERANCE * t20_s)
        checks.near(f"T30 at {middle_hz} Hz, s", told["t30_s"], t30_s, DECAY_TOLERANCE * t30_s)
        checks.near(f"C50 at {middle_hz} Hz, dB", told["c50_db"], clarity(band, 0.05), CLARITY_TOLERANCE_DB)
        checks.near(f"C80 at {middle_hz} Hz, dB", told["c80_db"], clarity(band, 0.08), CLARITY_TOLERANCE_DB)
        checks.near(f"D50 at {middle_hz} Hz", told["d50_share"], early_share(band, 0.05), DEFINITION_TOLERANCE)
    mean_s = (middle_s[0] + middle_s[1]) / 2.0
    checks.near("decay time, s", room["decay_s"], mean_s, DECAY_TOLERANCE * mean_s)
    sound, pressure = room["sound"], stored["Room"] * PASCAL
    laeq_db = float(pyoctaveband.laeq(pressure, RATE_HZ))
    lceq_db = float(pyoctaveband.leq(pyoctaveband.weighting_filter(pressure, RATE_HZ, "C")))
    fast = pyoctaveband.time_weighting(pyoctaveband.weighting_filter(pressure, RATE_HZ, "A"), RATE_HZ, "fast")
    lafmax_db = 10.0 * math.log10(float(fast.max()) / 20e-6**2)
    checks.near("LAeq, dB SPL", sound["laeq_db_spl"], laeq_db, LEVEL_TOLERANCE_DB)
    checks.near("LCeq, dB SPL", sound["lceq_db_spl"], lceq_db, LEVEL_TOLERANCE_DB)
    checks.near("LAFmax, dB SPL", sound["lafmax_db_spl"], lafmax_db, LEVEL_TOLERANCE_DB)
    peak_pa = numpy.abs(
        scipy.signal.resample_poly(pyoctaveband.weighting_filter(pressure, RATE_HZ, "C"), 4, 1)
    ).max()
    checks.near("LCpeak, dB SPL", sound["lcpeak_db_spl"], 20.0 * math.log10(peak_pa / 20e-6), 2 * LEVEL_TOLERANCE_DB)
    hours = LENGTH_S / 3600.0
    daily_db = laeq_db + 10.0 * math.log10(hours / 8.0)
    weighted = pyoctaveband.weighting_filter(pressure, RATE_HZ, "A").reshape(-1, RATE_HZ)
    seconds_db = 10.0 * numpy.log10(numpy.mean(weighted**2, axis=1) / 20e-6**2)
    counting_db = seconds_db[seconds_db >= DOSE_FROM_DB]
    dose_percent = 100.0 * float(numpy.sum(10.0 ** ((counting_db - 85.0) / 10.0))) / (8.0 * 3600.0)
    checks.near("daily exposure, dB SPL", sound["daily_exposure_db_spl"], daily_db, LEVEL_TOLERANCE_DB)
    checks.near("dose, %", sound["dose_percent"], dose_percent, DOSE_TOLERANCE * dose_percent)
    checks.end()


if __name__ == "__main__":
    main()
