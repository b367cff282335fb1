//! Bytes to text: byte-order marks, UTF-16 by where its zero bytes fall, UTF-8 if it is valid,
//! else Windows-1252 (of which Latin-1 text is a part).

use std::borrow::Cow;

use encoding_rs::{UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};

/// Text and how it was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoded<'a> {
    pub text: Cow<'a, str>,
    pub encoding: &'static str,
    pub bom: bool,
    /// Characters that the encoding could not account for (shown as U+FFFD).
    pub damaged: usize,
    /// NUL bytes in the text: space a logger reserved and never wrote, or padding.
    pub nul_bytes: usize,
    /// No text at all: an image, an archive, a logger's own binary format.
    pub binary: bool,
}

/// Bytes looked at to tell text from junk.
const SAMPLE: usize = 8192;

/// Turns bytes into text; never fails.
pub fn decode(bytes: &[u8]) -> Decoded<'_> {
    let (encoding, skip) = if bytes.starts_with(&[0xEF, 0xBB, 0xBF]) {
        (UTF_8, 3)
    } else if bytes.starts_with(&[0xFF, 0xFE]) {
        (UTF_16LE, 2)
    } else if bytes.starts_with(&[0xFE, 0xFF]) {
        (UTF_16BE, 2)
    } else {
        (without_mark(bytes), 0)
    };
    let (text, _) = encoding.decode_without_bom_handling(&bytes[skip..]);
    let text = without_padding(text);
    let replaced = |text: &str| text.matches('\u{FFFD}').count();
    let damaged = match encoding.name() {
        // A replacement character that was in the bytes already is not damage done here.
        "UTF-8" if std::str::from_utf8(bytes).is_ok() => 0,
        "windows-1252" => 0,
        _ => replaced(&text),
    };
    let nul_bytes = if text.as_bytes().contains(&0) {
        text.bytes().filter(|&b| b == 0).count()
    } else {
        0
    };
    Decoded {
        binary: is_binary(&text),
        encoding: encoding.name(),
        bom: skip > 0,
        damaged,
        nul_bytes,
        text,
    }
}

fn without_mark(bytes: &[u8]) -> &'static encoding_rs::Encoding {
    let sample = &bytes[..bytes.len().min(SAMPLE)];
    let pairs = sample.len() / 2;
    if pairs >= 4 {
        let even = sample.iter().step_by(2).filter(|&&b| b == 0).count();
        let odd = sample
            .iter()
            .skip(1)
            .step_by(2)
            .filter(|&&b| b == 0)
            .count();
        // In UTF-16 text of European words nearly every other byte is zero.
        if odd * 10 > pairs * 7 && even * 10 < pairs {
            return UTF_16LE;
        }
        if even * 10 > pairs * 7 && odd * 10 < pairs {
            return UTF_16BE;
        }
    }
    match std::str::from_utf8(bytes) {
        Ok(_) => UTF_8,
        // A power loss can cut the last character of a UTF-8 file in two.
        Err(error) if error.error_len().is_none() => UTF_8,
        Err(_) => {
            // A few damaged bytes among well-formed longer characters are damage, not Latin-1.
            let (mut good, mut bad) = (0usize, 0usize);
            for chunk in bytes.utf8_chunks() {
                good += chunk.valid().chars().filter(|c| !c.is_ascii()).count();
                bad += usize::from(!chunk.invalid().is_empty());
            }
            if good > 4 * bad { UTF_8 } else { WINDOWS_1252 }
        }
    }
}

/// Where most lines hold NUL bytes they pad fixed-width fields and carry no news.
fn without_padding(text: Cow<'_, str>) -> Cow<'_, str> {
    if !text.as_bytes().contains(&0) {
        return text;
    }
    let (mut lines, mut padded) = (0usize, 0usize);
    for line in text.split(['\n', '\r']).filter(|l| !l.is_empty()) {
        lines += 1;
        padded += usize::from(line.contains('\0') && line.chars().any(|c| c != '\0'));
    }
    if lines >= 2 && padded * 2 > lines {
        Cow::Owned(text.replace('\0', ""))
    } else {
        text
    }
}

fn is_binary(text: &str) -> bool {
    let (mut all, mut control, mut nul) = (0usize, 0usize, 0usize);
    for c in text.chars().take(SAMPLE) {
        all += 1;
        nul += usize::from(c == '\0');
        control += usize::from(
            (c.is_control()
                && !matches!(c, '\0' | '\t' | '\n' | '\r' | '\u{b}' | '\u{c}' | '\u{1a}'))
                || c == '\u{FFFD}',
        );
    }
    all > 0 && (control * 20 > all || (nul * 2 > all && !text.contains(['\n', '\r'])))
}
