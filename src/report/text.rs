//! Lines of words for a terminal.

use crate::season::clean;
use textwrap::{Options, WordSeparator, WordSplitter, WrapAlgorithm};

/// Words after `head`, control characters made visible, broken at blanks alone to lines of at most `width` characters (a longer word has
/// a line of its own), further lines behind `indent`.
pub fn wrapped(head: &str, indent: &str, text: &str, width: usize) -> Vec<String> {
    let options = Options::new(width)
        .initial_indent(head)
        .subsequent_indent(indent)
        .break_words(false)
        .word_separator(WordSeparator::AsciiSpace)
        .word_splitter(WordSplitter::NoHyphenation)
        .wrap_algorithm(WrapAlgorithm::FirstFit);
    let text = clean(text);
    let rows = textwrap::wrap(&text, options);
    rows.into_iter().map(|row| row.into_owned()).collect()
}
