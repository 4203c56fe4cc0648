//! The tables of the history, version by version.
//!
//! A version is never edited once it was in use: a change is one more step, and a file of each older version stays among the tests.

/// The version of the tables that this program writes.
pub(super) const VERSION: u16 = 3;

/// What makes each version from the one before, oldest first.
pub(super) const STEPS: [&str; VERSION as usize] = [V1, V2, V3];

/// Sessions, what was judged in them, and which rules stood on a page.
const V1: &str = "
CREATE TABLE session (
    id           INTEGER PRIMARY KEY,
    identity     TEXT NOT NULL UNIQUE,
    name         TEXT NOT NULL,
    date         TEXT,
    stored_on    TEXT NOT NULL,
    operator     TEXT,
    place        TEXT,
    style        TEXT NOT NULL,
    is_rehearsal INTEGER NOT NULL,
    is_good      INTEGER,
    duration_s   REAL NOT NULL,
    inputs       TEXT NOT NULL
) STRICT;
CREATE INDEX session_by_operator ON session (operator, COALESCE(date, stored_on));
CREATE INDEX session_by_date ON session (COALESCE(date, stored_on));
CREATE TABLE observation (
    session      INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
    place        INTEGER NOT NULL,
    rule         TEXT NOT NULL,
    rule_version TEXT NOT NULL,
    channel      TEXT NOT NULL,
    role         TEXT NOT NULL,
    tap          TEXT NOT NULL,
    n_hits       INTEGER NOT NULL CHECK (n_hits BETWEEN 0 AND n_chances),
    n_chances    INTEGER NOT NULL CHECK (n_chances > 0),
    severity     TEXT,
    number       TEXT,
    value        REAL,
    unit         TEXT,
    confidence   REAL NOT NULL,
    PRIMARY KEY (session, place)
) STRICT, WITHOUT ROWID;
CREATE TABLE note (
    session      INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
    place        INTEGER NOT NULL,
    page         TEXT NOT NULL,
    rule         TEXT NOT NULL,
    PRIMARY KEY (session, place)
) STRICT, WITHOUT ROWID;
";

/// How long sessions are kept, in months; no row where they stay.
const V2: &str = "
CREATE TABLE keeping (
    one    INTEGER PRIMARY KEY CHECK (one = 1),
    months INTEGER NOT NULL CHECK (months > 0)
) STRICT;
";

/// What the team said of notes, and what was to be practised.
const V3: &str = "
ALTER TABLE session ADD COLUMN focus TEXT;
CREATE TABLE mark (
    session      INTEGER NOT NULL REFERENCES session ON DELETE CASCADE,
    place        INTEGER NOT NULL,
    rule         TEXT NOT NULL,
    channels     TEXT NOT NULL,
    mark         TEXT NOT NULL,
    PRIMARY KEY (session, place)
) STRICT, WITHOUT ROWID;
";
