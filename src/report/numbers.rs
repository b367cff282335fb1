//! How numbers are written: the one place for digits and signs.

/// `value` with `decimals` digits after the point, a true minus sign, thin-spaced thousands above
/// four digits, and no negative zero.
pub fn fixed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let digits = format!("{:.*}", decimals, value.abs());
    let zero = digits.bytes().all(|b| b == b'0' || b == b'.');
    let (whole, fraction) = match digits.split_once('.') {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (digits.as_str(), None),
    };
    let mut out = String::new();
    if value < 0.0 && !zero {
        out.push('−');
    }
    if whole.len() > 4 {
        for (i, digit) in whole.chars().enumerate() {
            if i > 0 && (whole.len() - i) % 3 == 0 {
                out.push('\u{2009}');
            }
            out.push(digit);
        }
    } else {
        out.push_str(whole);
    }
    if let Some(fraction) = fraction {
        out.push('.');
        out.push_str(fraction);
    }
    out
}

/// Decimals that an interval of half-width `half` leaves worth showing: two significant digits of the
/// half-width when it begins with 1 or 2, else one (after GUM 7.2.6, which allows at most two).
pub fn decimals_for_half_width(half: f64) -> Option<usize> {
    if !(half.is_finite() && half > 0.0) {
        return None;
    }
    let exponent = half.log10().floor() as i32;
    let leading = half / 10f64.powi(exponent);
    let extra = i32::from(leading < 2.95);
    Some((extra - exponent).clamp(0, 9) as usize)
}

/// Decimals for a number without interval: none for a whole number, else three significant digits.
pub fn decimals_bare(value: f64) -> usize {
    if !value.is_finite() || value.fract() == 0.0 {
        return 0;
    }
    let exponent = value.abs().log10().floor() as i32;
    (2 - exponent).clamp(0, 9) as usize
}

/// Decimals for a value and the ends that are known.
pub fn decimals(value: Option<f64>, low: Option<f64>, high: Option<f64>) -> usize {
    decimals_known(value, low, high)
        .unwrap_or_else(|| decimals_bare(value.or(low).or(high).unwrap_or(0.0)))
}

/// The same where an interval says so; `None` where there is nothing to judge by.
pub fn decimals_known(value: Option<f64>, low: Option<f64>, high: Option<f64>) -> Option<usize> {
    let half = match (value, low, high) {
        (_, Some(low), Some(high)) => (high - low) / 2.0,
        (Some(value), Some(end), None) | (Some(value), None, Some(end)) => (value - end).abs(),
        _ => return None,
    };
    decimals_for_half_width(half)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_and_thousands() {
        assert_eq!(fixed(-3.25, 1), "−3.2");
        assert_eq!(fixed(-0.04, 1), "0.0");
        assert_eq!(fixed(1234.0, 0), "1234");
        assert_eq!(fixed(12345.6, 1), "12\u{2009}345.6");
        assert_eq!(fixed(f64::NAN, 1), "–");
    }

    #[test]
    fn digits_follow_the_interval() {
        assert_eq!(decimals(Some(21.3), Some(17.2), Some(25.4)), 0);
        assert_eq!(decimals(Some(3.91), Some(2.3), Some(5.5)), 1);
        assert_eq!(decimals(Some(0.9412), Some(0.931), Some(0.951)), 3);
        assert_eq!(decimals(Some(1830.0), Some(1700.0), Some(1950.0)), 0);
        assert_eq!(decimals(Some(41.27), None, None), 1);
        assert_eq!(decimals(None, Some(100.0), None), 0);
    }
}
