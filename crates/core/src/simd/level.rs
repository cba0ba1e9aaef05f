//! The vector instructions that kernels use: the best the machine has, unless a test, a bench or the
//! program's user picks fewer. Every kernel is written once over `fearless_simd`'s vectors, beside a plain
//! scalar form, and gives the same bytes at every level: sums and products of floats are rounded one by
//! one, never fused, because not every level can.

use std::str::FromStr;
use std::sync::atomic::{AtomicU8, Ordering};

use fearless_simd::Level as Token;
#[cfg(target_arch = "x86_64")]
use fearless_simd::Simd;

/// A set of vector instructions, fewest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// What every processor of this kind has: SSE2 on x86-64, NEON on ARM of 64 bits.
    Baseline,
    /// SSE4.2 (x86-64-v2).
    Sse42,
    /// AVX2 with FMA (x86-64-v3).
    Avx2,
    /// AVX-512 as in Intel's Ice Lake and later, and in AMD's Zen 4 and later.
    Avx512,
}

/// A level that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LevelError {
    /// Not a level's name.
    #[error("\"{0}\" is no set of vector instructions: use one of baseline, sse4.2, avx2, avx512")]
    Unknown(String),
    /// The processor lacks it.
    #[error("this processor has no {}: use one of {}", .0.name(), names())]
    Missing(Level),
}

fn names() -> String {
    Level::available().iter().map(|level| level.name()).collect::<Vec<_>>().join(", ")
}

const ALL: [Level; 4] = [Level::Baseline, Level::Sse42, Level::Avx2, Level::Avx512];

/// One more than the place in [`ALL`] of the level in use; 0 for the best.
static IN_USE: AtomicU8 = AtomicU8::new(0);

impl Level {
    /// What this machine has, fewest first.
    pub fn available() -> Vec<Self> {
        ALL.into_iter().filter(|level| level.token().is_some()).collect()
    }

    /// The best this machine has.
    pub fn best() -> Self {
        ALL.into_iter().rev().find(|level| level.token().is_some()).unwrap_or(Self::Baseline)
    }

    /// The level that kernels use now.
    pub fn in_use() -> Self {
        match IN_USE.load(Ordering::Relaxed) {
            0 => Self::best(),
            at => ALL[usize::from(at) - 1],
        }
    }

    /// Makes every kernel of this process use this level from here on. Results stay the same to the
    /// last bit; only time changes.
    ///
    /// # Errors
    /// [`LevelError::Missing`] if the processor lacks it; nothing is changed then.
    pub fn force(self) -> Result<(), LevelError> {
        self.token().ok_or(LevelError::Missing(self))?;
        IN_USE.store(self as u8 + 1, Ordering::Relaxed);
        Ok(())
    }

    /// The name by which it is parsed.
    pub fn name(self) -> &'static str {
        match self {
            Self::Baseline => "baseline",
            Self::Sse42 => "sse4.2",
            Self::Avx2 => "avx2",
            Self::Avx512 => "avx512",
        }
    }

    /// Proof that the processor has it.
    pub(crate) fn token(self) -> Option<Token> {
        #[cfg(target_arch = "x86_64")]
        {
            let best = Token::new();
            match self {
                Self::Baseline => Some(best.as_sse2()?.level()),
                Self::Sse42 => Some(best.as_sse4_2()?.level()),
                Self::Avx2 => Some(best.as_avx2()?.level()),
                Self::Avx512 => Some(best.as_avx512()?.level()),
            }
        }
        #[cfg(not(target_arch = "x86_64"))]
        (self == Self::Baseline).then(Token::baseline)
    }
}

impl FromStr for Level {
    type Err = LevelError;

    fn from_str(name: &str) -> Result<Self, LevelError> {
        ALL.into_iter().find(|level| level.name() == name).ok_or_else(|| LevelError::Unknown(name.to_owned()))
    }
}

/// The level that kernels are to use.
#[inline]
pub(crate) fn level() -> Token {
    match IN_USE.load(Ordering::Relaxed) {
        0 => Token::new(),
        at => ALL[usize::from(at) - 1].token().unwrap_or(Token::baseline()),
    }
}

/// Every level of this machine, for tests of a kernel against its plain form.
#[cfg(test)]
pub(crate) fn each() -> impl Iterator<Item = (Level, Token)> {
    ALL.into_iter().filter_map(|level| Some((level, level.token()?)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_are_named_and_the_best_is_in_use() {
        for level in ALL {
            assert_eq!(level.name().parse(), Ok(level));
        }
        assert!(matches!("mmx".parse::<Level>(), Err(LevelError::Unknown(_))));
        let here = Level::available();
        assert_eq!(here.first(), Some(&Level::Baseline));
        assert_eq!(here.last(), Some(&Level::best()));
        for level in ALL.into_iter().filter(|level| !here.contains(level)) {
            assert_eq!(level.force(), Err(LevelError::Missing(level)));
        }
        #[cfg(target_arch = "x86_64")]
        assert_eq!(here.contains(&Level::Sse42), std::arch::is_x86_feature_detected!("sse4.2"));
    }
}
