//! Findings to HTML, PNG and JSON. Draws and writes, computes nothing.
//!
//! [`render_into`] is pure: the same findings give the same bytes. [`Stage`] only puts them down, whole
//! or not at all.

mod card;
mod chart;
mod digest;
mod exchange;
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
use std::io::{self, Write};
use std::path::PathBuf;
use std::sync::Mutex;

use rayon::prelude::*;
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::findings::{Figure, Findings, FlightDocument};
use chart::Sheet;
use names::Names;

pub use card::{page as card_page, text as card_text};
pub use digest::digest;
pub use exchange::MANIFEST;
pub use write::{Stage, Written, put, put_file, write};

/// The JSON Schema (draft 2020-12) of `findings.json`.
pub const FINDINGS_SCHEMA: &str = include_str!("findings.schema.json");

/// The JSON Schema (draft 2020-12) of `flights/NAME.json`.
pub const FLIGHT_SCHEMA: &str = include_str!("flight.schema.json");

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

/// A picture for both widths, and as pixels where they are wanted.
#[derive(Debug)]
struct Drawn {
    wide: String,
    narrow: String,
    png: Option<Vec<u8>>,
}

/// `None` where there is nothing to draw.
fn draw(figure: &Figure, pixels: bool) -> Result<Option<Drawn>, ReportError> {
    let wide = chart::draw(&figure.data, Sheet::Wide)?;
    let narrow = chart::draw(&figure.data, Sheet::Narrow)?;
    let (Some(wide), Some(narrow)) = (wide, narrow) else {
        return Ok(None);
    };
    let png = pixels.then(|| png::rasterise(&wide)).transpose()?;
    Ok(Some(Drawn { wide, narrow, png }))
}

/// What a report is made from.
#[derive(Clone, Copy)]
pub struct Content<'a> {
    pub findings: &'a Findings,
    /// The own pictures of a flight, by its place among the findings' flights.
    pub own: &'a (dyn Fn(usize) -> FlightDocument + Sync),
    /// The flights' own pictures as PNG, too.
    pub flight_pictures: bool,
    /// Called after each picture of the season and each flight, from whichever thread made it.
    pub tell: &'a (dyn Fn() + Sync),
}

/// Everything the report consists of, in memory, without pictures of single flights.
pub fn render(findings: &Findings) -> Result<Rendered, ReportError> {
    let none = |_| FlightDocument::default();
    let files = Mutex::default();
    let content = Content {
        findings,
        own: &none,
        flight_pictures: false,
        tell: &|| (),
    };
    render_into(content, &InMemory(&files))?;
    let mut files = files.into_inner().unwrap_or_default();
    files.sort();
    Ok(Rendered { files })
}

/// Takes the report's files one by one, from several threads.
pub trait Sink: Sync {
    /// A file that `fill` writes piece by piece; `name`: relative to the report's folder, with `/` between
    /// folders.
    fn fill(&self, name: &str, fill: Fill) -> Result<(), ReportError>;

    fn put(&self, name: &str, bytes: &[u8]) -> Result<(), ReportError> {
        self.fill(name, &mut |file| file.write_all(bytes))
    }
}

/// Writes a file.
pub type Fill<'a> = &'a mut dyn FnMut(&mut (dyn Write + Send)) -> io::Result<()>;

struct InMemory<'a>(&'a Mutex<Vec<(String, Vec<u8>)>>);

impl Sink for InMemory<'_> {
    fn fill(&self, name: &str, fill: Fill) -> Result<(), ReportError> {
        let mut bytes = Vec::new();
        fill(&mut bytes).map_err(|source| ReportError::Write {
            path: PathBuf::from(name),
            source,
        })?;
        if let Ok(mut files) = self.0.lock() {
            files.push((name.to_owned(), bytes));
        }
        Ok(())
    }
}

/// Makes the report's files, each held no longer than until it is handed over.
pub fn render_into(content: Content, sink: &dyn Sink) -> Result<(), ReportError> {
    let Content { findings, tell, .. } = content;
    data_into(findings, sink)?;
    let drawn: Vec<Option<Drawn>> = findings
        .figures
        .par_iter()
        .map(|figure| draw(figure, true).inspect(|_| tell()))
        .collect::<Result<_, _>>()?;
    let names = Names::of(findings);
    for (stem, drawn) in names.figures.iter().zip(&drawn) {
        if let Some(png) = drawn.as_ref().and_then(|d| d.png.as_ref()) {
            sink.put(&format!("figures/{stem}.png"), png)?;
        }
    }
    let source = view::Source {
        findings,
        drawn: &drawn,
        names: &names,
    };
    sheets(source, sink)?;
    (0..names.flights.len())
        .into_par_iter()
        .try_for_each(|i| flight(content, source, i, sink).inspect(|()| tell()))?;
    sink.put("fonts.css", page::fonts().as_bytes())?;
    sink.put("next.html", card::page(&findings.card)?.as_bytes())?;
    let index = page::season(&view::season(source))?;
    sink.put("index.html", index.as_bytes())
}

/// The page of a flight, its own pictures and their data.
fn flight(
    content: Content,
    source: view::Source,
    index: usize,
    sink: &dyn Sink,
) -> Result<(), ReportError> {
    let Some(stem) = source.names.flights.get(index) else {
        return Ok(());
    };
    let document = (content.own)(index);
    let mut own = Vec::with_capacity(document.figures.len());
    for figure in &document.figures {
        let drawn = draw(figure, content.flight_pictures)?;
        let name = words::stems(std::iter::once(figure.id.as_str())).concat();
        let png = drawn.as_ref().and_then(|d| d.png.as_ref());
        if let Some(png) = png {
            sink.put(&format!("flights/{stem}/{name}.png"), png)?;
        }
        let png = png.map(|_| format!("{stem}/{name}.png"));
        own.push(view::OwnFigure {
            figure,
            drawn,
            name,
            png,
        });
    }
    if let Some(view) = view::flight(source, index, &own) {
        let page = page::sheet(&view)?;
        sink.put(&format!("flights/{stem}.html"), page.as_bytes())?;
    }
    if document.figures.is_empty() {
        return Ok(());
    }
    let name = format!("flights/{stem}.json");
    let text = serde_json::to_vec(&document);
    sink.put(&name, &checked::<FlightDocument>(text, &name)?)
}

/// The pages of power systems and comparisons.
fn sheets(source: view::Source, sink: &dyn Sink) -> Result<(), ReportError> {
    type Make = for<'a> fn(view::Source<'a>, usize) -> Option<view::SheetPage<'a>>;
    let names = source.names;
    let kinds: [(&str, &[String], Make); 2] = [
        ("power", &names.powers, view::power),
        ("comparisons", &names.comparisons, view::comparison),
    ];
    for (folder, stems, make) in kinds {
        for (i, stem) in stems.iter().enumerate() {
            if let Some(view) = make(source, i) {
                let page = page::sheet(&view)?;
                sink.put(&format!("{folder}/{stem}.html"), page.as_bytes())?;
            }
        }
    }
    Ok(())
}

/// The findings alone, without pages and pictures.
pub fn data_into(findings: &Findings, sink: &dyn Sink) -> Result<(), ReportError> {
    check_numbers(findings)?;
    sink.fill("findings.json", &mut |file| {
        serde_json::to_writer_pretty(&mut *file, findings)?;
        file.write_all(b"\n")
    })?;
    sink.put("findings.schema.json", FINDINGS_SCHEMA.as_bytes())?;
    sink.put("flight.schema.json", FLIGHT_SCHEMA.as_bytes())
}

/// The longest parts one by one, so that no second copy of the whole is held.
fn check_numbers(findings: &Findings) -> Result<(), ReportError> {
    fn each<T: Serialize + DeserializeOwned + Sync>(parts: &[T]) -> Result<(), ReportError> {
        let check = |part: &T| checked::<T>(serde_json::to_vec(part), "findings.json").map(|_| ());
        parts.par_iter().try_for_each(check)
    }
    each(&findings.figures)?;
    each(&findings.tables)?;
    each(&findings.flights)?;
    each(&findings.questions)?;
    let rest = Findings {
        schema: findings.schema,
        version: findings.version.clone(),
        season: findings.season.clone(),
        ledger: findings.ledger.clone(),
        margins: findings.margins.clone(),
        cautions: findings.cautions.clone(),
        card: findings.card.clone(),
        powers: findings.powers.clone(),
        comparisons: findings.comparisons.clone(),
        units: findings.units.clone(),
        figures: Vec::new(),
        tables: Vec::new(),
        flights: Vec::new(),
        questions: Vec::new(),
    };
    each(&[rest])
}

/// serde_json writes a NaN as `null` without a word; reading the text back finds it out.
fn checked<T: DeserializeOwned>(
    text: serde_json::Result<Vec<u8>>,
    name: &str,
) -> Result<Vec<u8>, ReportError> {
    let wrong = |e: serde_json::Error| ReportError::NotANumber(format!("{name}: {e}"));
    let mut text = text.map_err(wrong)?;
    serde_json::from_slice::<T>(&text).map_err(wrong)?;
    text.push(b'\n');
    Ok(text)
}
