//! A small reading for the tests of rules.
