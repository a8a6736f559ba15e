//! The price that leaves what is asked.

use crate::cost::{Pricing, Rates};
use crate::money::{Rounding, scaled, share_of, sum};
use crate::{LedgerError, Share};

const COST: &str = "the cost";

/// The customer's price. With costs C, fixed fee F, net price N, fees f N (1 + tax) + F and profit m N or
/// k (C + fees): N = (C + F) / (1 - f' - m), or N = (C + F)(1 + k) / (1 - f' (1 + k)), with f' = f (1 + tax).
pub(super) fn price_for(rates: &Rates, cost: i64, pricing: Pricing) -> Result<i64, LedgerError> {
    let r = rates;
    const WHOLE: i128 = Share::ALL.billionths() as i128;
    let fixed = i128::from(sum([cost, r.fee_fixed_minor.get()], COST)?);
    // All in billionths; products of two are brought back to them.
    let tax = i128::from(r.tax.billionths());
    let fee = i128::from(r.fee_on_price.billionths()) * (WHOLE + tax);
    let up = |a: i128, b: i128| a.div_euclid(b) + i128::from(a.rem_euclid(b) > 0);
    let fee = up(fee, WHOLE);
    let none_left = |share: i128| LedgerError::NoPrice {
        share: format!("{:.1} %", share as f64 / WHOLE as f64 * 100.0),
    };
    let net = match pricing {
        Pricing::PriceMinor(price) => return Ok(price.get()),
        Pricing::Margin(margin) => {
            let taken = fee + i128::from(margin.billionths());
            if taken >= WHOLE {
                return Err(none_left(taken));
            }
            up(fixed * WHOLE, WHOLE - taken)
        }
        Pricing::Markup(markup) => {
            let with = WHOLE + i128::from(markup.billionths());
            let taken = up(fee * with, WHOLE);
            if taken >= WHOLE {
                return Err(none_left(taken));
            }
            up(fixed * with, WHOLE - taken)
        }
    };
    let too_much = LedgerError::TooMuch { what: "the price" };
    let gross = up(net * (WHOLE + tax), WHOLE);
    let step = i128::from(r.round_to_minor.get().max(1));
    let rounded = if fixed == 0 {
        0
    } else {
        up(gross, step) * step
    };
    i64::try_from(rounded)
        .ok()
        .filter(|p| *p < 1 << 60)
        .ok_or(too_much)
}

/// A price without its tax.
pub(super) fn net_of(rates: &Rates, price: i64) -> Result<i64, LedgerError> {
    let whole = Share::ALL.billionths();
    scaled(
        price,
        whole,
        whole + rates.tax.billionths(),
        Rounding::Down,
        "the price",
    )
}

/// What selling takes at a price.
pub(super) fn fees_of(rates: &Rates, price: i64) -> Result<i64, LedgerError> {
    sum(
        [
            share_of(price, rates.fee_on_price, Rounding::Up, COST)?,
            rates.fee_fixed_minor.get(),
        ],
        COST,
    )
}
