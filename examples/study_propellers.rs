//! The reference cases against open propellers in a wind tunnel: reads a table of coefficients (see
//! `tests/propeller_pairs.rs` for its columns) and prints how often the truth lies in the band.
//!
//! The table behind the figures in `physics::reference` is not part of the project: its licence is
//! not stated. `scripts/study-propellers FILE` runs this on a table you have.

#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "../tests/propeller_pairs.rs"]
mod propeller_pairs;

use benchborne::stats::median;
use propeller_pairs::{Pair, pairs, read, shares};

/// Drag area over disk area: from a clean jet to a draggy one.
const DRAG_OVER_DISK: [f64; 4] = [0.1, 0.2, 0.4, 0.8];
/// Pitches that differ by any factor, and by 5 % at most.
const PITCH: [(&str, f64); 2] = [("any", f64::INFINITY), ("alike", 0.05)];

fn main() {
    let Some(text) = std::env::args()
        .nth(1)
        .and_then(|path| std::fs::read_to_string(path).ok())
    else {
        eprintln!("Name a table of propeller coefficients.");
        return;
    };
    let propellers = read(&text);
    println!("{} propellers", propellers.len());
    println!("pitch,drag_over_disk,pairs,below,within,above,median_thrust_gain,median_speed_gain");
    for (words, pitch) in PITCH {
        for drag in DRAG_OVER_DISK {
            let found = pairs(&propellers, drag, pitch);
            let (below, within, above) = shares(&found);
            let middle =
                |pick: fn(&Pair) -> f64| median(&found.iter().map(pick).collect::<Vec<_>>());
            println!(
                "{words},{drag},{},{below:.2},{within:.2},{above:.2},{:.3},{:.3}",
                found.len(),
                middle(|p| p.thrust_gain),
                middle(|p| p.speed_gain)
            );
        }
    }
}
