//! A text on its way to be cut into records: counts its lines and sees to it that no record grows
//! without end.

use std::io::{self, Read};

/// Bytes handed over at once.
pub(super) const BUFFER: usize = 1 << 16;
/// No record is longer, bytes: a quote that was never closed would take the rest of the file into
/// memory.
const LONGEST_RECORD: usize = 1 << 22;

/// How far a pass over a text came.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    /// To its end.
    Whole,
    /// To a record too long to be one; the rest was not read.
    Endless,
}

pub(super) struct Tap<R> {
    text: R,
    /// What was read and is not counted yet.
    window: Vec<u8>,
    /// Place in the text of the window's first byte.
    base: usize,
    /// Place in the window up to which lines are counted.
    at: usize,
    line: u32,
    /// Bytes of the window that were handed over.
    given: usize,
    last: bool,
    pub end: End,
}

impl<R: Read> Tap<R> {
    pub fn new(text: R) -> Self {
        Self {
            text,
            window: Vec::new(),
            base: 0,
            at: 0,
            line: 1,
            given: 0,
            last: false,
            end: End::Whole,
        }
    }

    /// Reads over the first bytes; their lines count.
    pub fn skip(&mut self, bytes: usize) -> io::Result<()> {
        while self.window.len() < bytes && self.more()? {}
        self.given = bytes.min(self.window.len());
        Ok(())
    }

    /// Reads on; false at the end of the text or of patience.
    fn more(&mut self) -> io::Result<bool> {
        if self.last {
            return Ok(false);
        }
        if self.window.len() - self.at > LONGEST_RECORD {
            self.end = End::Endless;
            self.last = true;
            return Ok(false);
        }
        if self.at > BUFFER && self.at <= self.given {
            self.window.drain(..self.at);
            self.base += self.at;
            self.given -= self.at;
            self.at = 0;
        }
        let from = self.window.len();
        self.window.resize(from + BUFFER, 0);
        let read = loop {
            match self.text.read(&mut self.window[from..]) {
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                other => break other,
            }
        };
        self.window.truncate(from + *read.as_ref().unwrap_or(&0));
        self.last = read? == 0;
        Ok(!self.last)
    }

    /// The line of the record that starts at or after a place in the text (blank lines before it
    /// are skipped).
    pub fn line_at(&mut self, place: usize) -> u32 {
        let place = place.saturating_sub(self.base);
        while let Some(&byte) = self.window.get(self.at) {
            if self.at >= place && !matches!(byte, b'\n' | b'\r') {
                break;
            }
            let next = self.window.get(self.at + 1);
            self.line += u32::from(byte == b'\n' || (byte == b'\r' && next != Some(&b'\n')));
            self.at += 1;
        }
        self.line
    }

    /// The next line that is not blank, with its number; lines end at `\n` and `\r`.
    pub fn next_line(&mut self) -> io::Result<Option<(u32, &str)>> {
        loop {
            let mut to = self.given;
            loop {
                if let Some(length) = self.window[to..]
                    .iter()
                    .position(|b| matches!(b, b'\n' | b'\r'))
                {
                    to += length;
                    break;
                }
                // The beginning of the line stays where it is: `at` is not beyond it.
                let behind = self.window.len() - self.given;
                if !self.more()? {
                    to = self.window.len();
                    break;
                }
                to = self.given + behind;
            }
            let from = self.given;
            if from == self.window.len() {
                return Ok(None);
            }
            self.given = (to + 1).min(self.window.len());
            let place = self.base + from;
            let is_blank =
                |line: &[u8]| std::str::from_utf8(line).is_ok_and(|l| l.trim().is_empty());
            if is_blank(&self.window[from..to]) {
                continue;
            }
            let line = self.line_at(place);
            let content = std::str::from_utf8(&self.window[from..to]).unwrap_or_default();
            return Ok(Some((line, content)));
        }
    }
}

impl<R: Read> Read for Tap<R> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        // As full as can be, so that nothing depends on how the text comes in.
        while self.window.len() - self.given < out.len() && self.more()? {}
        let count = out.len().min(self.window.len() - self.given);
        out[..count].copy_from_slice(&self.window[self.given..self.given + count]);
        self.given += count;
        Ok(count)
    }
}
