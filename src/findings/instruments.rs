//! What each instrument was taken to be good for: every interval rests on it.

use crate::findings::answer::{DataCell, DataColumn, DataTable};
use crate::findings::evidence::Evidence;
use crate::season::{Declared, channel};

/// Every declared or assumed instrument, a row for each quantity it measures.
pub(super) fn table(evidence: &Evidence) -> Option<DataTable> {
    let mut rows = Vec::new();
    for instrument in evidence.season.instruments.values() {
        for (measured, accuracy) in &instrument.measures {
            let unit = channel(measured).map_or("", |(_, quantity)| quantity.si());
            let origin = if accuracy.fraction.is_default {
                "assumed"
            } else {
                "declared"
            };
            let end = accuracy.range_end.map(|v| in_words(v, unit));
            let notes = if accuracy.peak_hold {
                "holds the peak"
            } else {
                ""
            };
            rows.push(vec![
                DataCell::Text(instrument.name.clone()),
                DataCell::Text(measured.replace('_', " ")),
                DataCell::Number(accuracy.fraction.value),
                DataCell::Text(origin.to_owned()),
                DataCell::text(known(accuracy.absolute, unit).as_deref()),
                DataCell::text(known(accuracy.resolution, unit).as_deref()),
                DataCell::text(end.as_deref()),
                DataCell::Text(notes.to_owned()),
            ]);
        }
    }
    (!rows.is_empty()).then(|| DataTable {
        id: "instruments".to_owned(),
        title: "Instruments and the limits of their errors".to_owned(),
        columns: vec![
            DataColumn::new("instrument", "", 0),
            DataColumn::new("measures", "", 0),
            DataColumn::new("limit as a share of the reading", "1", 3),
            DataColumn::new("which is", "", 0),
            DataColumn::new("and absolute", "", 0),
            DataColumn::new("step of the display", "", 0),
            DataColumn::new("ends at", "", 0),
            DataColumn::new("remarks", "", 0),
        ],
        rows,
    })
}

fn known(limit: Declared, unit: &str) -> Option<String> {
    (limit.value > 0.0).then(|| in_words(limit.value, unit))
}

/// Three significant digits, with the unit.
fn in_words(value: f64, unit: &str) -> String {
    let digits = (2.0 - value.abs().log10().floor()).clamp(0.0, 6.0) as usize;
    let text = format!("{value:.digits$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    format!("{text} {unit}").trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::in_words;

    #[test]
    fn limits_are_written_short() {
        assert_eq!(in_words(0.05, "N"), "0.05 N");
        assert_eq!(in_words(72.2222, "m/s"), "72.2 m/s");
        assert_eq!(in_words(1500.0, "rad/s"), "1500 rad/s");
        assert_eq!(in_words(100.0, "A"), "100 A");
    }
}
