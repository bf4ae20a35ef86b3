//! Shared inputs of the benchmarks.
