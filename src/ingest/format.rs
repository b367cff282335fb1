//! The format of a file, by its first bytes.

use std::io;

use serde::Serialize;

use super::source::{self, Source};
use super::{columnar, encoding, gpx, igc, nmea};

/// What a file is, whatever its name says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Format {
    Delimited,
    Gpx,
    Igc,
    Nmea,
    Parquet,
    ArrowFile,
    ArrowStream,
}

/// What tells the formats apart stands in the first bytes.
const HEAD_BYTES: usize = 1 << 16;

type Test = fn(&str) -> bool;

impl Format {
    /// Text that is none of the others counts as delimited.
    pub fn of(source: &dyn Source) -> io::Result<Self> {
        Ok(Self::by_head(&source::head(source, HEAD_BYTES)?))
    }

    fn by_head(bytes: &[u8]) -> Self {
        if let Some(format) = columnar::format(bytes) {
            return format;
        }
        let head = encoding::decode(bytes);
        let tests: [(Test, Self); 3] = [
            (gpx::is_gpx, Self::Gpx),
            (igc::is_igc, Self::Igc),
            (nmea::is_nmea, Self::Nmea),
        ];
        let found = tests.into_iter().find(|(is, _)| is(&head.text));
        found.map_or(Self::Delimited, |(_, format)| format)
    }

    pub fn words(self) -> &'static str {
        match self {
            Self::Delimited => "delimited text",
            Self::Gpx => "GPX",
            Self::Igc => "FAI IGC",
            Self::Nmea => "NMEA 0183",
            Self::Parquet => "Parquet",
            Self::ArrowFile => "Arrow IPC file",
            Self::ArrowStream => "Arrow IPC stream",
        }
    }
}
