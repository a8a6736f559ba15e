//! Papers that sheets are printed on.

use std::borrow::Cow;

/// A paper: its name as it is shown, and its size upright.
#[derive(Debug, Clone, PartialEq)]
pub struct Paper {
    /// Its name.
    pub name: Cow<'static, str>,
    /// Width and height upright, mm.
    pub size_mm: [f64; 2],
}

impl Paper {
    /// ISO 216 A4, 210 x 297 mm.
    pub const A4: Self = Self::known("A4", [210.0, 297.0]);
    /// US Letter, 8.5 x 11 in = 215.9 x 279.4 mm.
    pub const LETTER: Self = Self::known("Letter", [215.9, 279.4]);
    /// ISO 216 A3, 297 x 420 mm.
    pub const A3: Self = Self::known("A3", [297.0, 420.0]);
    /// US Tabloid, 11 x 17 in = 279.4 x 431.8 mm.
    pub const TABLOID: Self = Self::known("Tabloid", [279.4, 431.8]);

    /// ISO 216 A2, 420 x 594 mm.
    pub const A2: Self = Self::known("A2", [420.0, 594.0]);
    /// ISO 216 A1, 594 x 841 mm.
    pub const A1: Self = Self::known("A1", [594.0, 841.0]);
    /// ISO 216 A0, 841 x 1189 mm.
    pub const A0: Self = Self::known("A0", [841.0, 1189.0]);

    /// Papers of print shops, for what does not go on the known ones.
    pub const LARGE: [Self; 3] = [Self::A2, Self::A1, Self::A0];

    /// The papers that have a name of their own here.
    pub const KNOWN: [Self; 4] = [Self::A4, Self::LETTER, Self::A3, Self::TABLOID];

    const fn known(name: &'static str, size_mm: [f64; 2]) -> Self {
        Self {
            name: Cow::Borrowed(name),
            size_mm,
        }
    }

    /// The known paper of that name, capitals or not.
    pub fn named(name: &str) -> Option<Self> {
        Self::KNOWN
            .into_iter()
            .find(|p| p.name.eq_ignore_ascii_case(name))
    }
}
