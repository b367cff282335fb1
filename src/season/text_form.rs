//! How the text of a bench table or a log is written: `encoding` and `row_numbers`.

use super::toml_reader::{Context, Node};
use super::wording::did_you_mean;
use super::{Finding, TextForm};
use crate::units::nearest;
use encoding_rs::Encoding;

/// Encodings that a logger's program is likely to write, to guess a slip by; any label of the WHATWG
/// Encoding standard counts.
const USUAL: [&str; 12] = [
    "utf-8",
    "utf-16le",
    "utf-16be",
    "windows-1250",
    "windows-1251",
    "windows-1252",
    "windows-1253",
    "windows-1254",
    "iso-8859-2",
    "macintosh",
    "shift_jis",
    "gb18030",
];

pub(super) fn text_form(cx: &mut Context, node: &Node) -> TextForm {
    TextForm {
        encoding: encoding(cx, node),
        row_numbers: node.boolean(cx, "row_numbers"),
    }
}

fn encoding(cx: &mut Context, node: &Node) -> Option<&'static Encoding> {
    let (label, span) = node.text(cx, "encoding")?;
    let known = Encoding::for_label_no_replacement(label.as_bytes());
    if known.is_none() {
        let near = nearest(&label, USUAL);
        let finding = Finding::error(
            "unknown-encoding",
            format!("no text encoding is called '{label}'"),
            did_you_mean(near, "Use a label of the WHATWG Encoding standard."),
        );
        cx.report(finding.expected("a label such as windows-1250"), &span);
    }
    known
}
