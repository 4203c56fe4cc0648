//! What is printed: numbers, text from outside, tables, JSON, Markdown, the handbook.

mod channels;
mod glossary;
mod number;
mod text;
