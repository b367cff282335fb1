//! What an earlier report in the same place says of this season.

use std::path::Path;

use crate::findings::Findings;
use crate::findings::margins::{self, EarlierReport};
use crate::season::Finding;

/// Carries on what the report in `out` must not let be forgotten. A file that is no report is left
/// alone, with a remark.
pub fn hold_against(findings: &mut Findings, out: &Path) {
    let Ok(bytes) = std::fs::read(out.join("findings.json")) else {
        return;
    };
    match serde_json::from_slice::<EarlierReport>(&bytes) {
        Ok(earlier) => margins::hold_against(findings, &earlier),
        Err(error) => findings.ledger.findings.push(
            Finding::note(
                "earlier-report-ignored",
                format!("the file that lies here is no report and was not looked at: {error}"),
                "It is replaced by this run\'s report.",
            )
            .in_file("findings.json"),
        ),
    }
}
