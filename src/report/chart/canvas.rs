//! Paper and pen: logical pixels in, SVG text out. The only file that knows plotters.
//!
//! plotters' backends take whole-number coordinates; drawing [`SCALE`] times larger and letting the
//! `viewBox` bring it back keeps smooth curves smooth.

use std::sync::OnceLock;

use plotters::prelude::{
    DrawingBackend, FontStyle, IntoFont, RGBAColor, SVGBackend, ShapeStyle, TextStyle,
};
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::palette::{Colour, Look, Marker};
use super::spots::Spots;
use crate::report::ReportError;
use crate::report::font::{self, FAMILY};

const SCALE: f64 = 4.0;

/// plotters asks for a size 1.24 times the em that it writes into the SVG.
const PLOTTERS_EM: f64 = 1.24;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    Left,
    Centre,
    Right,
}

/// Size (em, logical pixels), weight and colour of a piece of text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Type {
    pub size: f64,
    pub bold: bool,
    pub colour: Colour,
}

pub type Point = (f64, f64);

pub struct Canvas<'a> {
    backend: SVGBackend<'a>,
    failed: Option<String>,
    spots: Spots,
}

/// Draws on a sheet `width` by `height` logical pixels and returns the SVG.
pub fn paint(
    width: f64,
    height: f64,
    draw: impl FnOnce(&mut Canvas<'_>),
) -> Result<String, ReportError> {
    register_fonts()?;
    let mut buffer = String::new();
    let size = (
        (width * SCALE).round() as u32,
        (height * SCALE).round() as u32,
    );
    let (failed, spots) = {
        let mut canvas = Canvas {
            backend: SVGBackend::with_string(&mut buffer, size),
            failed: None,
            spots: Spots::default(),
        };
        draw(&mut canvas);
        let done = canvas.backend.present();
        canvas.note(done.map_err(|e| e.to_string()));
        (canvas.failed, canvas.spots)
    };
    if let Some(what) = failed {
        return Err(ReportError::Drawing(what));
    }
    // The page sets the width; joins are rounded so that noisy traces have no spikes.
    let given = format!("<svg width=\"{}\" height=\"{}\" ", size.0, size.1);
    let wanted = format!(
        "<svg width=\"{}\" height=\"{}\" stroke-linejoin=\"round\" ",
        size.0 / SCALE as u32,
        size.1 / SCALE as u32
    );
    let svg = buffer.replacen(&given, &wanted, 1);
    let (head, rest) = svg.split_once('\n').unwrap_or((&svg, ""));
    Ok(format!("{head}\n{}{rest}", spots.metadata()))
}

fn register_fonts() -> Result<(), ReportError> {
    static DONE: OnceLock<bool> = OnceLock::new();
    let fine = *DONE.get_or_init(|| {
        let regular = plotters::style::register_font(FAMILY, FontStyle::Normal, font::REGULAR);
        let bold = plotters::style::register_font(FAMILY, FontStyle::Bold, font::BOLD);
        regular.is_ok() && bold.is_ok()
    });
    if fine {
        Ok(())
    } else {
        Err(ReportError::Drawing(
            "the bundled font cannot be read".to_owned(),
        ))
    }
}

/// Width of a line of text in logical pixels.
pub fn width(text: &str, face: Type) -> f64 {
    if register_fonts().is_err() {
        return text.chars().count() as f64 * face.size * 0.6;
    }
    // plotters measures with the font's line height where the SVG means the em.
    let style = if face.bold {
        FontStyle::Bold
    } else {
        FontStyle::Normal
    };
    let asked = face.size * 100.0 * font::LINE_HEIGHT;
    match (FAMILY, asked, style)
        .into_font()
        .box_size(&printable(text))
    {
        Ok((w, _)) => f64::from(w) / 100.0,
        Err(_) => text.chars().count() as f64 * face.size * 0.6,
    }
}

/// `text` shortened with an ellipsis so that it is at most `room` wide.
pub fn fit(text: &str, face: Type, room: f64) -> String {
    if width(text, face) <= room {
        return text.to_owned();
    }
    let letters: Vec<char> = text.chars().collect();
    let shortened = |n: usize| {
        letters[..n]
            .iter()
            .collect::<String>()
            .trim_end()
            .to_owned()
            + "…"
    };
    // The longest that fits, by halving: names can be very long.
    let (mut fits, mut too_long) = (0, letters.len());
    while too_long - fits > 1 {
        let middle = (fits + too_long) / 2;
        if width(&shortened(middle), face) <= room {
            fits = middle;
        } else {
            too_long = middle;
        }
    }
    shortened(fits)
}

/// `text` broken at blanks into lines of at most `room`; at most `lines`, the last one shortened.
pub fn wrap(text: &str, face: Type, room: f64, lines: usize) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let full = out.len() == lines;
        match out.pop() {
            Some(line) => {
                let longer = format!("{line} {word}");
                if full || width(&longer, face) <= room {
                    out.push(longer);
                } else {
                    out.extend([line, word.to_owned()]);
                }
            }
            None => out.push(word.to_owned()),
        }
    }
    out.iter().map(|line| fit(line, face, room)).collect()
}

/// XML 1.0 has no place for control characters.
pub(super) fn printable(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .filter(|c| !matches!(c, '\u{fffe}' | '\u{ffff}'))
        .collect()
}

impl Canvas<'_> {
    fn note(&mut self, result: Result<(), String>) {
        if let Err(what) = result {
            self.failed.get_or_insert(what);
        }
    }

    pub fn line(&mut self, points: &[Point], colour: Colour, stroke: f64, dash: &[f64]) {
        let style = stroke_style(colour, stroke);
        for part in dashes(points, dash) {
            if part.len() > 1 {
                let done = self
                    .backend
                    .draw_path(part.iter().map(|p| scaled(*p)), &style);
                self.note(done.map_err(|e| e.to_string()));
            }
        }
    }

    pub fn area(&mut self, outline: &[Point], colour: Colour, alpha: f64) {
        if outline.len() < 3 {
            return;
        }
        let style = RGBAColor(colour.0, colour.1, colour.2, alpha);
        let done = self
            .backend
            .fill_polygon(outline.iter().map(|p| scaled(*p)), &style);
        self.note(done.map_err(|e| e.to_string()));
    }

    pub fn rect(&mut self, x: f64, y: f64, w: f64, h: f64, colour: Colour) {
        self.area(
            &[(x, y), (x + w, y), (x + w, y + h), (x, y + h)],
            colour,
            1.0,
        );
    }

    /// A marker of about `size` logical pixels across; white rim so that overlapping ones stay apart.
    pub fn marker(&mut self, at: Point, look: Look, size: f64) {
        let r = size / 2.0;
        let c = look.colour;
        match look.marker {
            Marker::Circle if !look.hollow => {
                self.disc(at, r + 0.7, super::palette::PAPER);
                self.disc(at, r, c);
            }
            Marker::Cross => {
                let (x, y) = at;
                let stroke = if look.hollow { 1.0 } else { 1.8 };
                self.line(&[(x - r, y - r), (x + r, y + r)], c, stroke, &[]);
                self.line(&[(x - r, y + r), (x + r, y - r)], c, stroke, &[]);
            }
            shape => {
                self.shape(at, shape, r, c);
                if look.hollow || shape == Marker::Ring {
                    let rim = if look.hollow { 1.0 } else { 1.4 };
                    self.shape(at, shape, r - rim, super::palette::PAPER);
                }
            }
        }
    }

    /// A filled shape of half width `r`.
    fn shape(&mut self, at: Point, shape: Marker, r: f64, c: Colour) {
        if r <= 0.0 {
            return;
        }
        let (x, y) = at;
        match shape {
            Marker::Square => self.rect(x - 0.9 * r, y - 0.9 * r, 1.8 * r, 1.8 * r, c),
            Marker::Triangle => self.area(
                &[
                    (x, y - 1.15 * r),
                    (x + 1.1 * r, y + 0.8 * r),
                    (x - 1.1 * r, y + 0.8 * r),
                ],
                c,
                1.0,
            ),
            Marker::Diamond => self.area(
                &[
                    (x, y - 1.25 * r),
                    (x + 1.25 * r, y),
                    (x, y + 1.25 * r),
                    (x - 1.25 * r, y),
                ],
                c,
                1.0,
            ),
            Marker::Circle | Marker::Ring | Marker::Cross => self.disc(at, r, c),
        }
    }

    pub fn disc(&mut self, at: Point, radius: f64, colour: Colour) {
        let style = RGBAColor(colour.0, colour.1, colour.2, 1.0);
        let r = (radius * SCALE).round().max(0.0) as u32;
        let done = self.backend.draw_circle(scaled(at), r, &style, true);
        self.note(done.map_err(|e| e.to_string()));
    }

    /// A series that [`Canvas::spot`] names its points by.
    pub fn series(&mut self, name: &str) -> usize {
        self.spots.series(name)
    }

    /// What pointing at `at` says.
    pub fn spot(&mut self, series: usize, at: Point, words: String) {
        self.spots.add(series, (at.0 * SCALE, at.1 * SCALE), words);
    }

    /// Text with its baseline at `y`.
    pub fn text(&mut self, text: &str, x: f64, baseline: f64, align: Align, face: Type) {
        let h = match align {
            Align::Left => HPos::Left,
            Align::Centre => HPos::Center,
            Align::Right => HPos::Right,
        };
        let style = if face.bold {
            FontStyle::Bold
        } else {
            FontStyle::Normal
        };
        let colour = RGBAColor(face.colour.0, face.colour.1, face.colour.2, 1.0);
        let style = TextStyle::from((FAMILY, face.size * SCALE * PLOTTERS_EM, style).into_font())
            .color(&colour)
            .pos(Pos::new(h, VPos::Top));
        // plotters-svg moves text anchored at the top down by 0.76 em.
        let done = self.backend.draw_text(
            &printable(text),
            &style,
            scaled((x, baseline - 0.76 * face.size)),
        );
        self.note(done.map_err(|e| e.to_string()));
    }
}

fn scaled(p: Point) -> (i32, i32) {
    ((p.0 * SCALE).round() as i32, (p.1 * SCALE).round() as i32)
}

fn stroke_style(colour: Colour, stroke: f64) -> ShapeStyle {
    ShapeStyle {
        color: RGBAColor(colour.0, colour.1, colour.2, 1.0),
        filled: false,
        stroke_width: (stroke * SCALE).round() as u32,
    }
}

/// Cuts a path into dashes; an empty pattern leaves it whole.
fn dashes(points: &[Point], pattern: &[f64]) -> Vec<Vec<Point>> {
    if pattern.is_empty() || points.len() < 2 {
        return vec![points.to_vec()];
    }
    let mut parts = Vec::new();
    let mut current = vec![points[0]];
    let (mut index, mut left, mut on) = (0, pattern[0], true);
    for pair in points.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        loop {
            let length = (to.0 - from.0).hypot(to.1 - from.1);
            if length <= left {
                left -= length;
                if on {
                    current.push(to);
                }
                break;
            }
            let share = left / length;
            from = (
                from.0 + share * (to.0 - from.0),
                from.1 + share * (to.1 - from.1),
            );
            if on {
                current.push(from);
                parts.push(std::mem::take(&mut current));
            } else {
                current = vec![from];
            }
            on = !on;
            index = (index + 1) % pattern.len();
            left = pattern[index];
        }
    }
    if on {
        parts.push(current);
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::chart::palette::INK;

    #[test]
    fn dashes_cover_the_line_in_turn() {
        let parts = dashes(&[(0.0, 0.0), (10.0, 0.0)], &[3.0, 2.0]);
        let ends: Vec<(f64, f64)> = parts.iter().map(|p| (p[0].0, p[p.len() - 1].0)).collect();
        assert_eq!(ends, [(0.0, 3.0), (5.0, 8.0)]);
    }

    /// The width that labels are placed by is the width that the rasteriser draws.
    #[test]
    fn measured_width_is_drawn_width() {
        let face = Type {
            size: 12.0,
            bold: false,
            colour: INK,
        };
        let text = "Level top speed, same pack 3.9 %";
        let svg = paint(400.0, 40.0, |c| c.text(text, 10.0, 25.0, Align::Left, face)).unwrap();
        let tree = crate::report::png::parse(&svg).unwrap();
        let drawn = f64::from(tree.root().abs_bounding_box().width());
        let measured = width(text, face);
        assert!((drawn / measured - 1.0).abs() < 0.02, "{drawn} {measured}");
    }

    #[test]
    fn long_words_are_shortened_to_the_room() {
        let face = Type {
            size: 12.0,
            bold: false,
            colour: INK,
        };
        let short = fit(&"Donaudampfschiff".repeat(9), face, 90.0);
        assert!(short.ends_with('…') && width(&short, face) <= 90.0);
    }
}
