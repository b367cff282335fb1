//! `"2.41 kg"` to SI.

use std::fmt;

use super::{Quantity, find, guess, words};

/// Why a quantity could not be read.
#[derive(Debug, Clone, PartialEq)]
pub enum QuantityError {
    /// No number at the start.
    NoNumber { text: String, quantity: Quantity },
    /// A bare number where a unit is needed.
    NoUnit { number: f64, quantity: Quantity },
    /// The unit exists but measures something else.
    WrongUnit {
        word: String,
        is: Vec<Quantity>,
        quantity: Quantity,
    },
    UnknownUnit {
        word: String,
        nearest: Option<&'static str>,
        quantity: Quantity,
    },
    /// Not finite.
    NotFinite { text: String },
}

/// Reads a number with a unit of `quantity` into SI. A ratio may stand without a unit (`0.02`).
pub fn parse(text: &str, quantity: Quantity) -> Result<f64, QuantityError> {
    let text = text.trim();
    let split = text
        .char_indices()
        .find(|&(i, c)| {
            let exponent = matches!(c, 'e' | 'E')
                && text[i + 1..].starts_with(|n: char| n.is_ascii_digit() || n == '-' || n == '+');
            !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+') || exponent)
        })
        .map_or(text.len(), |(i, _)| i);
    let (number, word) = (text[..split].trim(), text[split..].trim());
    let raw: f64 = number.parse().map_err(|_| QuantityError::NoNumber {
        text: text.to_owned(),
        quantity,
    })?;
    if !raw.is_finite() {
        return Err(QuantityError::NotFinite {
            text: text.to_owned(),
        });
    }
    if word.is_empty() {
        return if quantity == Quantity::Ratio {
            Ok(raw)
        } else {
            Err(QuantityError::NoUnit {
                number: raw,
                quantity,
            })
        };
    }
    if let Some(unit) = find(word, quantity) {
        return Ok(unit.to_si(raw));
    }
    let is: Vec<Quantity> = guess(word).iter().map(|u| u.quantity).collect();
    if !is.is_empty() {
        return Err(QuantityError::WrongUnit {
            word: word.to_owned(),
            is,
            quantity,
        });
    }
    let nearest = words(quantity)
        .into_iter()
        .map(|w| {
            (
                strsim::damerau_levenshtein(&w.to_lowercase(), &word.to_lowercase()),
                w,
            )
        })
        .min()
        .filter(|(distance, _)| *distance <= 2)
        .map(|(_, w)| w);
    Err(QuantityError::UnknownUnit {
        word: word.to_owned(),
        nearest,
        quantity,
    })
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoNumber { text, quantity } => {
                write!(
                    f,
                    "'{text}' does not start with a number ({} wanted)",
                    quantity.name()
                )
            }
            Self::NoUnit { number, quantity } => {
                write!(
                    f,
                    "{number} has no unit, and a {} needs one",
                    quantity.name()
                )
            }
            Self::WrongUnit { word, is, quantity } => {
                let is: Vec<_> = is.iter().map(|q| q.name()).collect();
                write!(
                    f,
                    "'{word}' is a unit of {}, not of {}",
                    is.join(" or "),
                    quantity.name()
                )
            }
            Self::UnknownUnit {
                word,
                nearest: Some(nearest),
                ..
            } => {
                write!(f, "unknown unit '{word}'; did you mean '{nearest}'?")
            }
            Self::UnknownUnit {
                word,
                nearest: None,
                ..
            } => write!(f, "unknown unit '{word}'"),
            Self::NotFinite { text } => write!(f, "'{text}' is not a finite number"),
        }
    }
}

impl QuantityError {
    /// What would have been right, e.g. `a mass such as kg, g, lb, oz`.
    pub fn expected(&self) -> String {
        let quantity = match self {
            Self::NoNumber { quantity, .. }
            | Self::NoUnit { quantity, .. }
            | Self::WrongUnit { quantity, .. }
            | Self::UnknownUnit { quantity, .. } => *quantity,
            Self::NotFinite { .. } => return "a finite number".to_owned(),
        };
        format!("a {} in {}", quantity.name(), words(quantity).join(", "))
    }
}
