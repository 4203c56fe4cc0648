//! How text is set in a terminal or a pipe: width, colour, and the style of tables.
//!
//! Takes what the caller knows about the place where text goes, gives tables and marks in one style. Never asks the
//! terminal or the environment itself.

use comfy_table::{
    Attribute, Cell, Color, ContentArrangement, ContentLineStyle, LineStyle, Table, TableStyle,
};

/// Width where none is known: in a pipe, and where the terminal does not tell.
const USUAL_WIDTH: usize = 80;

/// Fewer columns than these hold no readable table.
const LEAST_WIDTH: usize = 60;

/// More columns than these make lines that the eye loses.
const MOST_WIDTH: usize = 120;

/// Where text goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    width: usize,
    colour: bool,
}

impl Look {
    /// Text for a pipe or a file: 80 columns, no control codes.
    pub const PIPE: Self = Self { width: USUAL_WIDTH, colour: false };

    /// Text for a terminal of `width` columns (kept within 60 and 120), with colour or without.
    pub fn terminal(width: usize, colour: bool) -> Self {
        Self { width: width.clamp(LEAST_WIDTH, MOST_WIDTH), colour }
    }

    /// Columns to keep to.
    pub fn width(self) -> usize {
        self.width
    }

    /// A heading, bold where that is possible.
    pub fn heading(self, text: &str) -> String {
        if self.colour { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() }
    }

    /// An empty table without side lines: a thin rule below the heading, a column of air between columns.
    pub(super) fn table(self) -> Table {
        const STYLE: TableStyle = TableStyle::new()
            .header_lines(ContentLineStyle::none())
            .header_separator(LineStyle::none().fill('┈').junction('┈'))
            .content_lines(ContentLineStyle::none());
        let mut table = Table::new();
        table.load_style(STYLE).set_content_arrangement(ContentArrangement::Dynamic);
        table.set_width(u16::try_from(self.width).unwrap_or(u16::MAX));
        if self.colour {
            table.enforce_styling();
        } else {
            table.force_no_tty();
        }
        table
    }

    /// A label cell: quieter than the text beside it.
    pub(super) fn label(self, text: &str) -> Cell {
        let cell = Cell::new(text);
        if self.colour { cell.add_attribute(Attribute::Dim) } else { cell }
    }

    /// A cell that carries the weight of its row.
    pub(super) fn strong(self, text: &str) -> Cell {
        let cell = Cell::new(text);
        if self.colour { cell.add_attribute(Attribute::Bold) } else { cell }
    }

    /// A cell in the accent colour.
    pub(super) fn accent(self, text: &str) -> Cell {
        let cell = Cell::new(text);
        if self.colour { cell.fg(Color::Blue) } else { cell }
    }
}
