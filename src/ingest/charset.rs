//! Which encoding the bytes of a text are in.

use std::io;

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

use super::source::{self, Source};

/// Bytes looked at to tell UTF-16 and byte-order marks.
const SAMPLE: usize = 8192;

/// What the bytes show.
pub(super) struct Found {
    pub encoding: &'static Encoding,
    /// Bytes of the byte-order mark.
    pub mark: usize,
    /// All of it is UTF-8.
    pub valid: bool,
}

impl Found {
    pub fn of(source: &dyn Source, declared: Option<&'static Encoding>) -> io::Result<Self> {
        let sample = source::head(source, SAMPLE)?;
        if let Some(encoding) = declared {
            let marked = Encoding::for_bom(&sample).filter(|(of_mark, _)| *of_mark == encoding);
            return Ok(Self {
                encoding,
                mark: marked.map_or(0, |(_, length)| length),
                valid: encoding == UTF_8 && Validity::of(source)?.is_whole(),
            });
        }
        let marked = |encoding, mark| Self {
            encoding,
            mark,
            valid: false,
        };
        if sample.starts_with(&[0xFF, 0xFE]) {
            return Ok(marked(UTF_16LE, 2));
        }
        if sample.starts_with(&[0xFE, 0xFF]) {
            return Ok(marked(UTF_16BE, 2));
        }
        let mark = if sample.starts_with(&[0xEF, 0xBB, 0xBF]) {
            3
        } else {
            0
        };
        if mark == 0
            && let Some(encoding) = utf_16(&sample)
        {
            return Ok(marked(encoding, 0));
        }
        let validity = Validity::of(source)?;
        // A power loss can cut the last character of a UTF-8 file in two, and damaged bytes among
        // well-formed longer characters are damage, not Latin-1: two of its letters next to each
        // other hardly ever make such a character.
        let is_utf_8 = mark > 0 || validity.bad == 0 || validity.good >= validity.faults();
        Ok(Self {
            encoding: if is_utf_8 { UTF_8 } else { WINDOWS_1252 },
            mark,
            valid: validity.is_whole(),
        })
    }
}

/// In UTF-16 text of European words nearly every other byte is zero.
fn utf_16(sample: &[u8]) -> Option<&'static Encoding> {
    let pairs = sample.len() / 2;
    if pairs < 4 {
        return None;
    }
    let zeros = |from: usize| {
        let places = sample.iter().skip(from).step_by(2);
        places.filter(|&&b| b == 0).count()
    };
    let (even, odd) = (zeros(0), zeros(1));
    if odd * 10 > pairs * 7 && even * 10 < pairs {
        Some(UTF_16LE)
    } else if even * 10 > pairs * 7 && odd * 10 < pairs {
        Some(UTF_16BE)
    } else {
        None
    }
}

/// Counts what is UTF-8 and what is not, over pieces that may cut a character.
#[derive(Default)]
struct Validity {
    /// Characters of several bytes.
    good: usize,
    /// Sequences that are none.
    bad: usize,
    /// The beginning of a character.
    carry: Vec<u8>,
}

impl Validity {
    fn of(source: &dyn Source) -> io::Result<Self> {
        let mut out = Self::default();
        source::pieces(source.open()?, |piece| out.add(piece))?;
        Ok(out)
    }

    /// Sequences that are no characters, a last one that was cut in two among them.
    fn faults(&self) -> usize {
        self.bad + usize::from(!self.carry.is_empty())
    }

    fn is_whole(&self) -> bool {
        self.faults() == 0
    }

    fn add(&mut self, piece: &[u8]) {
        if self.carry.is_empty() && piece.is_ascii() {
            return;
        }
        let mut bytes = std::mem::take(&mut self.carry);
        bytes.extend_from_slice(piece);
        let mut at = 0;
        for chunk in bytes.utf8_chunks() {
            let (valid, invalid) = (chunk.valid(), chunk.invalid());
            self.good += valid.chars().filter(|c| !c.is_ascii()).count();
            at += valid.len() + invalid.len();
            let is_cut = at == bytes.len()
                && std::str::from_utf8(invalid).is_err_and(|e| e.error_len().is_none());
            if is_cut {
                self.carry = invalid.to_vec();
            } else {
                self.bad += usize::from(!invalid.is_empty());
            }
        }
    }
}
