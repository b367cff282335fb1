//! Building the series of a picture.

use crate::findings::figure::{Across, Axis, AxisRange, Line, Mark, Panel, Plot, Points};

impl Line {
    pub fn new(label: &str, colour: u32) -> Self {
        Self {
            label: label.to_owned(),
            colour,
            x: Vec::new(),
            y: Vec::new(),
            low: None,
            high: None,
        }
    }

    pub fn push(&mut self, x: f64, y: f64) {
        self.x.push(x);
        self.y.push(y);
    }

    /// A point with its band; a line has a band at every point or at none.
    pub fn push_band(&mut self, x: f64, y: f64, low: f64, high: f64) {
        self.push(x, y);
        self.low.get_or_insert_default().push(low);
        self.high.get_or_insert_default().push(high);
    }
}

impl Points {
    pub fn new(label: &str, colour: u32) -> Self {
        Self {
            label: label.to_owned(),
            colour,
            x: Vec::new(),
            y: Vec::new(),
            low: Vec::new(),
            high: Vec::new(),
        }
    }

    pub fn push(&mut self, x: f64, y: f64, low: Option<f64>, high: Option<f64>) {
        self.x.push(x);
        self.y.push(y);
        self.low.push(low);
        self.high.push(high);
    }
}

/// Points of one series that are drawn at most: more hide one another.
const MOST_POINTS: usize = 1_500;
/// Lines of one kind that are drawn at most.
pub const MOST_LINES: usize = 60;

/// Every so many, so that `most` are left; all where there are no more.
pub fn evenly(count: usize, most: usize) -> impl Iterator<Item = usize> {
    let step = count.div_ceil(most).max(1);
    (0..count).step_by(step)
}

/// Thins series of very many points evenly, the outermost kept; what to say of it.
pub fn thin<'a>(series: impl Iterator<Item = &'a mut Points>) -> String {
    let (mut drawn, mut all) = (0, 0);
    for points in series {
        all += points.x.len();
        points.thin();
        drawn += points.x.len();
    }
    if drawn == all {
        return String::new();
    }
    format!(" Of {all} points {drawn} are drawn, evenly taken and the outermost among them.")
}

impl Points {
    fn thin(&mut self) {
        if self.x.len() <= MOST_POINTS {
            return;
        }
        let mut keep: Vec<usize> = evenly(self.x.len(), MOST_POINTS).collect();
        for values in [&self.x, &self.y] {
            let by = |a: &usize, b: &usize| values[*a].total_cmp(&values[*b]);
            keep.extend((0..values.len()).min_by(by));
            keep.extend((0..values.len()).max_by(by));
        }
        keep.sort_unstable();
        keep.dedup();
        let kept = |values: &[f64]| keep.iter().map(|&i| values[i]).collect();
        (self.x, self.y) = (kept(&self.x), kept(&self.y));
        let kept = |values: &[Option<f64>]| keep.iter().map(|&i| values[i]).collect();
        (self.low, self.high) = (kept(&self.low), kept(&self.high));
    }
}

impl Panel {
    pub fn new(x: Axis, y: Axis) -> Self {
        Self {
            x,
            y,
            lines: Vec::new(),
            points: Vec::new(),
        }
    }

    /// Adds a line unless it is empty.
    pub fn add(&mut self, line: Line) {
        if !line.x.is_empty() {
            self.lines.push(line);
        }
    }

    /// Adds points unless there are none.
    pub fn scatter(&mut self, points: Points) {
        if !points.x.is_empty() {
            self.points.push(points);
        }
    }

    pub fn is_empty(&self) -> bool {
        self.lines.is_empty() && self.points.is_empty()
    }
}

impl Plot {
    pub fn new(title: &str, x: (Axis, AxisRange), y: (Axis, AxisRange)) -> Self {
        Self {
            title: title.to_owned(),
            x: x.0,
            y: y.0,
            x_range: x.1,
            y_range: y.1,
            lines: Vec::new(),
            points: Vec::new(),
            marks: Vec::new(),
        }
    }

    /// Adds a labelled straight line.
    pub fn mark(&mut self, label: &str, at: f64, across: Across) {
        self.marks.push(Mark {
            label: label.to_owned(),
            at,
            across,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_points_are_thinned_to_some_and_keep_their_outermost() {
        let mut few = Points::new("few", 0);
        let mut many = Points::new("many", 0);
        for i in 0..10_001 {
            let x = f64::from(i);
            let y = if i == 4_321 { 9.0 } else { (0.1 * x).sin() };
            many.push(x, y, Some(y - 1.0), None);
            if i < 100 {
                few.push(x, y, None, None);
            }
        }
        let was = few.clone();
        assert_eq!(thin([&mut few].into_iter()), "");
        assert_eq!(few, was);
        let said = thin([&mut few, &mut many].into_iter());
        assert!(said.starts_with(&format!(" Of 10101 points {} are", 100 + many.x.len())));
        assert!(many.x.len() <= MOST_POINTS + 4 && many.x.len() > MOST_POINTS / 2);
        assert_eq!((many.x[0], many.x[many.x.len() - 1]), (0.0, 10_000.0));
        let place = many.y.iter().position(|y| *y == 9.0).unwrap();
        assert_eq!((many.x[place], many.low[place]), (4_321.0, Some(8.0)));
    }
}
