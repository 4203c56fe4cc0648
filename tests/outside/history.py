"""Habits of the invented weeks against scipy and statsmodels, and exported observations against an engine that queries them.

The program writes the invented weeks, prints habits and exports observations. Rates, trends and slopes are computed anew from the
counts that it prints; DuckDB reads the Parquet that the program writes, and the query that docs/history.md shows is run as it stands there.

Usage: python tests/outside/history.py PROGRAM
"""

import csv
import io
import itertools
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile

import duckdb
import numpy
import scipy.stats
import statsmodels.stats.multitest
import statsmodels.stats.proportion

import support

GUIDE = pathlib.Path(__file__).resolve().parents[2] / "docs" / "history.md"
# The program prints six decimals.
TOLERANCE = 6e-7
OPERATORS = ("wren", "heron", "kestrel")


def run(program, *arguments):
    """Standard output of a run."""
    done = subprocess.run([program, *arguments], capture_output=True)
    if done.returncode != 0:
        sys.exit(f"error: {arguments} gave {done.returncode}\n{done.stderr.decode()}")
    return done.stdout.decode()


def exact(values):
    """Two-sided probability of a trend: all orders counted."""
    pairs = list(itertools.combinations(range(len(values)), 2))
    own = sum(numpy.sign(values[j] - values[i]) for i, j in pairs)
    orders = numpy.array(list(itertools.permutations(values)))
    sums = sum(numpy.sign(orders[:, j] - orders[:, i]) for i, j in pairs)
    return float(numpy.mean(abs(sums) >= abs(own)))


def check_habit(checks, who, habit):
    """One habit from its counts."""
    name = f"{who} {habit['rule']}"
    nights = habit["nights"]
    hits, chances = (sum(night[key] for night in nights) for key in ("n_hits", "n_chances"))
    checks.holds((hits, chances) == (habit["n_hits"], habit["n_chances"]), f"{name}: counts add up")
    for part, n_hits, n_chances in [(habit, hits, chances), *((night, night["n_hits"], night["n_chances"]) for night in nights)]:
        low, high = statsmodels.stats.proportion.proportion_confint(n_hits, n_chances, method="wilson")
        checks.near(f"{name}: low end of {n_hits} of {n_chances}", part["low_share"], low, TOLERANCE)
        checks.near(f"{name}: high end", part["high_share"], high, TOLERANCE)
    shares = [night["n_hits"] / night["n_chances"] for night in nights]
    trend = habit["trend"]
    checks.holds((trend is not None) == (len(nights) >= 6), f"{name}: a trend from six sessions on")
    if trend and len(shares) <= 8:
        checks.near(f"{name}: chance", trend["chance_share"], exact(shares), TOLERANCE)
    if habit["measure"]:
        values = [night["number"]["value"] for night in nights]
        slope = scipy.stats.theilslopes(values, range(len(values)), 0.95)
        found = habit["measure"]["per_session"]
        for key, expected in (("value", slope.slope), ("low", slope.low_slope), ("high", slope.high_slope)):
            checks.near(f"{name}: slope, {key}", found[key], expected, TOLERANCE)


def check_habits(checks, program, file):
    """Habits of every label and of the team."""
    for who in (*OPERATORS, None):
        which = ["--operator", who] if who else ["--team"]
        view = json.loads(run(program, "habits", "--history", file, "--format", "json", *which))
        for habit in view["habits"]:
            check_habit(checks, who or "team", habit)
        trends = [habit["trend"] for habit in view["habits"] if habit["trend"]]
        if trends:
            together = statsmodels.stats.multitest.multipletests([one["chance_share"] for one in trends], method="holm")[1]
            for one, expected in zip(trends, together):
                # Its own probability is rounded and multiplied by their number.
                checks.near(f"{who or 'team'}: chance, all together", one["chance_together_share"], expected, len(trends) * TOLERANCE)


def check_exports(checks, program, file):
    """Parquet as an independent reader sees it: the columns of the guide, the rows of CSV and JSON lines, the query of the guide."""
    guide = GUIDE.read_text(encoding="utf-8")
    query = re.search(r"<!-- query -->\n\n```sql\n(.*?)```", guide, re.DOTALL).group(1)
    lines = run(program, "history", "export", "--history", file, "--format", "jsonl")
    run(program, "history", "export", "--history", file, "--format", "parquet", "--out", "observations.parquet")
    engine = duckdb.connect()

    stated = re.findall(r"^\| `(\w+)` \| (text|number|count|true or false)(, may be empty)? \|", guide, re.MULTILINE)
    columns = engine.execute("SELECT name, type, converted_type, repetition_type FROM parquet_schema('observations.parquet')").fetchall()[1:]
    kinds = {"text": ("BYTE_ARRAY", "UTF8"), "number": ("DOUBLE", None), "count": ("INT64", None), "true or false": ("BOOLEAN", None)}
    expected = [(name, *kinds[kind], "OPTIONAL" if empty else "REQUIRED") for name, kind, empty in stated]
    checks.holds(columns == expected, f"the columns of the guide: {columns}")

    names = [name for name, *_ in expected]
    found = [dict(zip(names, row)) for row in engine.execute("SELECT * FROM 'observations.parquet'").fetchall()]
    rows = [json.loads(line) for line in lines.splitlines()]
    checks.holds(len(rows) > 100 and found == rows, f"Parquet holds the {len(rows)} rows of the JSON lines")
    table = list(csv.DictReader(io.StringIO(run(program, "history", "export", "--history", file, "--format", "csv"), newline="")))
    same = all(
        row[key] == ("" if value is None else str(value).lower() if isinstance(value, bool) else str(value))
        for row, line in zip(table, found, strict=True)
        for key, value in line.items()
    )
    checks.holds(same, "CSV holds the rows of Parquet")

    answer = engine.execute(query).fetchall()
    checks.holds(answer == [("hum-buzz", "KB L", 14, 17, 3)], f"the query finds what comes back whoever operates: {answer}")


def main(program):
    program = str(pathlib.Path(program).resolve())
    checks = support.Checks()
    with tempfile.TemporaryDirectory() as scratch:
        os.chdir(scratch)
        run(program, "demo", "--history", "weeks.sqlite")
        check_habits(checks, program, "weeks.sqlite")
        check_exports(checks, program, "weeks.sqlite")
        os.chdir("/")
    checks.end()


if __name__ == "__main__":
    main(sys.argv[1])
