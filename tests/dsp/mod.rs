//! Kernels against closed forms, published tables and slow plain versions.

mod decimate;
mod frames;
mod group;
