//! JSON with indentation whose numbers carry no more digits than a measurement has.
//!
//! Six places after the point: a delay in seconds keeps a twentieth of a sample, a level far more than it needs, and the
//! last bits of a sum, which may differ between machines, are left out.

use std::io::{Result, Write};

use serde::Serialize;
use serde_json::ser::{Formatter, PrettyFormatter};

/// How a number is cut.
const PLACES: f64 = 1e6;

/// Plain data as indented JSON with rounded numbers and a line break at its end.
pub(super) fn text<T: Serialize>(data: &T) -> serde_json::Result<String> {
    let mut json = Vec::new();
    data.serialize(&mut serde_json::Serializer::with_formatter(&mut json, Rounded::default()))?;
    json.push(b'\n');
    Ok(String::from_utf8_lossy(&json).into_owned())
}

/// Writes indented JSON with rounded numbers.
#[derive(Default)]
struct Rounded<'a>(PrettyFormatter<'a>);

impl Formatter for Rounded<'_> {
    fn write_f64<W: ?Sized + Write>(&mut self, writer: &mut W, value: f64) -> Result<()> {
        // Adding zero turns -0 into 0.
        self.0.write_f64(writer, (value * PLACES).round() / PLACES + 0.0)
    }

    fn begin_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.begin_array(writer)
    }

    fn end_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.end_array(writer)
    }

    fn begin_array_value<W: ?Sized + Write>(&mut self, writer: &mut W, first: bool) -> Result<()> {
        self.0.begin_array_value(writer, first)
    }

    fn end_array_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.end_array_value(writer)
    }

    fn begin_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.begin_object(writer)
    }

    fn end_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.end_object(writer)
    }

    fn begin_object_key<W: ?Sized + Write>(&mut self, writer: &mut W, first: bool) -> Result<()> {
        self.0.begin_object_key(writer, first)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.begin_object_value(writer)
    }

    fn end_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.0.end_object_value(writer)
    }
}
