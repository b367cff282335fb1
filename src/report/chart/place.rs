//! Where direct labels go: the first of the wished places that touches nothing already on the paper.

use super::canvas::Point;

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    pub x: f64,
    pub y: f64,
    pub w: f64,
    pub h: f64,
}

impl Area {
    pub fn right(&self) -> f64 {
        self.x + self.w
    }

    pub fn bottom(&self) -> f64 {
        self.y + self.h
    }

    /// Area that two boxes share.
    pub fn shared(&self, other: &Area) -> f64 {
        let w = self.right().min(other.right()) - self.x.max(other.x);
        let h = self.bottom().min(other.bottom()) - self.y.max(other.y);
        w.max(0.0) * h.max(0.0)
    }

    /// Whether a straight line runs through it (Liang–Barsky clipping).
    fn is_crossed(&self, from: Point, to: Point) -> bool {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
        for (p, q) in [
            (-dx, from.0 - self.x),
            (dx, self.right() - from.0),
            (-dy, from.1 - self.y),
            (dy, self.bottom() - from.1),
        ] {
            if p == 0.0 {
                if q < 0.0 {
                    return false;
                }
            } else if p < 0.0 {
                enter = enter.max(q / p);
            } else {
                leave = leave.min(q / p);
            }
        }
        enter <= leave
    }
}

/// What is on the paper already.
#[derive(Debug, Clone, Default)]
pub struct Placer {
    boxes: Vec<Area>,
    lines: Vec<(Point, Point)>,
}

impl Placer {
    pub fn keep_off(&mut self, area: Area) {
        self.boxes.push(area);
    }

    pub fn keep_off_line(&mut self, points: &[Point]) {
        self.lines.extend(points.windows(2).map(|p| (p[0], p[1])));
    }

    /// The best of `wishes` (in order of liking) inside `frame`; it counts as taken afterwards.
    pub fn place(&mut self, wishes: &[Area], frame: &Area) -> Option<Area> {
        let best = wishes
            .iter()
            .map(|area| (self.clash(area, frame), *area))
            .reduce(|best, next| if next.0 < best.0 { next } else { best })?
            .1;
        self.boxes.push(best);
        Some(best)
    }

    /// The first of `wishes` that touches nothing; `None` where all do.
    pub fn place_free(&mut self, wishes: &[Area], frame: &Area) -> Option<Area> {
        let free = wishes
            .iter()
            .find(|area| self.clash(area, frame) < 1e-6)
            .copied()?;
        self.boxes.push(free);
        Some(free)
    }

    fn clash(&self, area: &Area, frame: &Area) -> f64 {
        let outside = area.w * area.h - area.shared(frame);
        let boxes: f64 = self.boxes.iter().map(|b| b.shared(area)).sum();
        let lines = self
            .lines
            .iter()
            .filter(|(from, to)| area.is_crossed(*from, *to))
            .count();
        4.0 * outside.max(0.0) + 2.0 * boxes + 20.0 * lines as f64
    }
}

/// Moves wished heights apart until neighbours are at least `gap` apart, within `low..=high`, keeping
/// their order. The answer is in the order of the wishes.
pub fn spread(wishes: &[f64], gap: f64, low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wishes.len()).collect();
    order.sort_by(|a, b| wishes[*a].total_cmp(&wishes[*b]));
    let mut out = wishes.to_vec();
    let mut floor = low;
    for &i in &order {
        out[i] = out[i].max(floor);
        floor = out[i] + gap;
    }
    let mut ceiling = high;
    for &i in order.iter().rev() {
        out[i] = out[i].min(ceiling);
        ceiling = out[i] - gap;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_avoid_what_is_there() {
        let frame = Area {
            x: 0.0,
            y: 0.0,
            w: 100.0,
            h: 100.0,
        };
        let label = |x: f64, y: f64| Area {
            x,
            y,
            w: 20.0,
            h: 10.0,
        };
        let mut placer = Placer::default();
        placer.keep_off_line(&[(0.0, 50.0), (100.0, 50.0)]);
        let first = placer.place(&[label(10.0, 45.0), label(10.0, 30.0)], &frame);
        assert_eq!(first, Some(label(10.0, 30.0)));
        let second = placer.place(&[label(15.0, 32.0), label(15.0, 70.0)], &frame);
        assert_eq!(second, Some(label(15.0, 70.0)));
    }

    #[test]
    fn spread_keeps_order_and_gap() {
        let out = spread(&[10.0, 11.0, 50.0, 98.0, 99.0], 12.0, 0.0, 100.0);
        for pair in out.windows(2) {
            assert!(pair[1] - pair[0] >= 12.0 - 1e-9, "{out:?}");
        }
        assert!(out[4] <= 100.0);
    }
}
