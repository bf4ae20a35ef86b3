//! Components of pixels: floats and code values.

mod sealed {
    pub trait Sealed {}
    impl Sealed for f32 {}
    impl Sealed for u8 {}
    impl Sealed for u16 {}
}

/// A component of a pixel: `f32`, `u8` or `u16`.
pub trait Sample: sealed::Sealed + Copy + Default + Send + Sync + 'static {
    /// The sample that stands for 1.0.
    const MAX_CODE: f32;

    /// The sample's own number, not scaled.
    #[doc(hidden)]
    fn number(self) -> f32;

    /// The sample for a value of the cube.
    #[doc(hidden)]
    fn from_value(value: f32) -> Self;

    /// The samples where they are floats.
    #[doc(hidden)]
    fn floats(_samples: &[Self]) -> Option<&[f32]> {
        None
    }

    #[doc(hidden)]
    fn floats_mut(_samples: &mut [Self]) -> Option<&mut [f32]> {
        None
    }
}

impl Sample for f32 {
    const MAX_CODE: f32 = 1.0;

    #[inline(always)]
    fn number(self) -> f32 {
        self
    }

    #[inline(always)]
    fn from_value(value: f32) -> Self {
        value
    }

    #[inline(always)]
    fn floats(samples: &[Self]) -> Option<&[f32]> {
        Some(samples)
    }

    #[inline(always)]
    fn floats_mut(samples: &mut [Self]) -> Option<&mut [f32]> {
        Some(samples)
    }
}

/// Nearest code value of a finite `value`, clamped. 2^23 has a last place of 1, so that adding it rounds to whole numbers
/// and leaves them in the low bits: unlike a cast, this is a vector operation everywhere.
#[inline(always)]
fn code(value: f32, max: f32) -> u32 {
    let scaled = value * max;
    let scaled = if scaled > 0.0 { scaled } else { 0.0 };
    let scaled = if scaled < max { scaled } else { max };
    (scaled + 8_388_608.0).to_bits() & 0xffff
}

impl Sample for u8 {
    const MAX_CODE: f32 = 255.0;

    #[inline(always)]
    fn number(self) -> f32 {
        f32::from(self)
    }

    #[inline(always)]
    fn from_value(value: f32) -> Self {
        code(value, Self::MAX_CODE) as Self
    }
}

impl Sample for u16 {
    const MAX_CODE: f32 = 65535.0;

    #[inline(always)]
    fn number(self) -> f32 {
        f32::from(self)
    }

    #[inline(always)]
    fn from_value(value: f32) -> Self {
        code(value, Self::MAX_CODE) as Self
    }
}
