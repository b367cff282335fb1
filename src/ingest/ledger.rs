//! Every input row is used or set aside with file, line and reason.

use serde::{Deserialize, Serialize};

use super::log::Channel;

/// The account of one file: `rows_in == rows_used + rows_set_aside`, always (checked at run time).
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct FileLedger {
    pub file: String,
    /// Data rows in the file (header, preamble and blank lines are not rows).
    pub rows_in: u64,
    pub rows_used: u64,
    pub rows_set_aside: u64,
    pub reasons: Vec<Reason>,
    /// Values that count as absent although their rows are in use.
    #[serde(default)]
    pub marked: Vec<Marked>,
}

/// Values of one channel that cannot be used, for one reason.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Marked {
    /// Word of the channel, e.g. `ground_speed`.
    pub channel: String,
    /// Code of the finding that tells more, e.g. `spikes`.
    pub code: String,
    pub count: u64,
    /// 1-based line of the first.
    pub first_line: u64,
    pub what: String,
}

/// Why rows were set aside (their counts add up to `rows_set_aside`).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reason {
    /// Kebab-case code, e.g. `cut-off-row`.
    pub code: String,
    pub count: u64,
    /// 1-based line of the first such row.
    pub first_line: u64,
    pub what: String,
}

impl FileLedger {
    pub fn new(file: impl Into<String>) -> Self {
        Self {
            file: file.into(),
            ..Self::default()
        }
    }

    pub fn use_row(&mut self) {
        self.rows_in += 1;
        self.rows_used += 1;
    }

    /// Notes values of a channel that count as absent from here on.
    pub fn mark(&mut self, channel: Channel, code: &str, count: usize, line: u32, what: &str) {
        if count > 0 {
            self.marked.push(Marked {
                channel: channel.word().to_owned(),
                code: code.to_owned(),
                count: count as u64,
                first_line: u64::from(line),
                what: what.to_owned(),
            });
        }
    }

    /// Sets one row aside that was not counted before.
    pub fn set_aside(&mut self, code: &str, line: u64, what: &str) {
        self.rows_in += 1;
        self.rows_set_aside += 1;
        self.reason(code, line, what);
    }

    /// Moves one row that was counted as used to the rows set aside.
    pub fn withdraw(&mut self, code: &str, line: u64, what: &str) {
        self.rows_used -= 1;
        self.rows_set_aside += 1;
        self.reason(code, line, what);
    }

    /// Moves every row that was counted as used to the rows set aside; `line` is the first of them.
    pub fn withdraw_all(&mut self, code: &str, line: u64, what: &str) {
        let rows = std::mem::take(&mut self.rows_used);
        if rows > 0 {
            self.rows_set_aside += rows;
            self.reasons_for(rows, code, line, what);
        }
    }

    fn reason(&mut self, code: &str, line: u64, what: &str) {
        self.reasons_for(1, code, line, what);
    }

    fn reasons_for(&mut self, rows: u64, code: &str, line: u64, what: &str) {
        match self.reasons.iter_mut().find(|r| r.code == code) {
            Some(reason) => {
                reason.count += rows;
                reason.first_line = reason.first_line.min(line);
            }
            None => self.reasons.push(Reason {
                code: code.to_owned(),
                count: rows,
                first_line: line,
                what: what.to_owned(),
            }),
        }
    }

    /// The invariant that the run checks for every file: no row and no reason is lost, and no channel
    /// has more values marked for one reason than there are rows.
    pub fn balances(&self) -> bool {
        self.rows_in == self.rows_used + self.rows_set_aside
            && self.marked.iter().all(|m| m.count <= self.rows_in)
            && self.rows_set_aside == self.reasons.iter().map(|r| r.count).sum::<u64>()
    }
}
