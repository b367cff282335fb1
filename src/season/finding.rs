//! The one type of a complaint: terminal, pages and JSON render the same value.

use std::fmt;

use serde::{Deserialize, Serialize};

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing; nothing was lost.
    Note,
    /// Something was set aside, widened or assumed; the rest runs.
    Warning,
    /// This input cannot be used; the rest of the season still runs.
    Error,
}

/// Where: file relative to the season folder, line and column counted from 1.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Place {
    pub file: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<u32>,
}

/// A complaint about an input, with what to do about it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// Stable kebab-case code, e.g. `unknown-airframe`.
    pub code: String,
    pub severity: Severity,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    pub what: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected: Option<String>,
    /// What the pilot can do.
    pub to_do: String,
    /// The source lines with a caret, for files people write by hand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub excerpt: Option<String>,
    /// The line of the season file under which the file would be read another way: every guess has
    /// one.
    #[serde(skip)]
    pub overrule: Option<String>,
}

impl Finding {
    pub fn new(
        severity: Severity,
        code: &str,
        what: impl Into<String>,
        to_do: impl Into<String>,
    ) -> Self {
        Self {
            code: code.to_owned(),
            severity,
            place: None,
            what: what.into(),
            expected: None,
            to_do: to_do.into(),
            excerpt: None,
            overrule: None,
        }
    }
    pub fn error(code: &str, what: impl Into<String>, to_do: impl Into<String>) -> Self {
        Self::new(Severity::Error, code, what, to_do)
    }
    pub fn warning(code: &str, what: impl Into<String>, to_do: impl Into<String>) -> Self {
        Self::new(Severity::Warning, code, what, to_do)
    }
    pub fn note(code: &str, what: impl Into<String>, to_do: impl Into<String>) -> Self {
        Self::new(Severity::Note, code, what, to_do)
    }
    pub fn in_file(mut self, file: impl Into<String>) -> Self {
        self.place = Some(Place {
            file: file.into(),
            line: None,
            column: None,
        });
        self
    }
    pub fn at(mut self, file: impl Into<String>, line: u32, column: Option<u32>) -> Self {
        self.place = Some(Place {
            file: file.into(),
            line: Some(line),
            column,
        });
        self
    }
    pub fn expected(mut self, expected: impl Into<String>) -> Self {
        self.expected = Some(expected.into());
        self
    }
    pub fn excerpt(mut self, excerpt: impl Into<String>) -> Self {
        self.excerpt = Some(excerpt.into());
        self
    }
    pub fn overruled_by(mut self, line: impl Into<String>) -> Self {
        self.overrule = Some(line.into());
        self
    }
}

/// Findings with every field in its place, for forms without field names: what the program keeps for
/// itself from one run to the next.
pub mod whole {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use super::{Finding, Place, Severity};

    type At = (String, Option<u32>, Option<u32>);
    type Whole = (
        String,
        Severity,
        Option<At>,
        String,
        Option<String>,
        String,
        Option<String>,
        Option<String>,
    );

    pub fn serialize<S: Serializer>(findings: &[Finding], to: S) -> Result<S::Ok, S::Error> {
        let whole = |f: &Finding| -> Whole {
            let f = f.clone();
            let at = f.place.map(|p| (p.file, p.line, p.column));
            (
                f.code, f.severity, at, f.what, f.expected, f.to_do, f.excerpt, f.overrule,
            )
        };
        findings
            .iter()
            .map(whole)
            .collect::<Vec<Whole>>()
            .serialize(to)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Finding>, D::Error> {
        let whole = Vec::<Whole>::deserialize(from)?;
        let finding = |(code, severity, at, what, expected, to_do, excerpt, overrule): Whole| {
            let place = at.map(|(file, line, column)| Place { file, line, column });
            Finding {
                code,
                severity,
                place,
                what,
                expected,
                to_do,
                excerpt,
                overrule,
            }
        };
        Ok(whole.into_iter().map(finding).collect())
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
            if let Some(column) = self.column {
                write!(f, ":{column}")?;
            }
        }
        Ok(())
    }
}

/// Text with control characters made visible: a name, a cell or a header may hold any, and none of them
/// is to steer a terminal or to break a line.
pub fn clean(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { '·' } else { c })
        .collect()
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let severity = match self.severity {
            Severity::Note => "note",
            Severity::Warning => "warning",
            Severity::Error => "error",
        };
        write!(f, "{severity}[{}]: ", self.code)?;
        if let Some(place) = &self.place {
            write!(f, "{}: ", clean(&place.to_string()))?;
        }
        write!(f, "{}", clean(&self.what))?;
        if let Some(expected) = &self.expected {
            write!(f, "; expected {}", clean(expected))?;
        }
        write!(f, ". {}", clean(&self.to_do))?;
        for line in self.excerpt.iter().flat_map(|e| e.split('\n')) {
            let cells: Vec<String> = line.split('\t').map(clean).collect();
            write!(f, "\n{}", cells.join("\t"))?;
        }
        Ok(())
    }
}
