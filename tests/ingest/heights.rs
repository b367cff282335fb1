//! Metres or feet where no unit is written.

use super::{close, codes, table};
use benchborne::ingest::{Channel, Purpose, assign_channels};
use benchborne::season::ChannelMap;

/// Metres in a foot (exact; NIST SP 811, Appendix B).
const FOOT_M: f64 = 0.3048;

/// A flight with its true vertical speed, heights in units of `unit` metres.
fn flight(head: &str, unit: f64, other: impl Fn(f64, f64) -> String) -> String {
    let (mut text, mut height) = (format!("{head}\n"), 0.0);
    for i in 0..300 {
        let climb = 4.0 * (i as f64 / 20.0).sin();
        text += &format!(
            "{:.1},{},{:.2}\n",
            0.2 * i as f64,
            other(climb, height),
            300.0 + height / unit
        );
        height += 0.2 * climb;
    }
    text
}

fn factor(text: &str) -> (f64, Vec<String>) {
    let assignment = assign_channels(&table(text), &ChannelMap::new(), Purpose::Log);
    let height = assignment.get(Channel::Height).unwrap().clone();
    let codes = codes(&assignment.findings)
        .into_iter()
        .map(str::to_owned)
        .collect();
    (height.factor, codes)
}

#[test]
fn a_vertical_speed_tells_feet_from_metres() {
    for (unit, head) in [
        (1.0, "time_s,Vario (m/s),Alt"),
        (FOOT_M, "time_s,Vario (m/s),Alt"),
    ] {
        let (found, codes) = factor(&flight(head, unit, |climb, _| format!("{climb:.2}")));
        close(found, unit);
        assert!(codes.contains(&"unit-found".to_owned()), "{codes:?}");
    }
    let in_feet = flight("time_s,Vario (ft/min),Alt", FOOT_M, |climb, _| {
        format!("{:.0}", climb / FOOT_M * 60.0)
    });
    close(factor(&in_feet).0, FOOT_M);
}

#[test]
fn another_height_with_a_unit_tells_feet_from_metres() {
    let text = flight("time_s,relative alt (m),Alt", FOOT_M, |_, height| {
        format!("{height:.1}")
    });
    let (found, codes) = factor(&text);
    close(found, FOOT_M);
    assert!(codes.contains(&"unit-found".to_owned()), "{codes:?}");
}

#[test]
fn without_evidence_metres_are_taken_and_said_to_be_unsure() {
    let text = flight("time_s,U_V,Alt", 1.0, |climb, _| {
        format!("{:.2}", 16.0 + climb / 10.0)
    });
    let assignment = assign_channels(&table(&text), &ChannelMap::new(), Purpose::Log);
    let finding = assignment
        .findings
        .iter()
        .find(|f| f.code == "unit-assumed")
        .unwrap();
    assert!(finding.what.contains("unsure"), "{finding}");
    assert_eq!(
        finding.overrule.as_deref(),
        Some("height = { column = \"Alt\", unit = \"ft\" }")
    );
}
