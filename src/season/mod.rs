//! What the pilot declares: `season.toml`, `logbook.csv`, `passes.csv`, checked, in SI, with
//! places for errors. Plain data, no file access: callers hand in text.

mod benches;
mod bounds;
mod channels;
mod dates;
pub mod finding;
mod instruments;
mod load;
mod logbook;
pub mod model;
mod passes;
mod questions;
mod sections;
mod sheet;
mod source;
mod text_form;
mod toml_reader;
mod wording;

pub use channels::{CHANNELS, channel};
pub(crate) use dates::month;
pub use finding::{Finding, Place, Severity, clean};
pub use instruments::usual_accuracy;
pub use load::{Loaded, SeasonText, load};
pub use model::*;
pub use questions::margin_digest;
