//! Files that are no table, told by their first bytes.
//!
//! The marks are those of the formats' own specifications, from memory.

/// First bytes, and what the file is.
const MARKS: [(&[u8], &str); 21] = [
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xFF\xD8\xFF", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"II*\0", "a picture (TIFF)"),
    (b"MM\0*", "a picture (TIFF)"),
    (b"RIFF", "a sound, picture or film (RIFF)"),
    (b"OggS", "a sound (Ogg)"),
    (b"ID3", "a sound (MP3)"),
    (b"fLaC", "a sound (FLAC)"),
    (b"%PDF", "a document (PDF)"),
    (b"%!PS", "a document (PostScript)"),
    (b"{\\rtf", "a document (RTF)"),
    (
        b"PK\x03\x04",
        "a ZIP archive, as spreadsheets and office documents are, too",
    ),
    (
        b"\xD0\xCF\x11\xE0",
        "a spreadsheet or document of an office program",
    ),
    (b"\x1F\x8B", "compressed (gzip)"),
    (b"BZh", "compressed (bzip2)"),
    (b"\xFD7zXZ", "compressed (xz)"),
    (b"\x28\xB5\x2F\xFD", "compressed (Zstandard)"),
    (b"7z\xBC\xAF\x27\x1C", "an archive (7z)"),
    (b"SQLite format 3", "a database (SQLite)"),
    (b"\x7FELF", "a program"),
];

/// What a file is whose first bytes name a format that holds no table.
pub(super) fn named(first: &[u8]) -> Option<&'static str> {
    let by_mark = MARKS.iter().find(|(mark, _)| first.starts_with(mark));
    by_mark
        .map(|(_, what)| *what)
        .or_else(|| {
            let film = first.get(4..8) == Some(b"ftyp");
            film.then_some("a film (MP4)")
        })
        .or_else(|| by_text(&String::from_utf8_lossy(first)))
}

/// Formats that are text: JSON and markup.
fn by_text(text: &str) -> Option<&'static str> {
    let text = text.trim_start_matches('\u{feff}').trim_start();
    let lower = text.to_ascii_lowercase();
    if lower.starts_with("<!doctype html") || lower.starts_with("<html") {
        return Some("a web page (HTML)");
    }
    if lower.starts_with("<svg") || lower.contains("<svg ") {
        return Some("a picture (SVG)");
    }
    if lower.starts_with("<?xml") {
        return Some("XML, and not GPX");
    }
    is_json(text).then_some("JSON")
}

/// An object or a list, and not a word in brackets as some loggers write it on top.
fn is_json(text: &str) -> bool {
    let inside = |open: char| text.strip_prefix(open).map(str::trim_start);
    let object = inside('{').is_some_and(|rest| rest.starts_with(['"', '}']));
    let list = inside('[').is_some_and(|rest| {
        let first = rest.chars().next();
        let is_value =
            first.is_some_and(|c| c.is_ascii_digit() || matches!(c, '{' | '[' | '"' | '-' | ']'));
        // `[1] 12.5`, a number in brackets before a row, is none.
        is_value
            && rest
                .split([',', '\n'])
                .next()
                .is_some_and(|item| !item.contains("] "))
    });
    object || list
}
