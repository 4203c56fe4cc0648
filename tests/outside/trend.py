"""Trends, slopes and rates against scipy, statsmodels and pymannkendall.

The tables `corpus/reference/trend_oracle.csv` and `corpus/reference/rate_oracle.csv`, with which the program's own tests
compare its statistics, are computed anew and must be what is stored.

Usage: python tests/outside/trend.py PROGRAM
       python tests/outside/trend.py --write     writes the tables
"""

import itertools
import pathlib
import sys

import numpy
import pymannkendall
import scipy.stats
import statsmodels.stats.proportion

import support

REFERENCE = pathlib.Path(__file__).resolve().parents[2] / "corpus" / "reference"
TREND_TABLE = REFERENCE / "trend_oracle.csv"
RATE_TABLE = REFERENCE / "rate_oracle.csv"
TREND_COLUMNS = ["case", "data", "s", "p_two_sided", "slope", "slope_low", "slope_high"]
RATE_COLUMNS = ["hits", "chances", "low", "high"]
TREND_SOURCE = (
    "p: scipy 1.17.1 kendalltau(method=exact) up to 10 values without ties; all orders counted up to 8 values with ties; "
    "pymannkendall 1.4.3 original_test beyond 10; slopes: scipy theilslopes; series by numpy as in tests/outside/trend.py"
)
RATE_SOURCE = "statsmodels 0.15.0 proportion_confint(method=wilson)"
# Fifteen digits are stored; other machines add in another order.
TOLERANCE = 1e-12
# The tables published up to here are exact.
EXACT_UP_TO = 10


def kendall_s(values):
    """Pairs that rise minus pairs that fall."""
    return int(sum(numpy.sign(b - a) for a, b in itertools.combinations(values, 2)))


def probability(values):
    """Two-sided probability of the trend of a series."""
    n = len(values)
    if n > EXACT_UP_TO:
        return pymannkendall.original_test(values).p
    if len(set(values)) == n:
        return scipy.stats.kendalltau(range(n), values, method="exact").pvalue
    orders = numpy.array(list(itertools.permutations(values)))
    s = sum(numpy.sign(orders[:, j] - orders[:, i]) for i, j in itertools.combinations(range(n), 2))
    return float(numpy.mean(abs(s) >= abs(kendall_s(values))))


def series():
    """Series of many lengths, without and with equal values, flat and with a slope."""
    rng = numpy.random.default_rng(8128)
    for n in (3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 20, 33, 52):
        for drift in (0.0, 0.3, -1.0):
            values = numpy.round(rng.normal(size=n) + drift * numpy.arange(n), 3)
            if len(set(values)) == n:
                yield f"{n} values drifting by {drift}", values
    for n in (4, 5, 6, 7, 8, 11, 17, 30):
        for steps in (2, 3):
            yield f"{n} values on {steps} steps", rng.integers(0, steps, size=n).astype(float)
    yield "8 equal values", numpy.full(8, 2.5)
    yield "14 equal values", numpy.full(14, 2.5)


def trend_rows():
    """The table of trends, computed."""
    for name, values in series():
        slope = scipy.stats.theilslopes(values, range(len(values)), 0.95)
        p = 1.0 if len(set(values)) == 1 else probability(list(values))
        data = " ".join(f"{value:g}" for value in values)
        numbers = (p, slope.slope, slope.low_slope, slope.high_slope)
        yield [name, data, kendall_s(values), *(f"{number:.15g}" for number in numbers)]


def rate_rows():
    """The table of rates, computed."""
    for chances in (1, 2, 4, 8, 9, 12, 72, 1000):
        for hits in sorted({0, 1, chances // 3, chances // 2, chances - 1, chances}):
            low, high = statsmodels.stats.proportion.proportion_confint(hits, chances, method="wilson")
            yield [hits, chances, f"{low:.15g}", f"{high:.15g}"]


def main(program):
    if program == "--write":
        support.write_table(TREND_TABLE, TREND_SOURCE, TREND_COLUMNS, trend_rows())
        support.write_table(RATE_TABLE, RATE_SOURCE, RATE_COLUMNS, rate_rows())
        return
    checks = support.Checks()
    checks.table(TREND_TABLE, TREND_COLUMNS, trend_rows(), 3, TOLERANCE)
    checks.table(RATE_TABLE, RATE_COLUMNS, rate_rows(), 2, TOLERANCE)
    checks.end()


if __name__ == "__main__":
    main(sys.argv[1])
