//! Bytes to text: the encoding that is declared, else byte-order marks, UTF-16 by where its zero bytes
//! fall, UTF-8 if it is valid or its longer characters outnumber what is none, else Windows-1252 (of
//! which Latin-1 text is a part).
//!
//! One pass over the bytes tells the encoding, one over the text what must be known of all of it;
//! after that the text is decoded piece by piece as often as it is read.

use std::borrow::Cow;
use std::io::{self, Read};

use encoding_rs::{CoderResult, Decoder, Encoding, UTF_8, WINDOWS_1252};

use super::charset::Found;
use super::source::{PIECE, Source};

/// Text and how it was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Decoded<'a> {
    pub text: Cow<'a, str>,
    pub encoding: &'static str,
    pub bom: bool,
}

/// Fewer bytes above 127 do not tell one encoding of single bytes from another.
const LEAST_HIGH: usize = 3;
/// Letters and signs of Western European tables.
const USUAL: &str =
    "°µ²³±·ßäöüÄÖÜéèêëàâáãåçñíìîïóòôõøúùûæœÉÈÀÁÅÇÑÓØÚÆ€£§–—’‘“”…×½¼«»¿¡®©™Ω\u{a0}ÿ´`¨º";

/// Characters looked at to tell text from junk.
const SAMPLE: usize = 8192;
/// The text kept as its head ends with a line after so many line ends and bytes, or at the limit.
const HEAD_LINES: usize = 4096;
const HEAD_BYTES: usize = 1 << 17;
const HEAD_LIMIT: usize = 1 << 22;
/// A longer run of NULs tells no more: a logger reserves space by the megabyte.
const LONGEST_NULS: usize = 256;

/// Turns bytes into text; never fails.
pub fn decode(bytes: &[u8]) -> Decoded<'_> {
    let Ok(text) = Text::of(&bytes, None) else {
        return Decoded {
            text: String::from_utf8_lossy(bytes),
            encoding: UTF_8.name(),
            bom: false,
        };
    };
    let plain = (text.encoding == UTF_8 && !text.padded)
        .then(|| std::str::from_utf8(&bytes[text.mark..]).ok())
        .flatten();
    let decoded = match plain {
        Some(plain) => Cow::Borrowed(plain),
        None => {
            let mut all = String::new();
            // Reading from memory does not fail, and what is decoded is UTF-8.
            let _ = text
                .open_all()
                .and_then(|mut reader| reader.read_to_string(&mut all));
            Cow::Owned(all)
        }
    };
    Decoded {
        text: decoded,
        encoding: text.encoding.name(),
        bom: text.mark > 0,
    }
}

/// A text that is decoded as it is read, and what was seen of all of it.
pub(super) struct Text<'a> {
    source: &'a dyn Source,
    pub encoding: &'static Encoding,
    /// The season says so.
    declared: bool,
    /// Bytes of the byte-order mark.
    pub mark: usize,
    /// Its bytes are in memory, ASCII all of them and none a NUL.
    ascii: bool,
    /// NUL bytes pad the fields of most lines; they are left out.
    padded: bool,
    /// The beginning of the text: whole lines, or all of it.
    pub head: String,
    /// The head is all of it.
    pub whole: bool,
    /// Characters that the encoding could not account for (shown as U+FFFD).
    pub damaged: usize,
    /// Lines that hold some, and the first of them.
    pub damaged_lines: usize,
    pub first_damaged: Option<u32>,
    /// NUL bytes in the text: space a logger reserved and never wrote.
    pub nul_bytes: usize,
    /// No text at all: an image, an archive, a logger's own binary format.
    pub binary: bool,
    /// Nothing but white space and NULs.
    pub blank: bool,
    /// Somewhere a line ends with CR LF.
    pub crlf: bool,
    /// The last line has its end.
    pub ended: bool,
    /// Characters beyond ASCII, where the encoding is one of single bytes.
    pub high: usize,
    /// Of these the ones that are rare in tables.
    pub odd: usize,
}

impl<'a> Text<'a> {
    /// The encoding is found out where none is declared.
    pub fn of(source: &'a dyn Source, declared: Option<&'static Encoding>) -> io::Result<Self> {
        if declared.is_none_or(|d| d == UTF_8)
            && let Some(bytes) = source.bytes().filter(|b| is_plain_ascii(b))
        {
            return Ok(Self::of_ascii(source, bytes, declared.is_some()));
        }
        let found = Found::of(source, declared)?;
        let mut out = Self {
            source,
            encoding: found.encoding,
            declared: declared.is_some(),
            mark: found.mark,
            ascii: false,
            padded: false,
            head: String::new(),
            whole: true,
            damaged: 0,
            damaged_lines: 0,
            first_damaged: None,
            nul_bytes: 0,
            binary: false,
            blank: true,
            crlf: false,
            ended: false,
            high: 0,
            odd: 0,
        };
        let mut seen = Seen::default();
        let mut decoding = Decoding::new(source.open()?, found.encoding, found.mark);
        while let Some(piece) = decoding.next()? {
            seen.add(piece);
        }
        seen.end_line();
        // Where most lines hold NUL bytes they pad fixed-width fields and carry no news.
        out.padded = seen.lines >= 2 && seen.padded_lines * 2 > seen.lines;
        out.damaged = match found.encoding.name() {
            // A replacement character that was in the bytes already is not damage done here.
            "UTF-8" if found.valid => 0,
            "windows-1252" => 0,
            _ => seen.replaced,
        };
        if out.damaged > 0 {
            (out.damaged_lines, out.first_damaged) = (seen.replaced_lines, seen.first_replaced);
        }
        if found.encoding == WINDOWS_1252 {
            (out.high, out.odd) = (seen.high, seen.odd);
        }
        out.nul_bytes = if out.padded { 0 } else { seen.nuls };
        out.head = seen.head;
        out.whole = seen.whole || !seen.started;
        if out.padded {
            out.head.retain(|c| c != '\0');
        }
        if !out.whole {
            let end = out.head.rfind(['\n', '\r']).unwrap_or(out.head.len());
            out.head.truncate(end);
        }
        out.binary = is_binary(&out.head, seen.line_ends > 0);
        out.blank = seen.blank || !seen.started;
        (out.crlf, out.ended) = if out.padded {
            (seen.bare.crlf, seen.bare.ended)
        } else {
            (seen.all.crlf, seen.all.ended)
        };
        Ok(out)
    }

    /// What [`Self::of`] finds of ASCII without NULs, which is UTF-8 too.
    fn of_ascii(source: &'a dyn Source, bytes: &[u8], declared: bool) -> Self {
        let mut seen = Seen {
            whole: true,
            ..Seen::default()
        };
        // ASCII is text of the same bytes.
        let text = std::str::from_utf8(bytes).unwrap_or_default();
        let mut from = 0;
        while seen.whole && from < text.len() {
            let to = text.len().min(from + PIECE);
            seen.add_to_head(&text[from..to]);
            from = to;
        }
        let mut head = seen.head;
        if !seen.whole {
            let end = head.rfind(['\n', '\r']).unwrap_or(head.len());
            head.truncate(end);
        }
        let is_end = |b: &u8| matches!(b, b'\n' | b'\r');
        Self {
            source,
            encoding: UTF_8,
            declared,
            mark: 0,
            ascii: true,
            padded: false,
            binary: is_binary(&head, bytes.iter().any(is_end)),
            head,
            whole: seen.whole,
            damaged: 0,
            damaged_lines: 0,
            first_damaged: None,
            nul_bytes: 0,
            blank: text.chars().all(char::is_whitespace),
            crlf: memchr::memmem::find(bytes, b"\r\n").is_some(),
            ended: bytes.last().is_some_and(is_end),
            high: 0,
            odd: 0,
        }
    }

    /// All of it as UTF-8, where its bytes are in memory and none is a NUL.
    pub fn held(&self) -> io::Result<Option<Cow<'a, [u8]>>> {
        match self.source.bytes() {
            Some(bytes) if self.ascii => Ok(Some(Cow::Borrowed(bytes))),
            Some(bytes) if self.nul_bytes == 0 && !self.padded => {
                let mut text = Vec::with_capacity(bytes.len() + bytes.len() / 8);
                self.open()?.read_to_end(&mut text)?;
                Ok(Some(Cow::Owned(text)))
            }
            _ => Ok(None),
        }
    }

    /// Another encoding of single bytes could be meant: too few bytes tell, or they make odd signs.
    pub fn is_guess(&self) -> bool {
        !self.declared && self.encoding == WINDOWS_1252 && (self.high < LEAST_HIGH || self.odd > 0)
    }

    /// The text from its start, as UTF-8.
    pub fn open(&self) -> io::Result<DecodedReader<'a>> {
        self.reader(if self.padded { 0 } else { LONGEST_NULS })
    }

    /// The same with every NUL that is no padding.
    fn open_all(&self) -> io::Result<DecodedReader<'a>> {
        self.reader(if self.padded { 0 } else { usize::MAX })
    }

    fn reader(&self, nuls: usize) -> io::Result<DecodedReader<'a>> {
        Ok(DecodedReader {
            decoding: Decoding::new(self.source.open()?, self.encoding, self.mark),
            ready: Vec::new(),
            at: 0,
            nuls,
            run: 0,
        })
    }
}

/// What a pass over the text shows.
#[derive(Default)]
struct Seen {
    head: String,
    whole: bool,
    head_lines: usize,
    lines: usize,
    padded_lines: usize,
    /// Of the line at hand.
    holds_nul: bool,
    holds_more: bool,
    line_ends: usize,
    /// Line ends, CR LF as one.
    line: u32,
    replaced: usize,
    replaced_lines: usize,
    first_replaced: Option<u32>,
    /// The line at hand holds one.
    holds_replaced: bool,
    nuls: usize,
    blank: bool,
    high: usize,
    odd: usize,
    /// With every character, and without NULs.
    all: Ends,
    bare: Ends,
    started: bool,
}

#[derive(Default)]
struct Ends {
    last_is_cr: bool,
    crlf: bool,
    ended: bool,
}

impl Ends {
    fn add(&mut self, byte: u8) {
        self.crlf |= self.last_is_cr && byte == b'\n';
        self.last_is_cr = byte == b'\r';
        self.ended = matches!(byte, b'\n' | b'\r');
    }
}

impl Seen {
    fn add(&mut self, piece: &str) {
        if !self.started {
            (self.started, self.whole, self.blank) = (true, true, true);
        }
        if self.whole {
            self.add_to_head(piece);
        }
        if !piece.is_ascii() {
            let high = || piece.chars().filter(|c| !c.is_ascii());
            self.high += high().count();
            self.odd += high().filter(|c| !USUAL.contains(*c)).count();
        }
        self.blank = self.blank && piece.chars().all(|c| c.is_whitespace() || c == '\0');
        let mut replaced = if piece.is_ascii() {
            Vec::new()
        } else {
            piece.match_indices('\u{FFFD}').map(|(at, _)| at).collect()
        };
        self.replaced += replaced.len();
        replaced.reverse();
        for (at, byte) in piece.bytes().enumerate() {
            let line_end = byte == b'\r' || (byte == b'\n' && !self.all.last_is_cr);
            self.line += u32::from(line_end);
            self.holds_replaced &= !line_end;
            if replaced.pop_if(|next| *next == at).is_some() && !self.holds_replaced {
                self.holds_replaced = true;
                self.replaced_lines += 1;
                self.first_replaced.get_or_insert(self.line + 1);
            }
            self.all.add(byte);
            match byte {
                b'\n' | b'\r' => {
                    self.line_ends += 1;
                    self.end_line();
                    self.bare.add(byte);
                }
                0 => {
                    self.nuls += 1;
                    self.holds_nul = true;
                }
                _ => {
                    self.holds_more = true;
                    self.bare.add(byte);
                }
            }
        }
    }

    fn add_to_head(&mut self, piece: &str) {
        for line in piece.split_inclusive(['\n', '\r']) {
            let full = self.head_lines > HEAD_LINES && self.head.len() > HEAD_BYTES
                || self.head.len() > HEAD_LIMIT;
            if full {
                self.whole = false;
                return;
            }
            self.head += line;
            self.head_lines += usize::from(line.ends_with(['\n', '\r']));
        }
    }

    fn end_line(&mut self) {
        self.lines += usize::from(self.holds_nul || self.holds_more);
        self.padded_lines += usize::from(self.holds_nul && self.holds_more);
        (self.holds_nul, self.holds_more) = (false, false);
    }
}

/// Bytes decoded piece by piece.
struct Decoding<'a> {
    reader: Box<dyn Read + 'a>,
    decoder: Decoder,
    /// Bytes of the mark still to skip.
    mark: usize,
    bytes: Vec<u8>,
    /// Bytes read and not decoded yet.
    from: usize,
    to: usize,
    text: String,
    done: bool,
}

impl<'a> Decoding<'a> {
    fn new(reader: Box<dyn Read + 'a>, encoding: &'static Encoding, mark: usize) -> Self {
        Self {
            reader,
            decoder: encoding.new_decoder_without_bom_handling(),
            mark,
            bytes: vec![0; PIECE],
            from: 0,
            to: 0,
            text: String::with_capacity(4 * PIECE),
            done: false,
        }
    }

    /// The next piece of text; `None` at the end.
    fn next(&mut self) -> io::Result<Option<&str>> {
        while !self.done {
            if self.from == self.to {
                match self.reader.read(&mut self.bytes) {
                    Ok(read) => (self.from, self.to) = (0, read),
                    Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
                    Err(e) => return Err(e),
                }
            }
            let is_last = self.to == 0;
            let skipped = self.mark.min(self.to - self.from);
            self.mark -= skipped;
            self.from += skipped;
            self.text.clear();
            let bytes = &self.bytes[self.from..self.to];
            let (result, read, _) = self
                .decoder
                .decode_to_string(bytes, &mut self.text, is_last);
            self.from += read;
            self.done = is_last && result == CoderResult::InputEmpty;
            if !self.text.is_empty() {
                return Ok(Some(&self.text));
            }
        }
        Ok(None)
    }
}

/// Decoded text as bytes of UTF-8.
pub(super) struct DecodedReader<'a> {
    decoding: Decoding<'a>,
    ready: Vec<u8>,
    at: usize,
    /// NULs of a run that are handed over.
    nuls: usize,
    run: usize,
}

impl Read for DecodedReader<'_> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        while self.at == self.ready.len() {
            let Some(piece) = self.decoding.next()? else {
                return Ok(0);
            };
            self.at = 0;
            self.ready.clear();
            if self.run == 0 && !piece.as_bytes().contains(&0) {
                self.ready.extend_from_slice(piece.as_bytes());
                continue;
            }
            for byte in piece.bytes() {
                self.run = if byte == 0 { self.run + 1 } else { 0 };
                if self.run <= self.nuls {
                    self.ready.push(byte);
                }
            }
        }
        let count = out.len().min(self.ready.len() - self.at);
        out[..count].copy_from_slice(&self.ready[self.at..self.at + count]);
        self.at += count;
        Ok(count)
    }
}

fn is_plain_ascii(bytes: &[u8]) -> bool {
    bytes.is_ascii() && memchr::memchr(0, bytes).is_none()
}

fn is_binary(text: &str, has_lines: bool) -> bool {
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
    all > 0 && (control * 20 > all || (nul * 2 > all && !has_lines))
}
