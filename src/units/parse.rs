//! `"2.41 kg"` to SI.

use std::fmt;

use super::{Quantity, Unit, find, guess, nearest_unit, words};

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
    /// `2,410`: 2.41 where the comma is decimal, 2410 where it groups.
    Ambiguous { text: String },
    /// Not finite.
    NotFinite { text: String },
}

/// Reads a number written with a decimal point or a decimal comma. A comma before exactly three
/// digits could also group thousands and is refused, unless only zeros precede it.
pub fn number(text: &str) -> Option<Result<f64, QuantityError>> {
    let text = text.trim();
    let plain = |t: &str| {
        t.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))
            .then(|| t.parse::<f64>().ok())
            .flatten()
    };
    let Some((whole, rest)) = text.split_once(',') else {
        return plain(text).map(|value| finite(value, text));
    };
    let digits = rest.chars().take_while(char::is_ascii_digit).count();
    if rest.contains(',') || rest.contains('.') || whole.contains('.') || digits == 0 {
        return None;
    }
    let value = plain(&format!("{whole}.{rest}"))?;
    let zero = whole
        .trim_start_matches(['-', '+'])
        .chars()
        .all(|c| c == '0');
    Some(if digits == 3 && !zero {
        Err(QuantityError::Ambiguous {
            text: text.to_owned(),
        })
    } else {
        finite(value, text)
    })
}

fn finite(value: f64, text: &str) -> Result<f64, QuantityError> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(QuantityError::NotFinite {
            text: text.to_owned(),
        })
    }
}

/// The number at the start of a text, and what follows it, as texts.
pub fn number_and_unit(text: &str) -> (&str, &str) {
    let text = text.trim();
    let end = text
        .char_indices()
        .find(|&(i, c)| {
            let exponent = matches!(c, 'e' | 'E')
                && text[i + 1..].starts_with(|n: char| n.is_ascii_digit() || n == '-' || n == '+');
            !(c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+') || exponent)
        })
        .map_or(text.len(), |(i, _)| i);
    (text[..end].trim(), text[end..].trim())
}

/// Reads a number with a unit of `quantity` into SI. A ratio may stand without a unit (`0.02`).
pub fn parse(text: &str, quantity: Quantity) -> Result<f64, QuantityError> {
    let (raw, unit) = split(text, quantity)?;
    finite(unit.map_or(raw, |unit| unit.to_si(raw)), text)
}

/// Like [`parse`], for a difference of two values: a step of 1 °C is 1 K.
pub fn parse_difference(text: &str, quantity: Quantity) -> Result<f64, QuantityError> {
    let (raw, unit) = split(text, quantity)?;
    finite(unit.map_or(raw, |unit| raw * unit.factor), text)
}

fn split(text: &str, quantity: Quantity) -> Result<(f64, Option<&'static Unit>), QuantityError> {
    let (digits, word) = number_and_unit(text);
    let raw = number(digits).ok_or_else(|| QuantityError::NoNumber {
        text: text.to_owned(),
        quantity,
    })??;
    if word.is_empty() {
        return if quantity == Quantity::Ratio {
            Ok((raw, None))
        } else {
            Err(QuantityError::NoUnit {
                number: raw,
                quantity,
            })
        };
    }
    if let Some(unit) = find(word, quantity) {
        return Ok((raw, Some(unit)));
    }
    let mut is: Vec<Quantity> = guess(word).iter().map(|u| u.quantity).collect();
    is.dedup();
    if !is.is_empty() {
        return Err(QuantityError::WrongUnit {
            word: word.to_owned(),
            is,
            quantity,
        });
    }
    Err(QuantityError::UnknownUnit {
        word: word.to_owned(),
        nearest: nearest_unit(word, words(quantity)),
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
                    "{number} has no unit, and {} needs one",
                    quantity.with_article()
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
            Self::Ambiguous { text } => write!(
                f,
                "'{text}' can be read with a decimal comma or with a comma between thousands"
            ),
            Self::NotFinite { text } => write!(f, "'{text}' is not a finite number"),
        }
    }
}

impl QuantityError {
    /// What would have been right, e.g. `a mass in kg, g, lb, oz`.
    pub fn expected(&self) -> String {
        let quantity = match self {
            Self::NoNumber { quantity, .. }
            | Self::NoUnit { quantity, .. }
            | Self::WrongUnit { quantity, .. }
            | Self::UnknownUnit { quantity, .. } => *quantity,
            Self::Ambiguous { .. } => {
                return "a decimal point (2.41), and nothing between thousands".to_owned();
            }
            Self::NotFinite { .. } => return "a finite number".to_owned(),
        };
        format!(
            "{} in {}",
            quantity.with_article(),
            words(quantity).join(", ")
        )
    }
}
