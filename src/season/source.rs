//! A text people wrote by hand, with lines and columns to point at.

use std::ops::Range;

use super::Finding;

/// Characters of a line that an excerpt shows, at most.
const EXCERPT: usize = 160;

/// A text with the offsets where its lines start.
pub(super) struct Source<'a> {
    pub file: &'static str,
    pub text: &'a str,
    starts: Vec<usize>,
}

impl<'a> Source<'a> {
    /// Lines end with LF, CR LF or a lone CR.
    pub fn new(file: &'static str, text: &'a str) -> Self {
        let bytes = text.as_bytes();
        let ends = bytes
            .iter()
            .enumerate()
            .filter(|&(i, &b)| b == b'\n' || (b == b'\r' && bytes.get(i + 1) != Some(&b'\n')));
        let starts = std::iter::once(0).chain(ends.map(|(i, _)| i + 1)).collect();
        Self { file, text, starts }
    }

    fn line_index(&self, offset: usize) -> usize {
        self.starts.partition_point(|&s| s <= offset).max(1) - 1
    }

    /// Line and column, both from 1; the column counts characters.
    pub fn position(&self, offset: usize) -> (u32, u32) {
        let offset = self.clamp(offset);
        let index = self.line_index(offset);
        let column = self.text[self.starts[index]..offset].chars().count() + 1;
        (index as u32 + 1, column as u32)
    }

    /// Where a line starts, and its text.
    fn line_at(&self, index: usize) -> (usize, &'a str) {
        let start = self.starts[index];
        let end = self
            .starts
            .get(index + 1)
            .copied()
            .unwrap_or(self.text.len());
        (start, self.text[start..end].trim_end_matches(['\r', '\n']))
    }

    /// The line around `offset`.
    pub fn line(&self, offset: usize) -> &'a str {
        self.line_at(self.line_index(self.clamp(offset))).1
    }

    /// The first line of the span with carets under it; of a long line what lies about the span.
    pub fn excerpt(&self, span: &Range<usize>) -> String {
        let start = self.clamp(span.start);
        let index = self.line_index(start);
        let (line_start, line) = self.line_at(index);
        let before = &self.text[line_start..start.min(line_start + line.len())];
        let end = self
            .clamp(span.end)
            .clamp(start, (line_start + line.len()).max(start));
        let column = before.chars().count();
        let marked = self.text[start..end].chars().count();

        let is_long = line.chars().nth(EXCERPT).is_some();
        let skip = if is_long {
            column.saturating_sub(EXCERPT / 3)
        } else {
            0
        };
        let (cut_before, cut_after) = (skip > 0, line.chars().nth(skip + EXCERPT).is_some());
        let mark = |cut| if cut { "…" } else { "" };
        let shown: String = line.chars().skip(skip).take(EXCERPT).collect();
        // Tabs stay tabs, so that the caret stands right whatever their width.
        let indent: String = mark(cut_before)
            .chars()
            .chain(before.chars().skip(skip))
            .map(|c| if c == '\t' { '\t' } else { ' ' })
            .collect();
        let carets = "^".repeat(marked.min(EXCERPT - (column - skip).min(EXCERPT)).max(1));
        let number = (index + 1).to_string();
        let gutter = " ".repeat(number.len());
        format!(
            "{gutter} |\n{number} | {}{shown}{}\n{gutter} | {indent}{carets}",
            mark(cut_before),
            mark(cut_after)
        )
    }

    /// Places `finding` at `span`.
    pub fn place(&self, finding: Finding, span: &Range<usize>) -> Finding {
        let (line, column) = self.position(span.start);
        finding
            .at(self.file, line, Some(column))
            .excerpt(self.excerpt(span))
    }

    /// The nearest character boundary at or before `offset`.
    fn clamp(&self, offset: usize) -> usize {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        offset
    }
}
