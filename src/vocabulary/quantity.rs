//! Exact quantities: whole ninths of a micro-unit of SI.
//!
//! A value is rounded once, when it is read or derived, to a whole number of ninths of a micro-unit (µm, µK, µs,
//! µm/s, µPa, micro-degrees ...), in which every unit of the language is exact: 1 ft is 2,743,200 of them, 1 °F of
//! change 5,000,000. Sums are then exact; products and quotients round once, halves away from zero. Whatever does
//! not fit 64 bits is unknown.

/// Counts in one unit of SI (a metre, a kelvin, a second, a pascal, a degree of angle, the number 1).
pub const PER_UNIT: i64 = 9_000_000;

/// Counts in one second.
pub const SECOND: i64 = PER_UNIT;
/// Counts in one minute.
pub const MINUTE: i64 = 60 * SECOND;
/// Counts in one hour.
pub const HOUR: i64 = 60 * MINUTE;
/// Counts in one day.
pub const DAY: i64 = 24 * HOUR;
/// Counts in a full circle.
pub const CIRCLE: i64 = 360 * PER_UNIT;

/// Divides and rounds to the nearest whole, halves away from zero. The divisor is not zero.
pub fn divide_rounded(numerator: i128, divisor: i128) -> i128 {
    let (quotient, rest) = (numerator / divisor, numerator % divisor);
    let twice = rest.unsigned_abs() * 2;
    if twice >= divisor.unsigned_abs() {
        let away = if (numerator < 0) == (divisor < 0) { 1 } else { -1 };
        quotient + away
    } else {
        quotient
    }
}

/// A product of two quantities, rounded; none where it does not fit.
pub fn multiply(a: i64, b: i64) -> Option<i64> {
    let product = i128::from(a) * i128::from(b);
    i64::try_from(divide_rounded(product, i128::from(PER_UNIT))).ok()
}

/// A quotient of two quantities, rounded; none where the divisor is zero or it does not fit.
pub fn divide(a: i64, b: i64) -> Option<i64> {
    if b == 0 {
        return None;
    }
    let numerator = i128::from(a) * i128::from(PER_UNIT);
    i64::try_from(divide_rounded(numerator, i128::from(b))).ok()
}

/// A value and others added or, where the flag is set, taken away; none where it does not fit.
pub fn sum(first: i64, rest: &[(bool, i64)]) -> Option<i64> {
    rest.iter()
        .try_fold(first, |sum, (minus, term)| if *minus { sum.checked_sub(*term) } else { sum.checked_add(*term) })
}

/// A value multiplied by others or, where the flag is set, divided; each step is rounded.
pub fn product(first: i64, rest: &[(bool, i64)]) -> Option<i64> {
    rest.iter().try_fold(
        first,
        |product, (over, factor)| {
            if *over { divide(product, *factor) } else { multiply(product, *factor) }
        },
    )
}

/// A derived value in SI as a quantity; none where it is not finite or does not fit.
pub fn from_si(value: f64) -> Option<i64> {
    let counts = libm::round(value * PER_UNIT as f64);
    // 2^63 is exact as a float, so that these two bounds are too.
    (counts.is_finite() && (-9_223_372_036_854_775_808.0..9_223_372_036_854_775_808.0).contains(&counts))
        .then_some(counts as i64)
}

/// A quantity in SI, for the derivations.
pub fn to_si(counts: i64) -> f64 {
    counts as f64 / PER_UNIT as f64
}

/// A decimal number as it was written: digits and how many of them stand after the point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Decimal {
    /// All digits, as one whole number.
    pub digits: i128,
    /// How many digits stand after the point.
    pub places: u32,
}

/// Why a text is no number of the language.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecimalError {
    /// More than 15 digits before the point.
    TooLong,
    /// More than 9 digits after it.
    TooFine,
    /// Not digits with at most one point between them.
    NotANumber,
}

impl Decimal {
    /// Most digits before the point.
    pub const MOST_BEFORE: usize = 15;
    /// Most digits after the point.
    pub const MOST_AFTER: usize = 9;

    /// Reads digits with a point only between digits.
    pub fn read(text: &str) -> Result<Self, DecimalError> {
        let (before, after) = text.split_once('.').unwrap_or((text, ""));
        let digits_only = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
        if before.is_empty() || !digits_only(before) || !digits_only(after) || text.ends_with('.') {
            return Err(DecimalError::NotANumber);
        }
        if before.len() > Self::MOST_BEFORE {
            return Err(DecimalError::TooLong);
        }
        if after.len() > Self::MOST_AFTER {
            return Err(DecimalError::TooFine);
        }
        let mut digits = 0i128;
        for byte in before.bytes().chain(after.bytes()) {
            digits = digits * 10 + i128::from(byte - b'0');
        }
        let places = u32::try_from(after.len()).unwrap_or(0);
        Ok(Self { digits, places })
    }

    /// The number with its sign turned.
    pub fn negated(self) -> Self {
        Self { digits: -self.digits, ..self }
    }

    /// Counts of this many units, each `per_unit` counts, above `zero`; none where it does not fit.
    pub fn counts(self, per_unit: i64, zero: i64) -> Option<i64> {
        let scaled = self.digits.checked_mul(i128::from(per_unit))?;
        let rounded = divide_rounded(scaled, 10i128.pow(self.places));
        i64::try_from(rounded + i128::from(zero)).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_round_away_from_zero() {
        assert_eq!([divide_rounded(9, 2), divide_rounded(-9, 2), divide_rounded(8, 3)], [5, -5, 3]);
    }

    #[test]
    fn a_result_that_does_not_fit_is_unknown() {
        assert_eq!(multiply(i64::MAX, i64::MAX), None);
        assert_eq!(divide(1, 0), None);
        assert_eq!(divide(i64::MAX, 1), None);
        assert_eq!(from_si(f64::NAN), None);
        assert_eq!(from_si(1e300), None);
    }

    #[test]
    fn numbers_have_bounds() {
        assert_eq!(Decimal::read("1234567890123456"), Err(DecimalError::TooLong));
        assert_eq!(Decimal::read("0.1234567890"), Err(DecimalError::TooFine));
        assert_eq!(Decimal::read("3."), Err(DecimalError::NotANumber));
        assert_eq!(Decimal::read(".5"), Err(DecimalError::NotANumber));
        assert_eq!(Decimal::read("2.50"), Ok(Decimal { digits: 250, places: 2 }));
    }
}
