//! The format of a file, by its first bytes.

use serde::Serialize;

use crate::ingest::encoding;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Format {
    Delimited,
    Gpx,
    Igc,
    Nmea,
    Parquet,
    ArrowIpc,
    Unknown,
}

/// What tells formats apart stands in the first bytes.
const HEAD: usize = 4096;

impl Format {
    pub fn of(bytes: &[u8]) -> Self {
        if bytes.starts_with(b"PAR1") {
            return Self::Parquet;
        }
        if bytes.starts_with(b"ARROW1") {
            return Self::ArrowIpc;
        }
        let head = encoding::decode(&bytes[..bytes.len().min(HEAD)]);
        let text = head.text.trim_start();
        let lines = || text.lines().map(str::trim).filter(|l| !l.is_empty());
        if text.starts_with('<') && text.contains("<gpx") {
            Self::Gpx
        } else if is_igc(lines()) {
            Self::Igc
        } else if lines().take(20).filter(|l| is_sentence(l)).count() >= 2 {
            Self::Nmea
        } else {
            Self::Delimited
        }
    }

    pub fn words(self) -> &'static str {
        match self {
            Self::Delimited => "delimited text",
            Self::Gpx => "GPX",
            Self::Igc => "FAI IGC",
            Self::Nmea => "NMEA 0183",
            Self::Parquet => "Parquet",
            Self::ArrowIpc => "Arrow IPC",
            Self::Unknown => "unknown format",
        }
    }
}

/// An A record first, then header records (FAI IGC technical specification, chapter 3).
fn is_igc<'a>(mut lines: impl Iterator<Item = &'a str>) -> bool {
    let first = lines.next().unwrap_or_default();
    let record = |l: &str| l.starts_with("HF") || l.starts_with("HO") || l.starts_with("HP");
    first.starts_with('A') && !first.contains([',', ';', '\t']) && lines.take(3).any(record)
}

/// `$GPRMC,...*6A`: talker and sentence in capitals, a checksum at the end.
fn is_sentence(line: &str) -> bool {
    let Some((head, _)) = line.strip_prefix('$').and_then(|l| l.split_once(',')) else {
        return false;
    };
    let sum = line.rsplit_once('*').map_or("", |(_, sum)| sum);
    (4..=6).contains(&head.len())
        && head
            .bytes()
            .all(|b| b.is_ascii_uppercase() || b.is_ascii_digit())
        && sum.len() == 2
        && sum.bytes().all(|b| b.is_ascii_hexdigit())
}
