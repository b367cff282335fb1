//! Colours, markers and dashes of the pictures: one place, one meaning throughout a report.
//!
//! A power system keeps its place in the palette. Hue alone never carries meaning: each place also has
//! its own marker and dash, and the lightness differs, so that a grey print still reads. Every colour
//! has a contrast of at least 4.5:1 on white (WCAG 2.2 asks 3:1 for graphics, 4.5:1 for the labels set
//! in the same colour), checked by a test.

use crate::findings::{FAINT, NEUTRAL};

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
    /// Markers are outlines: single readings behind a system's own.
    pub hollow: bool,
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

/// Bar over what has the second shading, for grey prints.
pub const BARRED: Colour = Colour(0x85, 0x55, 0x06);

/// Ends of the tints of a map's cells.
const TINT_LOW: Colour = Colour(0xf1, 0xf4, 0xf5);
const TINT_HIGH: Colour = Colour(0x9f, 0xbf, 0xdd);

const LOOKS: [Look; 6] = [
    Look {
        colour: Colour(0x1c, 0x4f, 0x8c),
        marker: Marker::Circle,
        dash: &[],
        hollow: false,
    },
    Look {
        colour: Colour(0xc0, 0x50, 0x0c),
        marker: Marker::Square,
        dash: &[7.0, 3.0],
        hollow: false,
    },
    Look {
        colour: Colour(0x0a, 0x7d, 0x6c),
        marker: Marker::Triangle,
        dash: &[2.0, 2.5],
        hollow: false,
    },
    Look {
        colour: Colour(0xa3, 0x1f, 0xd9),
        marker: Marker::Diamond,
        dash: &[9.0, 3.0, 2.0, 3.0],
        hollow: false,
    },
    Look {
        colour: Colour(0x3b, 0x39, 0x08),
        marker: Marker::Cross,
        dash: &[4.0, 2.0],
        hollow: false,
    },
    Look {
        colour: Colour(0x4c, 0x06, 0x34),
        marker: Marker::Ring,
        dash: &[12.0, 4.0],
        hollow: false,
    },
];

/// What belongs to no power system: a trend, a bound, a line of equality.
const NEUTRAL_LOOKS: [Look; 2] = [
    Look {
        colour: INK,
        marker: Marker::Circle,
        dash: &[1.5, 3.0],
        hollow: false,
    },
    Look {
        colour: QUIET,
        marker: Marker::Ring,
        dash: &[10.0, 3.0, 1.5, 3.0],
        hollow: false,
    },
];

/// The look at a place of the palette; places beyond its end start over. See [`FAINT`] and [`NEUTRAL`].
pub fn look(place: u32) -> Look {
    if let Some(neutral) = place.checked_sub(NEUTRAL) {
        return NEUTRAL_LOOKS[neutral as usize % NEUTRAL_LOOKS.len()];
    }
    let own = LOOKS[(place % FAINT) as usize % LOOKS.len()];
    if place < FAINT {
        return own;
    }
    Look {
        hollow: true,
        ..own
    }
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

    /// Relative luminance and contrast ratio as WCAG 2.2 defines them (W3C Recommendation of
    /// 2023-10-05, section "Terms"; the formula from memory of that page).
    fn luminance(c: Colour) -> f64 {
        let [r, g, b] = linear(c);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    /// Linear light of an sRGB colour (IEC 61966-2-1).
    fn linear(c: Colour) -> [f64; 3] {
        [c.0, c.1, c.2].map(|v| {
            let v = f64::from(v) / 255.0;
            if v <= 0.04045 {
                v / 12.92
            } else {
                ((v + 0.055) / 1.055).powf(2.4)
            }
        })
    }

    fn contrast(a: Colour, b: Colour) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn black_on_white_is_21_to_1() {
        assert!((contrast(Colour(0, 0, 0), PAPER) - 21.0).abs() < 1e-9);
    }

    /// Ratios that colour pickers print for pairs everybody knows: pure red 4.00, pure blue 8.59,
    /// mid grey #777777 4.48 on white (values from memory, widely published).
    #[test]
    fn contrasts_of_well_known_pairs() {
        for (colour, known) in [
            (Colour(255, 0, 0), 4.00),
            (Colour(0, 0, 255), 8.59),
            (Colour(0x77, 0x77, 0x77), 4.48),
        ] {
            let found = contrast(colour, PAPER);
            assert!((found - known).abs() < 0.005, "{colour:?}: {found}");
        }
    }

    /// WCAG 2.2, SC 1.4.11: graphics that carry meaning have 3:1 against what they lie on; SC 1.4.3:
    /// words have 4.5:1. Pictures lie on white paper in either scheme, on screen and in print.
    #[test]
    fn every_colour_reads_as_a_label_on_paper_and_on_the_shadings() {
        let all = LOOKS.iter().chain(&NEUTRAL_LOOKS);
        for look in all {
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
        assert!(contrast(BARRED, PAPER) >= 3.0 && contrast(BARRED, SHADE_WARM) >= 3.0);
    }

    /// The white plate that a picture lies on stands out from the page in the dark scheme, whose paper
    /// is read from the style sheet.
    #[test]
    fn the_plate_stands_out_from_dark_paper() {
        let style = include_str!("../templates/style.css");
        let dark = style.split("prefers-color-scheme: dark").nth(1).unwrap();
        let hex = dark.split("--paper: #").nth(1).unwrap().get(..6).unwrap();
        let part = |i: usize| u8::from_str_radix(&hex[i..i + 2], 16).unwrap();
        let paper = Colour(part(0), part(2), part(4));
        assert!(contrast(paper, PAPER) >= 7.0, "{paper:?}");
    }

    /// In a grey print hue is gone: two systems then differ by marker and by dash, and passes from holds by
    /// the bar over their shading.
    #[test]
    fn looks_differ_in_marker_and_dash_whatever_their_colour() {
        for (i, a) in LOOKS.iter().enumerate() {
            for b in &LOOKS[i + 1..] {
                assert_ne!(a.marker, b.marker);
                assert_ne!(a.dash, b.dash);
            }
        }
        for a in &NEUTRAL_LOOKS {
            assert!(LOOKS.iter().all(|b| a.dash != b.dash));
        }
        // Holds and passes are told apart by the bar over a pass, not by their shadings.
        assert!(contrast(BARRED, SHADE) >= 3.0);
        // The pair that nearly every report shows differs in lightness as well.
        let grey = contrast(LOOKS[0].colour, LOOKS[1].colour);
        assert!(grey >= 1.5, "{grey}");
    }

    #[test]
    fn places_of_the_palette_mean_what_they_say() {
        assert_eq!(look(1), LOOKS[1]);
        assert_eq!(look(7), LOOKS[1]);
        let faint = look(FAINT + 1);
        assert!(faint.hollow && faint.colour == LOOKS[1].colour && faint.marker == LOOKS[1].marker);
        assert_eq!(look(NEUTRAL), NEUTRAL_LOOKS[0]);
        assert_eq!(look(NEUTRAL + 1), NEUTRAL_LOOKS[1]);
    }

    /// Seen with no red, no green or no blue cones the systems' colours stay apart: simulated by the
    /// matrices for linear sRGB at severity 1.0 of Machado, Oliveira & Fernandes, "A physiologically-based
    /// model for simulation of color vision deficiency", IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291
    /// (table of the authors' page, from memory). Distance in CIELAB (CIE 15, D65); 15 is a difference
    /// seen at a glance (common practice, no source).
    #[test]
    fn colours_survive_dichromacy() {
        let protan = [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ];
        let deutan = [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ];
        let tritan = [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ];
        for (name, seen) in [("protan", protan), ("deutan", deutan), ("tritan", tritan)] {
            // A grey stays the grey it is: each row of such a matrix sums to one.
            for row in seen {
                assert!((row.iter().sum::<f64>() - 1.0).abs() < 2e-6, "{name}");
            }
            let labs = LOOKS.map(|l| lab(see(seen, linear(l.colour))));
            for i in 0..LOOKS.len() {
                for k in i + 1..LOOKS.len() {
                    let apart = distance(labs[i], labs[k]);
                    assert!(apart >= 15.0, "{name}: {i} and {k} are {apart} apart");
                }
            }
        }
    }

    fn see(m: [[f64; 3]; 3], rgb: [f64; 3]) -> [f64; 3] {
        m.map(|row| {
            let sum: f64 = row.iter().zip(rgb).map(|(a, b)| a * b).sum();
            sum.clamp(0.0, 1.0)
        })
    }

    /// CIELAB of linear sRGB, white point D65.
    fn lab(rgb: [f64; 3]) -> [f64; 3] {
        let xyz = [
            [0.4124, 0.3576, 0.1805],
            [0.2126, 0.7152, 0.0722],
            [0.0193, 0.1192, 0.9505],
        ]
        .map(|row| row.iter().zip(rgb).map(|(a, b)| a * b).sum::<f64>());
        let f = |t: f64| {
            if t > (6.0_f64 / 29.0).powi(3) {
                t.cbrt()
            } else {
                t / (3.0 * (6.0_f64 / 29.0).powi(2)) + 4.0 / 29.0
            }
        };
        let [x, y, z] = [xyz[0] / 0.9505, xyz[1], xyz[2] / 1.089].map(f);
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
        a.iter()
            .zip(b)
            .map(|(x, y)| (x - y).powi(2))
            .sum::<f64>()
            .sqrt()
    }
}
