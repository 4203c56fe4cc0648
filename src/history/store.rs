//! The file of the history: an `SQLite` database that is whole at every moment.
//!
//! A session goes in as one transaction, so a program that is ended in the middle leaves either all of it or nothing. Two programs
//! wait for each other. What is erased is overwritten, not only unlinked. Never holds sound.

use std::fs;
use std::path::{Path, PathBuf};
use std::slice;
use std::time::Duration;

use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};

use super::record::Record;
use super::tables::{STEPS, VERSION};
use crate::error::{Error, system};

/// Marks the file as a history of this program: `DSKH` as a number.
const APPLICATION_ID: i32 = 0x4453_4b48;
/// How long to wait for another program that writes.
const PATIENCE: Duration = Duration::from_secs(20);

/// A history, open.
#[derive(Debug)]
pub struct Store {
    pub(super) connection: Connection,
    pub(super) path: PathBuf,
}

impl Store {
    /// Opens a history and makes it where there is none.
    ///
    /// # Errors
    ///
    /// If the file can't be written, is no history, or was made by a later version.
    pub fn open(path: &Path) -> Result<Self, Error> {
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            fs::create_dir_all(folder).map_err(|source| {
                Error::new("cannot make", folder, system(&source), "name a file with --history")
            })?;
        }
        let connection = Connection::open(path).map_err(|error| broken(path, &error))?;
        let mut store = Self { connection, path: path.to_owned() };
        store.prepare().map_err(|error| broken(path, &error))?;
        store.migrate()?;
        Ok(store)
    }

    /// Opens a history that has to be there.
    ///
    /// # Errors
    ///
    /// The same, and if there is no file.
    pub fn open_existing(path: &Path) -> Result<Self, Error> {
        if !path.is_file() {
            return Err(Error::new(
                "cannot read",
                path,
                "there is no history yet",
                "store a session with `deskside review --remember`, or name a file with --history",
            ));
        }
        Self::open(path)
    }

    fn prepare(&self) -> rusqlite::Result<()> {
        self.connection.busy_timeout(PATIENCE)?;
        self.connection.pragma_update(None, "secure_delete", true)?;
        self.connection.pragma_update(None, "foreign_keys", true)
    }

    /// Brings the tables to this version, in one step or not at all.
    fn migrate(&mut self) -> Result<(), Error> {
        let path = self.path.clone();
        let failed = |error: rusqlite::Error| broken(&path, &error);
        let found = self.number("user_version").map_err(failed)?;
        if found == i64::from(VERSION) {
            return self.check_owner();
        }
        // Another program may do the same at this moment: what is there is read again under the lock.
        let change = self.begin().map_err(failed)?;
        let found: i64 = pragma(&change, "user_version").map_err(failed)?;
        let is_new = found == 0 && is_empty(&change).map_err(failed)?;
        let owner: i64 = pragma(&change, "application_id").map_err(failed)?;
        if !is_new && owner != i64::from(APPLICATION_ID) {
            return Err(foreign(&path));
        }
        let Some(steps) = usize::try_from(found).ok().and_then(|done| STEPS.get(done..)) else {
            return Err(Error::new(
                "cannot use",
                &path,
                format!("its version is {found}, this program knows up to {VERSION}"),
                "use the program that wrote it, or a later one",
            ));
        };
        for step in steps {
            change.execute_batch(step).map_err(failed)?;
        }
        change.pragma_update(None, "application_id", APPLICATION_ID).map_err(failed)?;
        change.pragma_update(None, "user_version", VERSION).map_err(failed)?;
        change.commit().map_err(failed)
    }

    fn check_owner(&self) -> Result<(), Error> {
        match self.number("application_id") {
            Ok(owner) if owner == i64::from(APPLICATION_ID) => Ok(()),
            Ok(_) => Err(foreign(&self.path)),
            Err(error) => Err(broken(&self.path, &error)),
        }
    }

    fn number(&self, name: &str) -> rusqlite::Result<i64> {
        pragma(&self.connection, name)
    }

    /// A change of the file. The lock is taken at once, so that two programs wait instead of failing halfway.
    pub(super) fn begin(&mut self) -> rusqlite::Result<Transaction<'_>> {
        self.connection.transaction_with_behavior(TransactionBehavior::Immediate)
    }

    /// Stores a session. The same session takes the place of what was stored of it.
    ///
    /// # Errors
    ///
    /// If the file can't be written; it is then as it was.
    pub fn remember(&mut self, record: &Record) -> Result<(), Error> {
        self.remember_all(slice::from_ref(record))
    }

    /// Stores several sessions, all or none of them.
    ///
    /// # Errors
    ///
    /// The same.
    pub fn remember_all(&mut self, records: &[Record]) -> Result<(), Error> {
        self.put(records).map_err(|error| broken(&self.path, &error))
    }

    fn put(&mut self, records: &[Record]) -> rusqlite::Result<()> {
        let change = self.begin()?;
        for record in records {
            insert(&change, record)?;
        }
        forget(&change)?;
        change.commit()
    }

    /// How many sessions of an operator are stored, this one left out.
    ///
    /// # Errors
    ///
    /// If the file can't be read.
    pub fn n_sessions_of(&self, operator: &str, beside: &str) -> Result<usize, Error> {
        let query = "SELECT COUNT(*) FROM session WHERE operator = ?1 AND identity <> ?2";
        let found =
            self.connection.query_row(query, [operator, beside], |row| row.get::<_, i64>(0));
        found
            .map(|n_sessions| usize::try_from(n_sessions).unwrap_or(0))
            .map_err(|error| broken(&self.path, &error))
    }

    /// Keeps sessions of the last so many months from now on, or all of them. Gives how many older ones were erased.
    ///
    /// # Errors
    ///
    /// If the file can't be written; it is then as it was.
    pub fn keep(&mut self, months: Option<u32>) -> Result<usize, Error> {
        self.keep_only(months).map_err(|error| broken(&self.path, &error))
    }

    fn keep_only(&mut self, months: Option<u32>) -> rusqlite::Result<usize> {
        let change = self.begin()?;
        change.execute("DELETE FROM keeping", [])?;
        if let Some(months) = months {
            change.execute("INSERT INTO keeping VALUES (1, ?1)", [months])?;
        }
        let n_erased = forget(&change)?;
        change.commit()?;
        self.connection.execute_batch("VACUUM")?;
        Ok(n_erased)
    }

    /// For how many months sessions are kept; none where they stay.
    ///
    /// # Errors
    ///
    /// If the file can't be read.
    pub fn kept_months(&self) -> Result<Option<u32>, Error> {
        let query = "SELECT months FROM keeping";
        let found = self.connection.query_row(query, [], |row| row.get(0)).optional();
        found.map_err(|error| broken(&self.path, &error))
    }

    /// Erases every session of a label and leaves no trace of it in the file. Gives how many they were.
    ///
    /// # Errors
    ///
    /// If the file can't be written.
    pub fn erase(&mut self, operator: &str) -> Result<usize, Error> {
        let erased = self
            .connection
            .execute("DELETE FROM session WHERE operator = ?1", [operator])
            .and_then(|n_erased| self.connection.execute_batch("VACUUM").map(|()| n_erased));
        erased.map_err(|error| broken(&self.path, &error))
    }
}

fn pragma(connection: &Connection, name: &str) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, name, |row| row.get(0))
}

fn is_empty(connection: &Connection) -> rusqlite::Result<bool> {
    let count = "SELECT COUNT(*) FROM sqlite_schema";
    connection.query_row(count, [], |row| row.get::<_, i64>(0)).map(|n_tables| n_tables == 0)
}

/// Where the words of `SQLite` don't help, what to do does.
pub(super) fn broken(path: &Path, error: &rusqlite::Error) -> Error {
    use rusqlite::ErrorCode::{DatabaseBusy, DatabaseLocked, NotADatabase};

    match error.sqlite_error_code() {
        Some(NotADatabase) => foreign(path),
        Some(DatabaseBusy | DatabaseLocked) => Error::new(
            "cannot use",
            path,
            "another program is writing to it",
            "wait until it is done and start again",
        ),
        _ => Error::new(
            "cannot use",
            path,
            error.to_string(),
            "check the path, the permissions and the room on the disk",
        ),
    }
}

fn foreign(path: &Path) -> Error {
    Error::new("cannot use", path, "it is no history of deskside", "name another file")
}

/// Erases what is older than is kept.
fn forget(change: &Transaction<'_>) -> rusqlite::Result<usize> {
    change.execute(
        "DELETE FROM session WHERE COALESCE(date, stored_on) <
            (SELECT date('now', '-' || months || ' months') FROM keeping)",
        [],
    )
}

fn insert(change: &Transaction<'_>, record: &Record) -> rusqlite::Result<()> {
    let identity = record.identity();
    // A session without a date keeps the day on which it was first stored.
    let query = "SELECT stored_on FROM session WHERE identity = ?1";
    let stored_on: Option<String> =
        change.query_row(query, [&identity], |row| row.get(0)).optional()?;
    change.execute("DELETE FROM session WHERE identity = ?1", [&identity])?;
    change.execute(
        "INSERT INTO session (identity, name, date, stored_on, operator, place, style, is_rehearsal, is_good, duration_s, inputs, focus)
         VALUES (?1, ?2, ?3, COALESCE(?4, date('now')), ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
        params![
            identity,
            record.name,
            record.date,
            stored_on,
            record.operator,
            record.place,
            record.style,
            record.is_rehearsal,
            record.is_good,
            record.duration_s,
            record.inputs.join("\n"),
            record.focus,
        ],
    )?;
    let session = change.last_insert_rowid();
    let mut add = change.prepare_cached(
        "INSERT INTO observation VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
    )?;
    for (place, one) in (0_i64..).zip(&record.observations) {
        add.execute(params![
            session,
            place,
            one.rule,
            one.rule_version,
            one.channel,
            one.role,
            one.tap,
            one.n_hits,
            one.n_chances,
            one.severity,
            one.number,
            one.value,
            one.unit,
            one.confidence,
        ])?;
    }
    let mut add = change.prepare_cached("INSERT INTO note VALUES (?1, ?2, ?3, ?4)")?;
    for (place, note) in (0_i64..).zip(&record.notes) {
        add.execute(params![session, place, note.page, note.rule])?;
    }
    let mut add = change.prepare_cached("INSERT INTO mark VALUES (?1, ?2, ?3, ?4, ?5)")?;
    for (place, one) in (0_i64..).zip(&record.marks) {
        add.execute(params![session, place, one.rule, one.channels.join("\n"), one.mark])?;
    }
    Ok(())
}
