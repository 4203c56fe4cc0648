//! Numeric part.
