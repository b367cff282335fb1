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
