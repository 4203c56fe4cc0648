"""The review against its own JSON Schema, with jsonschema.

Usage: python tests/outside/schema.py PROGRAM
"""

import json
import pathlib
import sys

import jsonschema
import numpy

import support

SCHEMA = pathlib.Path(__file__).parents[2] / "docs" / "review.schema.json"


def main(program):
    checks = support.Checks()
    noise = numpy.random.default_rng(7).standard_normal(48000 * 40)
    given = {
        "Lead Vox": (0.02 * noise, 48000),
        "Kick": (numpy.clip(0.6 * noise, -0.9, 0.9), 48000),
        "Bass DI": (numpy.zeros(48000 * 40), 48000),
        "Main L": (0.1 * noise, 48000),
        "Main R": (0.1 * noise, 48000),
    }
    review, _ = support.review(program, given)
    schema = json.loads(SCHEMA.read_text())
    validator = jsonschema.validators.validator_for(schema)
    validator.check_schema(schema)
    faults = [f"{'/'.join(map(str, fault.absolute_path))}: {fault.message[:120]}"
              for fault in validator(schema).iter_errors(review)]
    checks.holds(not faults, f"the review keeps to docs/review.schema.json {faults[:5]}")
    # A validator that accepts anything would be no check.
    broken = dict(review, channels=[dict(review["channels"][0], loud_level_dbfs={"value": "loud"})])
    checks.holds(any(validator(schema).iter_errors(broken)), "a wrong type is refused")
    missing = {key: part for key, part in review.items() if key != "session"}
    checks.holds(any(validator(schema).iter_errors(missing)), "a missing key is refused")
    checks.end()


if __name__ == "__main__":
    main(sys.argv[1])
