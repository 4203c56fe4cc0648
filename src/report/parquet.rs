//! Stored observations as Apache Parquet: the rows of [`super::rows`] with types, for engines that query many nights.
//!
//! Takes stored nights one at a time and a place to write to, gives a file that is whole once it is finished. Holds a group of rows in
//! memory and never all of them.

use std::io::Write;
use std::mem;
use std::sync::Arc;

use parquet::basic::{ConvertedType, Repetition, Type as Physical};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::types::{Type, TypePtr};
use serde_json::Value;

use super::rows::{COLUMNS, Row, rows};
use crate::history::Night;

/// Rows that are written together: some 20 MB in memory.
const ROWS_TOGETHER: usize = 50_000;

/// What can go wrong while writing, in words.
#[derive(Debug)]
pub struct Unwritable(pub String);

impl From<ParquetError> for Unwritable {
    fn from(error: ParquetError) -> Self {
        Self(error.to_string())
    }
}

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Text,
    Truth,
    Count,
    Number,
}

/// What a column holds, and whether cells of it may be empty.
fn kind(column: &str) -> (Kind, bool) {
    match column {
        "is_rehearsal" => (Kind::Truth, false),
        "is_good" => (Kind::Truth, true),
        "n_hits" | "n_chances" => (Kind::Count, false),
        "duration_s" | "confidence" => (Kind::Number, false),
        "value" => (Kind::Number, true),
        "date" | "operator" | "place" | "severity" | "number" | "unit" => (Kind::Text, true),
        _ => (Kind::Text, false),
    }
}

/// The cells of one column that wait to be written. A level is 1 for a cell with a value and 0 for an empty one.
#[derive(Default)]
struct Waiting {
    levels: Vec<i16>,
    texts: Vec<ByteArray>,
    truths: Vec<bool>,
    counts: Vec<i64>,
    numbers: Vec<f64>,
}

impl Waiting {
    fn push(&mut self, kind: Kind, cell: &Value) {
        let n_before = self.n_values();
        match kind {
            Kind::Text => self.texts.extend(cell.as_str().map(ByteArray::from)),
            Kind::Truth => self.truths.extend(cell.as_bool()),
            Kind::Count => self.counts.extend(cell.as_i64()),
            Kind::Number => self.numbers.extend(cell.as_f64()),
        }
        self.levels.push(i16::from(self.n_values() > n_before));
    }

    fn n_values(&self) -> usize {
        self.texts.len() + self.truths.len() + self.counts.len() + self.numbers.len()
    }

    fn write(&self, column: &str, to: &mut SerializedColumnWriter<'_>) -> Result<(), ParquetError> {
        let (kind, may_be_empty) = kind(column);
        let levels = may_be_empty.then_some(self.levels.as_slice());
        match kind {
            Kind::Text => to.typed::<ByteArrayType>().write_batch(&self.texts, levels, None),
            Kind::Truth => to.typed::<BoolType>().write_batch(&self.truths, levels, None),
            Kind::Count => to.typed::<Int64Type>().write_batch(&self.counts, levels, None),
            Kind::Number => to.typed::<DoubleType>().write_batch(&self.numbers, levels, None),
        }
        .map(|_| ())
    }
}

/// A Parquet file on its way.
pub struct Parquet<W: Write + Send> {
    file: SerializedFileWriter<W>,
    waiting: Vec<Waiting>,
}

impl<W: Write + Send> Parquet<W> {
    /// Begins a file.
    ///
    /// # Errors
    ///
    /// If nothing can be written.
    pub fn new(to: W) -> Result<Self, Unwritable> {
        let program = format!("deskside version {}", env!("CARGO_PKG_VERSION"));
        let properties = WriterProperties::builder().set_created_by(program).build();
        let file = SerializedFileWriter::new(to, schema()?, Arc::new(properties))?;
        Ok(Self { file, waiting: empty() })
    }

    /// Adds the rows of a night.
    ///
    /// # Errors
    ///
    /// If it can't be written.
    ///
    /// # Panics
    ///
    /// Never: a row is plain data.
    pub fn add(&mut self, night: &Night) -> Result<(), Unwritable> {
        rows(night).for_each(|row| self.push(&row));
        if self.waiting[0].levels.len() >= ROWS_TOGETHER { self.write() } else { Ok(()) }
    }

    /// Ends the file: without it there is none.
    ///
    /// # Errors
    ///
    /// If it can't be written.
    pub fn finish(mut self) -> Result<(), Unwritable> {
        if !self.waiting[0].levels.is_empty() {
            self.write()?;
        }
        self.file.close()?;
        Ok(())
    }

    fn push(&mut self, row: &Row<'_>) {
        let cells = serde_json::to_value(row).expect("a row is plain data");
        for (column, waiting) in COLUMNS.iter().zip(&mut self.waiting) {
            waiting.push(kind(column).0, &cells[*column]);
        }
    }

    /// Writes the rows that wait as one group.
    fn write(&mut self) -> Result<(), Unwritable> {
        let waiting = mem::replace(&mut self.waiting, empty());
        let mut group = self.file.next_row_group()?;
        for (column, cells) in COLUMNS.iter().zip(&waiting) {
            let Some(mut to) = group.next_column()? else { break };
            cells.write(column, &mut to)?;
            to.close()?;
        }
        group.close()?;
        Ok(())
    }
}

fn empty() -> Vec<Waiting> {
    COLUMNS.iter().map(|_| Waiting::default()).collect()
}

/// The columns with their types.
fn schema() -> Result<TypePtr, ParquetError> {
    let field = |column: &&str| {
        let (kind, may_be_empty) = kind(column);
        let (physical, logical) = match kind {
            Kind::Text => (Physical::BYTE_ARRAY, ConvertedType::UTF8),
            Kind::Truth => (Physical::BOOLEAN, ConvertedType::NONE),
            Kind::Count => (Physical::INT64, ConvertedType::NONE),
            Kind::Number => (Physical::DOUBLE, ConvertedType::NONE),
        };
        let repetition = if may_be_empty { Repetition::OPTIONAL } else { Repetition::REQUIRED };
        Type::primitive_type_builder(column, physical)
            .with_converted_type(logical)
            .with_repetition(repetition)
            .build()
            .map(Arc::new)
    };
    let fields = COLUMNS.iter().map(field).collect::<Result<Vec<TypePtr>, ParquetError>>()?;
    Type::group_type_builder("observations").with_fields(fields).build().map(Arc::new)
}
