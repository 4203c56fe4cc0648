//! Published tables in `corpus/reference`.

use std::fs;
use std::path::Path;

/// A table: column names and rows.
pub(crate) struct Table {
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// Reads a table by its name; lines that start with `#` are notes.
    pub(crate) fn read(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus/reference").join(name);
        let text = fs::read_to_string(path).expect("the table is in the corpus");
        let lines = text.lines().filter(|line| !line.starts_with('#') && !line.is_empty());
        let mut rows: Vec<Vec<String>> = lines.map(cells).collect();
        let columns = rows.remove(0);
        Self { columns, rows }
    }

    /// How many rows.
    pub(crate) fn len(&self) -> usize {
        self.rows.len()
    }

    /// A cell.
    pub(crate) fn text(&self, row: usize, column: &str) -> &str {
        let at = self.columns.iter().position(|name| name == column).expect("the column exists");
        &self.rows[row][at]
    }

    /// A cell as a number; `-inf` and `+inf` are infinite.
    pub(crate) fn number(&self, row: usize, column: &str) -> f64 {
        self.text(row, column).parse().expect("the cell holds a number")
    }

    /// The row whose cell in `column` is `text`.
    pub(crate) fn row(&self, column: &str, text: &str) -> usize {
        let is_it = |&row: &usize| self.text(row, column) == text;
        (0..self.len()).find(is_it).expect("the row exists")
    }
}

fn cells(line: &str) -> Vec<String> {
    let (mut cells, mut quoted) = (vec![String::new()], false);
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            other => cells.last_mut().expect("there is a cell").push(other),
        }
    }
    cells
}
