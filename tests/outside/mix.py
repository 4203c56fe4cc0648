"""The equations behind the reading of a mix, solved by numpy and scipy.

The table `corpus/reference/mix_oracle.csv`, with which the program's own tests compare its solvers, is computed anew from the
same numbers and must be what is stored.

Usage: python tests/outside/mix.py PROGRAM   (the program itself is not asked)
       python tests/outside/mix.py --write   writes the table
"""

import pathlib
import sys

import numpy
import scipy.linalg
import scipy.optimize

import support

TABLE = pathlib.Path(__file__).resolve().parents[2] / "corpus" / "reference" / "mix_oracle.csv"
# Ten digits are stored; other machines add in another order.
TABLE_TOLERANCE = 1e-7
SOURCE = (
    "least squares and Hermitian equations by numpy and scipy 1.17.1; numbers by splitmix64 as in tests/outside/mix.py"
)
COLUMNS = ["case", "place", "re", "im"]


def even(seed, count):
    """Numbers evenly between -1 and 1 (splitmix64; Steele, Lea & Flood 2014)."""
    with numpy.errstate(over="ignore"):
        bits = numpy.uint64(seed) + numpy.arange(1, count + 1, dtype=numpy.uint64) * numpy.uint64(0x9E3779B97F4A7C15)
        bits = (bits ^ (bits >> numpy.uint64(30))) * numpy.uint64(0xBF58476D1CE4E5B9)
        bits = (bits ^ (bits >> numpy.uint64(27))) * numpy.uint64(0x94D049BB133111EB)
        bits ^= bits >> numpy.uint64(31)
    return 2.0 * ((bits >> numpy.uint64(11)).astype(float) / 2.0**53) - 1.0


def pairs(seed, *shape):
    """Complex numbers, each from two in a row."""
    both = even(seed, 2 * int(numpy.prod(shape))).reshape(*shape, 2)
    return both[..., 0] + 1j * both[..., 1]


def least_squares():
    """Factors of four channels in a bin over 40 frames, with a small load on the diagonal."""
    channels, main = pairs(21, 40, 4), pairs(22, 40)
    power = (abs(channels) ** 2).sum(0)
    load = numpy.sqrt(1e-4 * power + 1e-12 * power.max())
    stacked = numpy.vstack([channels, numpy.diag(load)])
    return numpy.linalg.lstsq(stacked, numpy.concatenate([main, numpy.zeros(4)]), rcond=None)[0]


def not_negative():
    """Gains of six channels that are not negative."""
    return scipy.optimize.nnls(even(23, 180).reshape(30, 6), even(24, 30))[0]


def banded():
    """Hermitian equations within a band of three, made from a factor that is known."""
    factor = numpy.tril(numpy.triu(pairs(25, 12, 12), -3), -1) + 2 * numpy.eye(12)
    square = factor @ factor.conj().T
    lower = numpy.zeros((4, 12), complex)
    for reach in range(4):
        lower[reach, : 12 - reach] = numpy.diag(square, -reach)
    return scipy.linalg.solveh_banded(lower, pairs(26, 12), lower=True)


def walk():
    """Mean of a random walk of three gains over 20 frames, given equations of each frame."""
    n, frames, step = 3, 20, 0.08
    rows = even(27, frames * 6 * n).reshape(frames, 6, n)
    squares = 5 * numpy.einsum("tri,trj->tij", rows, rows)
    gains = 1 + 0.3 * even(28, frames * n).reshape(frames, n)
    wanted = numpy.einsum("tij,tj->ti", squares, gains)
    ties = 2 * numpy.eye(frames) - numpy.eye(frames, k=1) - numpy.eye(frames, k=-1)
    ties[0, 0] = ties[-1, -1] = 1
    whole = scipy.linalg.block_diag(*(squares / 2)) + numpy.kron(ties, numpy.eye(n)) / step**2
    return numpy.linalg.solve(whole + 1e-3 * numpy.eye(frames * n), wanted.ravel() / 2 + 1e-3)


CASES = {"least squares": least_squares, "not negative": not_negative, "banded": banded, "walk": walk}


def rows():
    """The table, computed."""
    for name, case in CASES.items():
        for place, value in enumerate(case()):
            value = complex(value)
            yield [name, str(place), f"{value.real:.10g}", f"{value.imag:.10g}"]


def main(program):
    if program == "--write":
        support.write_table(TABLE, SOURCE, COLUMNS, rows())
        return
    checks = support.Checks()
    checks.table(TABLE, COLUMNS, rows(), 2, TABLE_TOLERANCE)
    checks.end()


if __name__ == "__main__":
    main(sys.argv[1])
