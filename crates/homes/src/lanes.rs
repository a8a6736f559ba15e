//! Four numbers that are reckoned with as one: one transform of them is the transforms of four rows side by side.
//!
//! Each of the four comes out to the last bit as it would by itself, on every machine: the compiler puts them in one register, and
//! nothing is summed across them. (The transforms' own vector code is quicker still, but its last bits differ between processors.)

use rustfft::num_traits::{FromPrimitive, Num, One, Signed, Zero};
use std::array::from_fn;
use std::ops::{Add, Div, Mul, Neg, Rem, Sub};

/// How many.
pub(crate) const LANES: usize = 4;

/// Four numbers, each reckoned with by itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Lanes(pub(crate) [f32; LANES]);

macro_rules! each {
    ($($name:ident $call:ident $sign:tt)*) => {$(
        impl $name for Lanes {
            type Output = Self;

            #[inline(always)]
            fn $call(self, other: Self) -> Self {
                Self(from_fn(|l| self.0[l] $sign other.0[l]))
            }
        }
    )*};
}

each! { Add add + Sub sub - Mul mul * Div div / Rem rem % }

impl Neg for Lanes {
    type Output = Self;

    #[inline(always)]
    fn neg(self) -> Self {
        Self(self.0.map(|v| -v))
    }
}

impl Lanes {
    #[inline(always)]
    fn all(v: f32) -> Self {
        Self([v; LANES])
    }
}

impl Zero for Lanes {
    fn zero() -> Self {
        Self::all(0.0)
    }

    fn is_zero(&self) -> bool {
        *self == Self::zero()
    }
}

impl One for Lanes {
    fn one() -> Self {
        Self::all(1.0)
    }
}

impl Num for Lanes {
    type FromStrRadixErr = <f32 as Num>::FromStrRadixErr;

    fn from_str_radix(text: &str, radix: u32) -> Result<Self, Self::FromStrRadixErr> {
        f32::from_str_radix(text, radix).map(Self::all)
    }
}

impl Signed for Lanes {
    fn abs(&self) -> Self {
        Self(self.0.map(f32::abs))
    }

    fn abs_sub(&self, other: &Self) -> Self {
        Self(from_fn(|l| (self.0[l] - other.0[l]).max(0.0)))
    }

    fn signum(&self) -> Self {
        Self(self.0.map(f32::signum))
    }

    fn is_positive(&self) -> bool {
        self.0.iter().all(|v| v.is_sign_positive())
    }

    fn is_negative(&self) -> bool {
        self.0.iter().all(|v| v.is_sign_negative())
    }
}

impl FromPrimitive for Lanes {
    fn from_i64(n: i64) -> Option<Self> {
        f32::from_i64(n).map(Self::all)
    }

    fn from_u64(n: u64) -> Option<Self> {
        f32::from_u64(n).map(Self::all)
    }

    fn from_f32(n: f32) -> Option<Self> {
        Some(Self::all(n))
    }

    fn from_f64(n: f64) -> Option<Self> {
        f32::from_f64(n).map(Self::all)
    }
}
