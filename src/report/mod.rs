//! Findings to HTML, PNG and JSON. Draws and writes, computes nothing.
//!
//! [`render`] is pure: the same findings give the same bytes. [`write`] only puts them down, whole or
//! not at all.

mod card;
mod chart;
mod font;
mod names;
mod numbers;
mod page;
mod png;
pub mod summary;
pub mod text;
mod view;
mod words;
mod write;

use std::fmt;
use std::path::PathBuf;

use rayon::prelude::*;

use crate::findings::{Figure, Findings};
use chart::Sheet;
use names::Names;

pub use card::{page as card_page, text as card_text};
pub use write::{MANIFEST, Written, put, put_file, write};

/// The JSON Schema (draft 2020-12) of `findings.json`.
pub const FINDINGS_SCHEMA: &str = include_str!("findings.schema.json");

/// The report's files: name relative to its folder, with `/` between folders, and content.
#[derive(Debug, Clone, PartialEq)]
pub struct Rendered {
    pub files: Vec<(String, Vec<u8>)>,
}

#[derive(Debug)]
pub enum ReportError {
    /// A value that JSON cannot hold (not a number, infinite) where a number must stand.
    NotANumber(String),
    /// A picture that cannot be drawn although it has data: a fault of the program.
    Drawing(String),
    /// A page that cannot be set: a fault of the program.
    Page(String),
    /// Something about the target folder; the report that was there is still there.
    Write {
        path: PathBuf,
        source: std::io::Error,
    },
}

impl fmt::Display for ReportError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotANumber(what) => {
                write!(
                    f,
                    "the findings hold a value that is not a finite number ({what})"
                )
            }
            Self::Drawing(what) => write!(f, "a picture could not be drawn: {what}"),
            Self::Page(what) => write!(f, "the page could not be set: {what}"),
            Self::Write { path, source } => write!(
                f,
                "{} could not be written: {source}. An earlier report there was kept",
                path.display()
            ),
        }
    }
}

impl std::error::Error for ReportError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Write { source, .. } => Some(source),
            _ => None,
        }
    }
}

/// A picture for both widths and as pixels; no drawing where there is nothing to draw.
#[derive(Debug)]
struct Drawn {
    wide: String,
    narrow: String,
    png: Vec<u8>,
}

fn draw(figure: &Figure) -> Result<Option<Drawn>, ReportError> {
    let wide = chart::draw(&figure.data, Sheet::Wide)?;
    let narrow = chart::draw(&figure.data, Sheet::Narrow)?;
    let (Some(wide), Some(narrow)) = (wide, narrow) else {
        return Ok(None);
    };
    let png = png::rasterise(&wide)?;
    Ok(Some(Drawn { wide, narrow, png }))
}

/// Everything the report consists of, in memory.
pub fn render(findings: &Findings) -> Result<Rendered, ReportError> {
    render_watched(findings, &|| ())
}

/// The same; `tell` is called after each picture, from whichever thread drew it.
pub fn render_watched(
    findings: &Findings,
    tell: &(dyn Fn() + Sync),
) -> Result<Rendered, ReportError> {
    let json = json(findings)?;
    let drawn: Vec<Option<Drawn>> = findings
        .figures
        .par_iter()
        .map(|figure| draw(figure).inspect(|_| tell()))
        .collect::<Result<_, _>>()?;
    let names = Names::of(findings);
    let source = view::Source {
        findings,
        drawn: &drawn,
        names: &names,
    };
    let index = page::season(&view::season(source))?;
    let sheets = sheets(source)?;

    let mut files: Vec<(String, Vec<u8>)> = names
        .figures
        .iter()
        .zip(&drawn)
        .filter_map(|(stem, drawn)| {
            let png = drawn.as_ref()?.png.clone();
            Some((format!("figures/{stem}.png"), png))
        })
        .collect();
    files.extend(sheets);
    files.push(("fonts.css".to_owned(), page::fonts().into_bytes()));
    files.push(("findings.json".to_owned(), json));
    files.push((
        "findings.schema.json".to_owned(),
        FINDINGS_SCHEMA.as_bytes().to_vec(),
    ));
    files.push((
        "next.html".to_owned(),
        card::page(&findings.card)?.into_bytes(),
    ));
    files.push(("index.html".to_owned(), index.into_bytes()));
    Ok(Rendered { files })
}

/// The pages of flights, power systems and comparisons.
fn sheets(source: view::Source) -> Result<Vec<(String, Vec<u8>)>, ReportError> {
    type Make = for<'a> fn(view::Source<'a>, usize) -> Option<view::SheetPage<'a>>;
    let names = source.names;
    let kinds: [(&str, &[String], Make); 3] = [
        ("flights", &names.flights, view::flight),
        ("power", &names.powers, view::power),
        ("comparisons", &names.comparisons, view::comparison),
    ];
    let mut files = Vec::new();
    for (folder, stems, make) in kinds {
        let pages: Vec<Option<String>> = (0..stems.len())
            .into_par_iter()
            .map(|i| make(source, i).map(|view| page::sheet(&view)).transpose())
            .collect::<Result<_, _>>()?;
        let named = stems.iter().zip(pages);
        files.extend(named.filter_map(|(stem, page)| {
            Some((format!("{folder}/{stem}.html"), page?.into_bytes()))
        }));
    }
    Ok(files)
}

/// The findings alone, without pages and pictures.
pub fn render_data(findings: &Findings) -> Result<Rendered, ReportError> {
    let files = vec![
        ("findings.json".to_owned(), json(findings)?),
        (
            "findings.schema.json".to_owned(),
            FINDINGS_SCHEMA.as_bytes().to_vec(),
        ),
    ];
    Ok(Rendered { files })
}

/// serde_json writes a NaN as `null` without a word; reading the text back finds it out.
fn json(findings: &Findings) -> Result<Vec<u8>, ReportError> {
    let mut text =
        serde_json::to_vec_pretty(findings).map_err(|e| ReportError::NotANumber(e.to_string()))?;
    if let Err(e) = serde_json::from_slice::<Findings>(&text) {
        return Err(ReportError::NotANumber(format!("findings.json: {e}")));
    }
    text.push(b'\n');
    Ok(text)
}
