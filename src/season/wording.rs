//! Phrases that findings share.

use crate::units::{self, QuantityError};

pub(super) fn did_you_mean(word: Option<&str>, otherwise: &str) -> String {
    match word {
        Some(word) => format!("Did you mean '{word}'?"),
        None => otherwise.to_owned(),
    }
}

pub(super) fn one_of<'w>(words: impl IntoIterator<Item = &'w str>) -> String {
    let words: Vec<_> = words.into_iter().collect();
    match words.as_slice() {
        [] => "none is declared".to_owned(),
        [only] => format!("'{only}'"),
        _ => format!("one of {}", words.join(", ")),
    }
}

pub(super) fn quantity_code(error: &QuantityError) -> &'static str {
    match error {
        QuantityError::NoNumber { .. } => "not-a-number",
        QuantityError::NoUnit { .. } => "no-unit",
        QuantityError::WrongUnit { .. } => "wrong-unit",
        QuantityError::UnknownUnit { .. } => "unknown-unit",
        QuantityError::Ambiguous { .. } => "ambiguous-number",
        QuantityError::NotFinite { .. } => "not-finite",
    }
}

pub(super) fn quantity_to_do(error: &QuantityError) -> String {
    match error {
        QuantityError::NoUnit { number, quantity } => {
            let unit = units::words(*quantity).first().copied().unwrap_or_default();
            format!("Write the value with its unit in quotes, e.g. \"{number} {unit}\".")
        }
        QuantityError::UnknownUnit { nearest, .. } => {
            did_you_mean(*nearest, "Use one of the units listed.")
        }
        QuantityError::WrongUnit { .. } => "Correct the unit.".to_owned(),
        _ => "Write a number with its unit in quotes.".to_owned(),
    }
}
