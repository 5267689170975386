//! Exact arithmetic over quantities that may be unknown.

use crate::vocabulary::quantity::{divide, multiply};

/// A value and others added or, where the flag is set, taken away; none where it does not fit 64 bits.
pub fn sum(first: i64, rest: &[(bool, i64)]) -> Option<i64> {
    rest.iter().try_fold(first, |sum, (minus, term)| if *minus { sum.checked_sub(*term) } else { sum.checked_add(*term) })
}

/// A value multiplied by others or, where the flag is set, divided; each step is rounded.
pub fn product(first: i64, rest: &[(bool, i64)]) -> Option<i64> {
    rest.iter().try_fold(first, |product, (over, factor)| {
        if *over { divide(product, *factor) } else { multiply(product, *factor) }
    })
}
