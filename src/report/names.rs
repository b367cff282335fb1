//! Names of the report's files and of the places in its pages: safe as file stems and in links.

use super::words::stems;
use crate::findings::{Findings, FlightSheet};

/// File stems and anchors, each list in the order of what it names in the findings.
#[derive(Debug)]
pub struct Names {
    pub figures: Vec<String>,
    pub tables: Vec<String>,
    pub questions: Vec<String>,
    pub flights: Vec<String>,
    pub powers: Vec<String>,
    pub comparisons: Vec<String>,
}

impl Names {
    pub fn of(findings: &Findings) -> Self {
        Self {
            figures: stems(findings.figures.iter().map(|f| f.id.as_str())),
            tables: stems(findings.tables.iter().map(|t| t.id.as_str())),
            questions: stems(findings.questions.iter().map(|q| q.id.as_str())),
            flights: stems(findings.flights.iter().map(|f| f.id.as_str())),
            powers: stems(findings.powers.iter().map(|p| p.id.as_str())),
            comparisons: stems(findings.comparisons.iter().map(|c| c.id.as_str())),
        }
    }
}

/// Where a page stands: what leads from it to the report's folder.
#[derive(Debug, Clone, Copy)]
pub struct Place(pub &'static str);

impl Place {
    pub const SEASON: Self = Self("");
    pub const BELOW: Self = Self("../");

    pub fn figure(self, names: &Names, index: usize) -> Option<String> {
        let stem = names.figures.get(index)?;
        Some(format!("{}figures/{stem}.png", self.0))
    }

    pub fn flight(self, names: &Names, index: usize) -> Option<String> {
        let stem = names.flights.get(index)?;
        Some(format!("{}flights/{stem}.html", self.0))
    }

    pub fn power(self, names: &Names, index: usize) -> Option<String> {
        let stem = names.powers.get(index)?;
        Some(format!("{}power/{stem}.html", self.0))
    }

    pub fn comparison(self, names: &Names, index: usize) -> Option<String> {
        let stem = names.comparisons.get(index)?;
        Some(format!("{}comparisons/{stem}.html", self.0))
    }

    pub fn question(self, names: &Names, index: usize) -> Option<String> {
        let stem = names.questions.get(index)?;
        let page = if self.0.is_empty() {
            String::new()
        } else {
            format!("{}index.html", self.0)
        };
        Some(format!("{page}#question-{stem}"))
    }
}

/// Place of a flight in the findings, by its id.
pub fn flight_at(flights: &[FlightSheet], id: &str) -> Option<usize> {
    flights.iter().position(|f| f.id == id)
}
