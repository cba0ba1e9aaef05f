//! Operations beside those of `fearless_simd`, each in portable form and by an instruction where there is
//! one; and the call of a kernel at a level.

use fearless_simd::{Level, Simd, i16x32, i32x16, prelude::*};

/// Calls a kernel, generic over [`Vectors`], with the vectors of a level.
macro_rules! run {
    ($level:expr, $simd:ident => $kernel:expr) => {{
        #[cfg(target_arch = "x86_64")]
        match $level {
            fearless_simd::Level::Avx512($simd) => $crate::simd::run!(@ $simd => $kernel),
            fearless_simd::Level::Avx2($simd) => $crate::simd::run!(@ $simd => $kernel),
            fearless_simd::Level::Sse4_2($simd) => $crate::simd::run!(@ $simd => $kernel),
            fearless_simd::Level::Sse2($simd) => $crate::simd::run!(@ $simd => $kernel),
            _ => unreachable!("a level of another processor"),
        }
        #[cfg(target_arch = "aarch64")]
        match $level {
            fearless_simd::Level::Neon($simd) => $crate::simd::run!(@ $simd => $kernel),
            _ => unreachable!("a level of another processor"),
        }
        #[cfg(not(any(target_arch = "x86_64", target_arch = "aarch64")))]
        match $level {
            fearless_simd::Level::Fallback($simd) => $crate::simd::run!(@ $simd => $kernel),
            _ => unreachable!("a level of another processor"),
        }
    }};
    // Plain loops, which the compiler turns into vectors: SSE4.2 has hardly anything for them that SSE2 lacks.
    ($level:expr => $loops:expr) => {{
        #[cfg(target_arch = "x86_64")]
        match $level {
            fearless_simd::Level::Avx512(simd) => $crate::simd::run!(@ simd => $loops),
            fearless_simd::Level::Avx2(simd) => $crate::simd::run!(@ simd => $loops),
            _ => $loops,
        }
        #[cfg(not(target_arch = "x86_64"))]
        {
            let _ = $level;
            $loops
        }
    }};
    (@ $simd:ident => $kernel:expr) => {
        fearless_simd::Simd::vectorize($simd, #[inline(always)] || $kernel)
    };
}
pub(crate) use run;

/// Vectors that kernels are written over.
pub(crate) trait Vectors: Simd {
    /// Whether bytes are picked out of blocks of 16 by an instruction; see [`block_shuffles`].
    const BLOCK_SHUFFLES: bool = true;
    /// Whether bytes are picked out of 64 by one; see [`far_shuffles`].
    const FAR_SHUFFLES: bool = false;

    /// Upper halves of the products of 16-bit values.
    #[inline(always)]
    fn mul_high(self, a: Self::u16s, b: Self::u16s) -> Self::u16s {
        // Portable vectors of the native width have no wider product, so value by value.
        let mut out = a;
        for (out, (&a, &b)) in out.as_mut_slice().iter_mut().zip(a.as_slice().iter().zip(b.as_slice())) {
            *out = ((u32::from(a) * u32::from(b)) >> 16) as u16;
        }
        out
    }

    /// Values of `a` and `b` by turns: of the first halves of each block of eight, and of the second halves.
    #[inline(always)]
    fn zip_by_blocks(self, a: i16x32<Self>, b: i16x32<Self>) -> (i16x32<Self>, i16x32<Self>) {
        let ((a0, a1), (a2, a3)) = (a.split().0.split(), a.split().1.split());
        let ((b0, b1), (b2, b3)) = (b.split().0.split(), b.split().1.split());
        let low = a0.zip_low(b0).combine(a1.zip_low(b1)).combine(a2.zip_low(b2).combine(a3.zip_low(b3)));
        let high = a0.zip_high(b0).combine(a1.zip_high(b1)).combine(a2.zip_high(b2).combine(a3.zip_high(b3)));
        (low, high)
    }

    /// Both vectors' values, held to 16 bits: four of `a`, four of `b`, and so on.
    #[inline(always)]
    fn narrow_by_blocks(self, a: i32x16<Self>, b: i32x16<Self>) -> i16x32<Self> {
        let ((a, c), (e, g)) = (a.split().0.split(), a.split().1.split());
        let ((b, d), (f, h)) = (b.split().0.split(), b.split().1.split());
        let (low, high) = (a.saturating_narrow(b).combine(c.saturating_narrow(d)), e.saturating_narrow(f));
        low.combine(high.combine(g.saturating_narrow(h)))
    }
}

#[cfg(target_arch = "x86_64")]
mod x86 {
    use std::arch::x86_64::*;

    use fearless_simd::x86::{Avx2, Avx512, Sse2, Sse4_2};
    use fearless_simd::{i16x16, i16x32, i32x16, kernel, prelude::*};

    use super::Vectors;

    impl Vectors for Sse2 {
        const BLOCK_SHUFFLES: bool = false;

        #[inline(always)]
        fn mul_high(self, a: Self::u16s, b: Self::u16s) -> Self::u16s {
            kernel!(
                #[inline(always)]
                fn mul_high(sse2: Sse2, a: __m128i, b: __m128i) -> __m128i {
                    _mm_mulhi_epu16(a, b)
                }
            );
            mul_high(self, a.into(), b.into()).simd_into(self)
        }
    }

    impl Vectors for Sse4_2 {
        #[inline(always)]
        fn mul_high(self, a: Self::u16s, b: Self::u16s) -> Self::u16s {
            kernel!(
                #[inline(always)]
                fn mul_high(sse42: Sse4_2, a: __m128i, b: __m128i) -> __m128i {
                    _mm_mulhi_epu16(a, b)
                }
            );
            mul_high(self, a.into(), b.into()).simd_into(self)
        }
    }

    impl Vectors for Avx2 {
        #[inline(always)]
        fn mul_high(self, a: Self::u16s, b: Self::u16s) -> Self::u16s {
            kernel!(
                #[inline(always)]
                fn mul_high(avx2: Avx2, a: __m256i, b: __m256i) -> __m256i {
                    _mm256_mulhi_epu16(a, b)
                }
            );
            mul_high(self, a.into(), b.into()).simd_into(self)
        }

        #[inline(always)]
        fn narrow_by_blocks(self, a: i32x16<Self>, b: i32x16<Self>) -> i16x32<Self> {
            kernel!(
                #[inline(always)]
                fn narrow(avx2: Avx2, a: __m256i, b: __m256i) -> __m256i {
                    _mm256_packs_epi32(a, b)
                }
            );
            let ((a, c), (b, d)) = (a.split(), b.split());
            let low: i16x16<Self> = narrow(self, a.into(), b.into()).simd_into(self);
            let high: i16x16<Self> = narrow(self, c.into(), d.into()).simd_into(self);
            low.combine(high)
        }

        #[inline(always)]
        fn zip_by_blocks(self, a: i16x32<Self>, b: i16x32<Self>) -> (i16x32<Self>, i16x32<Self>) {
            kernel!(
                #[inline(always)]
                fn zip_low(avx2: Avx2, a: __m256i, b: __m256i) -> __m256i {
                    _mm256_unpacklo_epi16(a, b)
                }
            );
            kernel!(
                #[inline(always)]
                fn zip_high(avx2: Avx2, a: __m256i, b: __m256i) -> __m256i {
                    _mm256_unpackhi_epi16(a, b)
                }
            );
            let ((a, c), (b, d)) = (a.split(), b.split());
            let low: [i16x16<Self>; 2] =
                [zip_low(self, a.into(), b.into()).simd_into(self), zip_low(self, c.into(), d.into()).simd_into(self)];
            let high: [i16x16<Self>; 2] = [
                zip_high(self, a.into(), b.into()).simd_into(self),
                zip_high(self, c.into(), d.into()).simd_into(self),
            ];
            (low[0].combine(low[1]), high[0].combine(high[1]))
        }
    }

    impl Vectors for Avx512 {
        const FAR_SHUFFLES: bool = true;

        #[inline(always)]
        fn mul_high(self, a: Self::u16s, b: Self::u16s) -> Self::u16s {
            kernel!(
                #[inline(always)]
                fn mul_high(avx512: Avx512, a: __m512i, b: __m512i) -> __m512i {
                    _mm512_mulhi_epu16(a, b)
                }
            );
            mul_high(self, a.into(), b.into()).simd_into(self)
        }

        #[inline(always)]
        fn narrow_by_blocks(self, a: i32x16<Self>, b: i32x16<Self>) -> i16x32<Self> {
            kernel!(
                #[inline(always)]
                fn narrow(avx512: Avx512, a: __m512i, b: __m512i) -> __m512i {
                    _mm512_packs_epi32(a, b)
                }
            );
            narrow(self, a.into(), b.into()).simd_into(self)
        }

        #[inline(always)]
        fn zip_by_blocks(self, a: i16x32<Self>, b: i16x32<Self>) -> (i16x32<Self>, i16x32<Self>) {
            kernel!(
                #[inline(always)]
                fn zip_low(avx512: Avx512, a: __m512i, b: __m512i) -> __m512i {
                    _mm512_unpacklo_epi16(a, b)
                }
            );
            kernel!(
                #[inline(always)]
                fn zip_high(avx512: Avx512, a: __m512i, b: __m512i) -> __m512i {
                    _mm512_unpackhi_epi16(a, b)
                }
            );
            (zip_low(self, a.into(), b.into()).simd_into(self), zip_high(self, a.into(), b.into()).simd_into(self))
        }
    }
}

#[cfg(target_arch = "aarch64")]
impl Vectors for fearless_simd::aarch64::Neon {
    #[inline(always)]
    fn mul_high(self, a: Self::u16s, b: Self::u16s) -> Self::u16s {
        let (low, high) = a.widening_mul(b);
        (low >> 16).narrow(high >> 16)
    }
}

#[cfg(not(any(target_arch = "x86_64", target_arch = "aarch64")))]
impl Vectors for fearless_simd::Fallback {
    const BLOCK_SHUFFLES: bool = false;
}

/// Whether the level picks bytes, in any order, out of blocks of 16 by an instruction.
pub(crate) fn block_shuffles(level: Level) -> bool {
    fn of<S: Vectors>(_: S) -> bool {
        S::BLOCK_SHUFFLES
    }
    run!(level, simd => of(simd))
}

/// Whether the level picks bytes, in any order, out of 64 by an instruction.
pub(crate) fn far_shuffles(level: Level) -> bool {
    fn of<S: Vectors>(_: S) -> bool {
        S::FAR_SHUFFLES
    }
    run!(level, simd => of(simd))
}
