//! Shared by tests: signals and scratch folders.

pub(crate) mod folders;
