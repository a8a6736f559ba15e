//! Sizes that frames are sold in.

use std::borrow::Cow;

/// A size that deep frames are sold in.
#[derive(Debug, Clone, PartialEq)]
pub struct StockSize {
    /// What the trade calls it.
    pub name: Cow<'static, str>,
    /// Glazing size, shorter side first, mm.
    pub size_mm: [f64; 2],
    /// Where the size is from.
    pub source: Cow<'static, str>,
    /// It is a US size, given in inches.
    pub us: bool,
}

const METRIC: &str = "metric sizes sold as box frames: memory-box, lightsmiths (seen)";
const METRIC_BY_HABIT: &str = "metric size, common practice, no source";
const US: &str = "US sizes sold as frames: mefoto.com (seen)";

const fn metric(name: &'static str, w: f64, h: f64) -> StockSize {
    StockSize {
        name: Cow::Borrowed(name),
        size_mm: [w, h],
        source: Cow::Borrowed(METRIC),
        us: false,
    }
}

/// A metric size that no source was found for.
const fn by_habit(name: &'static str, size_mm: [f64; 2]) -> StockSize {
    StockSize {
        name: Cow::Borrowed(name),
        size_mm,
        source: Cow::Borrowed(METRIC_BY_HABIT),
        us: false,
    }
}

/// A US size, inches.
const fn us(name: &'static str, w: f64, h: f64) -> StockSize {
    StockSize {
        name: Cow::Borrowed(name),
        size_mm: [w * 25.4, h * 25.4],
        source: Cow::Borrowed(US),
        us: true,
    }
}

/// Sizes that deep frames are commonly sold in. A caller may add its own.
pub static STOCK_SIZES: [StockSize; 18] = [
    metric("13 x 18 cm", 130.0, 180.0),
    metric("20 x 25 cm", 200.0, 250.0),
    metric("25 x 25 cm", 250.0, 250.0),
    metric("30 x 40 cm", 300.0, 400.0),
    metric("40 x 50 cm", 400.0, 500.0),
    metric("50 x 60 cm", 500.0, 600.0),
    by_habit("50 x 70 cm", [500.0, 700.0]),
    by_habit("23 x 23 cm", [230.0, 230.0]),
    us("4 x 6 in", 4.0, 6.0),
    us("5 x 7 in", 5.0, 7.0),
    us("8 x 10 in", 8.0, 10.0),
    us("11 x 14 in", 11.0, 14.0),
    us("12 x 16 in", 12.0, 16.0),
    us("11 x 17 in", 11.0, 17.0),
    us("16 x 20 in", 16.0, 20.0),
    us("18 x 24 in", 18.0, 24.0),
    us("20 x 24 in", 20.0, 24.0),
    us("24 x 36 in", 24.0, 36.0),
];
