//! Kernels against closed forms, published tables and slow plain versions.

mod group;
