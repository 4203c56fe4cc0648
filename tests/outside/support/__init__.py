"""What the checks against independent libraries share: seeded signals, a WAV writer, a run of the program."""

import csv
import json
import pathlib
import struct
import subprocess
import sys
import tempfile

import numpy

# One step of a 24-bit sample, re full scale.
STEP = 2.0**-23


def write_wav(path, samples, rate_hz):
    """Writes one channel as 24-bit PCM and gives the samples as they were stored."""
    codes = numpy.clip(numpy.round(numpy.asarray(samples) / STEP), -(2**23), 2**23 - 1).astype(numpy.int32)
    data = codes.astype("<i4").view(numpy.uint8).reshape(-1, 4)[:, :3].tobytes()
    data += b"\0" * (len(data) % 2)
    head = struct.pack("<HHIIHH", 1, 1, rate_hz, rate_hz * 3, 3, 24)
    body = b"WAVEfmt " + struct.pack("<I", len(head)) + head + b"data" + struct.pack("<I", codes.size * 3) + data
    pathlib.Path(path).write_bytes(b"RIFF" + struct.pack("<I", len(body)) + body)
    return codes * STEP


def review(program, signals, note=None):
    """Reviews a folder of signals, given as name: (samples, rate), with what `session.toml` says of it; gives the review and the stored
    samples by name."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = pathlib.Path(scratch) / "session"
        folder.mkdir()
        if note is not None:
            (folder / "session.toml").write_text(note, encoding="utf-8")
        stored = {}
        for number, (name, (samples, rate_hz)) in enumerate(signals.items(), 1):
            stored[name] = write_wav(folder / f"{number:02} {name}.wav", samples, rate_hz)
        command = [program, "review", str(folder), "--format", "json", "--out", str(pathlib.Path(scratch) / "out")]
        done = subprocess.run(command, capture_output=True, text=True)
        if done.returncode != 0:
            sys.exit(f"error: {' '.join(command)} gave {done.returncode}\n{done.stderr}")
        return json.loads(done.stdout), stored


def channel(review, name):
    """The channel of a review whose name holds `name`."""
    found = [channel for channel in review["channels"] if name in channel["name"]]
    if len(found) != 1:
        sys.exit(f"error: {len(found)} channels are named {name}: {[c['name'] for c in review['channels']]}")
    return found[0]


def write_table(path, source, columns, rows):
    """Writes a table of reference values with its source in the first line."""
    with path.open("w", newline="", encoding="utf-8") as file:
        file.write(f"# source: {source} ; status: computed here\n")
        table = csv.writer(file, lineterminator="\n")
        table.writerow(columns)
        table.writerows(rows)


class Checks:
    """Comparisons of one script: prints each, and fails at the end if any failed or none was made."""

    def __init__(self):
        self.n_made = 0
        self.n_failed = 0

    def table(self, path, columns, rows, n_named, tolerance):
        """Whether a stored table is what comes out now: the first cells by name, the numbers behind them within a tolerance."""
        stored = list(csv.reader(path.read_text(encoding="utf-8").splitlines()[1:]))
        self.holds(stored[0] == columns, f"columns of {path.name}")
        for found, expected in zip(stored[1:], rows, strict=True):
            expected = [str(cell) for cell in expected]
            name = " ".join(found[:2])
            self.holds(found[:n_named] == expected[:n_named], f"{name}: recipe")
            for column in range(n_named, len(columns)):
                if expected[column] != "nan" or found[column] != "nan":
                    what = f"{name}: {columns[column]}"
                    self.near(what, float(found[column]), float(expected[column]), tolerance)

    def near(self, what, fact, expected, tolerance):
        """Whether a fact of the review (or a bare number) lies within a tolerance of an expected value."""
        found = fact["value"] if isinstance(fact, dict) and "value" in fact else fact
        is_near = isinstance(found, (int, float)) and abs(found - expected) <= tolerance
        shown = f"{found:.4f}" if isinstance(found, (int, float)) else found
        self.holds(is_near, f"{what}: found {shown}, expected {expected:.4f} within {tolerance}")

    def holds(self, is_so, what):
        """Whether something holds."""
        self.n_made += 1
        self.n_failed += not is_so
        print(f"   {'ok  ' if is_so else 'FAIL'} {what}")

    def end(self):
        """Ends the script."""
        if self.n_made == 0:
            sys.exit("error: nothing was checked")
        if self.n_failed:
            sys.exit(f"error: {self.n_failed} of {self.n_made} checks failed")
