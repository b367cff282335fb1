//! Colours, markers and dashes of the pictures: one place, one meaning throughout a report.
//!
//! A power system keeps its place in the palette. Hue alone never carries meaning: each place also has
//! its own marker and dash, and the lightness differs, so that a grey print still reads. Every colour
//! has a contrast of at least 4.5:1 on white (WCAG 2.2 asks 3:1 for graphics, 4.5:1 for the labels set
//! in the same colour), checked by a test.

/// Red, green, blue, 0..=255.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Colour(pub u8, pub u8, pub u8);

/// Marker shapes, in palette order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Marker {
    Circle,
    Square,
    Triangle,
    Diamond,
    Cross,
    Ring,
}

/// How a power system is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    pub colour: Colour,
    pub marker: Marker,
    /// Lengths on, off, ... in logical pixels; empty: solid.
    pub dash: &'static [f64],
}

pub const INK: Colour = Colour(0x22, 0x22, 0x20);
pub const QUIET: Colour = Colour(0x5c, 0x5c, 0x58);
pub const GRID: Colour = Colour(0xe4, 0xe4, 0xe0);
pub const AXIS: Colour = Colour(0x77, 0x77, 0x72);
pub const PAPER: Colour = Colour(0xff, 0xff, 0xff);
/// Shading of a band or of holds.
pub const SHADE: Colour = Colour(0xdd, 0xe3, 0xe6);
/// Second shading, for passes beside holds.
pub const SHADE_WARM: Colour = Colour(0xf3, 0xe0, 0xc2);

/// Ends of the tints of a map's cells.
const TINT_LOW: Colour = Colour(0xf1, 0xf4, 0xf5);
const TINT_HIGH: Colour = Colour(0x9f, 0xbf, 0xdd);

const LOOKS: [Look; 6] = [
    Look {
        colour: Colour(0x1c, 0x4f, 0x8c),
        marker: Marker::Circle,
        dash: &[],
    },
    Look {
        colour: Colour(0xc0, 0x50, 0x0c),
        marker: Marker::Square,
        dash: &[7.0, 3.0],
    },
    Look {
        colour: Colour(0x0a, 0x7d, 0x6c),
        marker: Marker::Triangle,
        dash: &[2.0, 2.5],
    },
    Look {
        colour: Colour(0x8a, 0x2f, 0x7e),
        marker: Marker::Diamond,
        dash: &[9.0, 3.0, 2.0, 3.0],
    },
    Look {
        colour: Colour(0x6d, 0x66, 0x14),
        marker: Marker::Cross,
        dash: &[4.0, 2.0],
    },
    Look {
        colour: Colour(0x4a, 0x4a, 0x4a),
        marker: Marker::Ring,
        dash: &[12.0, 4.0],
    },
];

/// The look at a place of the palette; places beyond its end start over.
pub fn look(place: u32) -> Look {
    LOOKS[place as usize % LOOKS.len()]
}

/// The tint of a map's cell at `share` (0..=1) of the range drawn; light enough for text in ink.
pub fn tint(share: f64) -> Colour {
    let share = if share.is_finite() {
        share.clamp(0.0, 1.0)
    } else {
        0.0
    };
    let between =
        |a: u8, b: u8| (f64::from(a) + share * (f64::from(b) - f64::from(a))).round() as u8;
    let (Colour(r0, g0, b0), Colour(r1, g1, b1)) = (TINT_LOW, TINT_HIGH);
    Colour(between(r0, r1), between(g0, g1), between(b0, b1))
}

impl Colour {
    pub fn hex(self) -> String {
        format!("#{:02x}{:02x}{:02x}", self.0, self.1, self.2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast after WCAG 2.2 (W3C Recommendation, "contrast ratio"), formula
    /// from memory of that page.
    fn luminance(c: Colour) -> f64 {
        let lin = |v: u8| {
            let v = f64::from(v) / 255.0;
            if v <= 0.04045 {
                v / 12.92
            } else {
                ((v + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * lin(c.0) + 0.7152 * lin(c.1) + 0.0722 * lin(c.2)
    }

    fn contrast(a: Colour, b: Colour) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn black_on_white_is_21_to_1() {
        assert!((contrast(Colour(0, 0, 0), PAPER) - 21.0).abs() < 1e-9);
    }

    #[test]
    fn every_colour_reads_as_a_label_on_paper_and_on_the_shadings() {
        for look in LOOKS {
            assert!(contrast(look.colour, PAPER) >= 4.5, "{look:?}");
            assert!(contrast(look.colour, SHADE) >= 3.0, "{look:?}");
            assert!(contrast(look.colour, SHADE_WARM) >= 3.0, "{look:?}");
        }
        for cell in [tint(0.0), tint(0.5), tint(1.0)] {
            assert!(contrast(INK, cell) >= 7.0);
            assert!(contrast(QUIET, cell) >= 3.0);
        }
        assert!(contrast(QUIET, PAPER) >= 4.5);
        assert!(contrast(AXIS, PAPER) >= 3.0);
    }

    #[test]
    fn neighbours_differ_in_marker_and_dash() {
        for (i, a) in LOOKS.iter().enumerate() {
            for b in &LOOKS[i + 1..] {
                assert_ne!(a.marker, b.marker);
                assert_ne!(a.dash, b.dash);
            }
        }
    }

    /// Seen with no red or no green cones (Viénot, Brettel & Mollon 1999, matrices from memory), the
    /// two colours that nearly every report uses stay apart: baseline and candidate.
    #[test]
    fn first_two_colours_survive_dichromacy() {
        let lin = |v: u8| (f64::from(v) / 255.0).powf(2.2);
        let see = |c: Colour, m: [[f64; 3]; 3]| {
            let rgb = [lin(c.0), lin(c.1), lin(c.2)];
            m.map(|row| row.iter().zip(rgb).map(|(a, b)| a * b).sum::<f64>())
        };
        let protan = [
            [0.11238, 0.88762, 0.0],
            [0.11238, 0.88762, 0.0],
            [0.00401, -0.00401, 1.0],
        ];
        let deutan = [
            [0.29275, 0.70725, 0.0],
            [0.29275, 0.70725, 0.0],
            [-0.02234, 0.02234, 1.0],
        ];
        for m in [protan, deutan] {
            let (a, b) = (see(LOOKS[0].colour, m), see(LOOKS[1].colour, m));
            let apart: f64 = a.iter().zip(b).map(|(x, y)| (x - y).abs()).sum();
            assert!(apart > 0.2, "{apart}");
        }
    }
}
