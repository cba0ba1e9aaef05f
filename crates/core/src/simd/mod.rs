//! What kernels share: the level of vector instructions in use, and the few operations that the portable
//! vectors of `fearless_simd` lack.

mod level;
mod vectors;

#[cfg(test)]
pub(crate) use level::each;
pub(crate) use level::level;
pub use level::{Level, LevelError};
pub(crate) use vectors::{Vectors, block_shuffles, far_shuffles, run};
