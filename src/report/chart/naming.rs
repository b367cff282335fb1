//! Names beside what they name: a series is labelled in the plot where it stands apart from the
//! others and its name covers nothing; what cannot be named there goes into a key.

use super::canvas::{Align, Canvas, Point, width};
use super::frame::strong;
use super::palette::{INK, look};
use super::place::{Area, Placer};

/// Height of a label's box.
const HIGH: f64 = 14.0;
/// How much nearer a name stands to its own cloud than to any other.
const NEARER: f64 = 6.0;
/// Share of a cloud's box that another cloud may cover before only a key can tell them apart.
const MINGLED: f64 = 0.35;

/// A series to be named, on the paper.
pub struct Named<'a> {
    pub name: &'a str,
    pub colour: u32,
    pub path: Vec<Point>,
    /// A line is named along its way, points around their cloud.
    pub is_line: bool,
}

/// A name with its place (baseline, left).
pub struct Label<'a> {
    pub name: &'a str,
    pub colour: u32,
    at: Point,
}

impl Label<'_> {
    /// The box it takes.
    pub fn area(&self) -> Area {
        Area {
            x: self.at.0,
            y: self.at.1 - 11.5,
            w: width(self.name, strong(INK)),
            h: HIGH,
        }
    }

    pub fn draw(&self, canvas: &mut Canvas<'_>) {
        let face = strong(look(self.colour).colour);
        canvas.text(self.name, self.at.0, self.at.1, Align::Left, face);
    }
}

/// Labels for those of `series` that can be named in `plot`; `placer` holds what is on the paper.
pub fn labels<'a>(series: &[Named<'a>], plot: &Area, placer: &mut Placer) -> Vec<Label<'a>> {
    let mut out: Vec<Label<'a>> = Vec::new();
    for (i, own) in series.iter().enumerate() {
        if out.iter().any(|l| l.name == own.name) {
            continue;
        }
        let w = width(own.name, strong(INK));
        let wishes = if own.is_line {
            along(&own.path, w)
        } else {
            let Some(cloud) = around(&own.path) else {
                continue;
            };
            let mingled = series.iter().enumerate().any(|(k, other)| {
                let cover = |o: Area| o.shared(&cloud) / (cloud.w * cloud.h);
                k != i && !other.is_line && around(&other.path).is_some_and(|o| cover(o) > MINGLED)
            });
            if mingled {
                continue;
            }
            // A name belongs to what it stands nearest to.
            let others = series.iter().enumerate().filter(|(k, _)| *k != i);
            let others: Vec<Area> = others
                .filter(|(_, o)| !o.is_line)
                .filter_map(|(_, o)| around(&o.path))
                .collect();
            let mut wishes = beside(&cloud, w);
            wishes.retain(|spot| {
                let own = gap(spot, &cloud);
                others.iter().all(|o| own + NEARER <= gap(spot, o))
            });
            wishes
        };
        if let Some(at) = placer.place_free(&wishes, plot) {
            out.push(Label {
                name: own.name,
                colour: own.colour,
                at: (at.x, at.y + 11.5),
            });
        }
    }
    out
}

/// Boxes over and under the middle parts of a line.
fn along(path: &[Point], w: f64) -> Vec<Area> {
    let spot = |at: Point, dx: f64, dy: f64| Area {
        x: at.0 + dx,
        y: at.1 + dy,
        w,
        h: HIGH,
    };
    (2..9)
        .filter_map(|k| path.get(path.len() * k / 10).copied())
        .flat_map(|at| {
            [
                spot(at, 8.0, -HIGH - 3.0),
                spot(at, -w - 8.0, 4.0),
                spot(at, 8.0, 4.0),
                spot(at, -w - 8.0, -HIGH - 3.0),
                spot(at, -w / 2.0, -HIGH - 12.0),
                spot(at, -w / 2.0, 12.0),
            ]
        })
        .collect()
}

/// Boxes around a cloud of points.
fn beside(cloud: &Area, w: f64) -> Vec<Area> {
    let (middle, centre) = (cloud.x + cloud.w / 2.0, cloud.y + cloud.h / 2.0);
    let spot = |x: f64, y: f64| Area { x, y, w, h: HIGH };
    let mut wishes = Vec::new();
    for far in [5.0, 14.0, 26.0] {
        let (left, right) = (cloud.x - w - far, cloud.right() + far);
        let (over, under) = (cloud.y - HIGH - far, cloud.bottom() + far);
        wishes.extend([
            spot(right, centre - HIGH / 2.0),
            spot(left, centre - HIGH / 2.0),
            spot(middle - w / 2.0, over),
            spot(middle - w / 2.0, under),
            spot(cloud.x, over),
            spot(cloud.right() - w, over),
            spot(cloud.x, under),
            spot(cloud.right() - w, under),
            spot(right, over),
            spot(left, under),
        ]);
    }
    wishes
}

/// Distance between two boxes; 0 where they touch.
fn gap(a: &Area, b: &Area) -> f64 {
    let x = (b.x - a.right()).max(a.x - b.right()).max(0.0);
    let y = (b.y - a.bottom()).max(a.y - b.bottom()).max(0.0);
    x.hypot(y)
}

fn around(points: &[Point]) -> Option<Area> {
    let first = points.first()?;
    let (mut low, mut high) = (*first, *first);
    for p in points {
        low = (low.0.min(p.0), low.1.min(p.1));
        high = (high.0.max(p.0), high.1.max(p.1));
    }
    // With the markers' own size.
    Some(Area {
        x: low.0 - 4.0,
        y: low.1 - 4.0,
        w: high.0 - low.0 + 8.0,
        h: high.1 - low.1 + 8.0,
    })
}
