//! Every row of the verdict table, and what decides between neighbouring rows.

use benchborne::stats::mover::Bounds;
use benchborne::stats::verdict::{Evidence, NotSettled, Verdict, verdict};

use super::close;

/// value ± half at 95 %, in per cent; the 90 % limits of a normal estimate.
fn percent(value: f64, half: f64) -> Bounds {
    Bounds::from_u(0.01 * value, 0.01 * half / 1.959963984540054, f64::INFINITY)
}

/// The same gain under both conditions, margin 2 %, band 3.5 ± 0.5 to 4.5 ± 0.5 %.
fn evidence(gain: Bounds) -> Evidence {
    Evidence {
        same_pack: Some(gain),
        compared: Some(gain),
        margin: 0.02,
        band: Some((percent(3.5, 0.5), percent(4.5, 0.5))),
        static_gain: Some((0.06, 0.10)),
    }
}

fn of(value: f64, half: f64) -> Verdict {
    verdict(&evidence(percent(value, half)))
}

#[test]
fn not_estimable() {
    let nothing = Evidence {
        same_pack: None,
        ..evidence(percent(4.0, 1.0))
    };
    assert_eq!(
        verdict(&nothing),
        Verdict::NotSettled(NotSettled::NotEstimable)
    );
}

#[test]
fn no_difference_that_matters() {
    assert_eq!(
        of(0.3, 1.5),
        Verdict::NoDifferenceThatMatters { real: false }
    );
    assert_eq!(
        of(1.2, 0.5),
        Verdict::NoDifferenceThatMatters { real: true }
    );
    assert_eq!(
        of(-1.2, 0.5),
        Verdict::NoDifferenceThatMatters { real: true }
    );
    // 95 % limit at 2.1 %, 90 % limit at 1.98 %: two one-sided tests at 5 % are passed.
    assert_eq!(
        of(1.34, 0.76),
        Verdict::NoDifferenceThatMatters { real: true }
    );
    // It is the same-pack gain that counts here.
    let mut on_pack = evidence(percent(0.3, 1.0));
    on_pack.compared = Some(percent(4.0, 1.0));
    assert_eq!(
        verdict(&on_pack),
        Verdict::NoDifferenceThatMatters { real: false }
    );
}

#[test]
fn worse() {
    assert_eq!(of(-3.0, 1.0), Verdict::Worse);
    // "No difference that matters" comes first, and only a margin that small makes it worse.
    let mut strict = evidence(percent(-1.2, 0.5));
    strict.margin = 0.01;
    assert_eq!(verdict(&strict), Verdict::Worse);
}

#[test]
fn nothing_to_carry() {
    let mut none = evidence(percent(4.0, 1.0));
    none.static_gain = Some((-0.01, 0.05));
    assert_eq!(verdict(&none), Verdict::NothingToCarry { faster: true });
    none.same_pack = Some(percent(2.0, 3.0));
    assert_eq!(verdict(&none), Verdict::NothingToCarry { faster: false });
}

#[test]
fn more_than_the_reference_cases() {
    assert_eq!(of(7.0, 1.0), Verdict::MoreThanTheReferenceCases);
    // 5.65 ± 1.0 over 4.5 ± 0.5: the difference 1.15 ± hypot(1, 0.5) = 1.118 is above zero,
    assert_eq!(of(5.65, 1.0), Verdict::MoreThanTheReferenceCases);
    // 1.1 ± 1.118 is not.
    assert_eq!(of(5.6, 1.0), Verdict::CarriedOver);
}

#[test]
fn partly_carried_over() {
    assert_eq!(of(2.2, 0.9), Verdict::PartlyCarriedOver);
    // 3.5 ± 0.5 less 2.45 ± 1.0 may be nothing.
    assert_ne!(of(2.45, 1.0), Verdict::PartlyCarriedOver);
    // A bench that knows less settles less.
    let mut vague = evidence(percent(2.2, 0.9));
    vague.band = Some((percent(3.5, 2.0), percent(4.5, 2.0)));
    assert_eq!(
        verdict(&vague),
        Verdict::NotSettled(NotSettled::HowMuchIsOpen)
    );
}

#[test]
fn carried_over() {
    assert_eq!(of(4.0, 1.0), Verdict::CarriedOver);
    assert_eq!(of(3.5, 1.5), Verdict::CarriedOver);
    // The band is held against the gain at the same terminal voltage.
    let mut by_voltage = evidence(percent(2.2, 0.9));
    by_voltage.compared = Some(percent(3.8, 0.9));
    assert_eq!(verdict(&by_voltage), Verdict::CarriedOver);
}

#[test]
fn not_settled() {
    assert_eq!(of(2.0, 3.0), Verdict::NotSettled(NotSettled::TooWide));
    assert_eq!(of(0.0, 9.0), Verdict::NotSettled(NotSettled::TooWide));
    // A real gain, all of it or half of it.
    assert_eq!(of(3.0, 2.5), Verdict::NotSettled(NotSettled::HowMuchIsOpen));
    let mut no_bench = evidence(percent(4.0, 1.0));
    no_bench.band = None;
    no_bench.static_gain = None;
    assert_eq!(
        verdict(&no_bench),
        Verdict::NotSettled(NotSettled::NoReference)
    );
    let mut no_voltage = evidence(percent(4.0, 1.0));
    no_voltage.compared = None;
    assert_eq!(
        verdict(&no_voltage),
        Verdict::NotSettled(NotSettled::NoReference)
    );
}

/// For normal estimates the method is the root of the sum of squares [D].
#[test]
fn difference_of_two_estimates() {
    let d = Bounds::from_u(5.0, 0.3, f64::INFINITY).minus(&Bounds::from_u(3.0, 0.4, f64::INFINITY));
    let expected = Bounds::from_u(2.0, 0.5, f64::INFINITY);
    for (got, expected) in [
        (d.value, expected.value),
        (d.low, expected.low),
        (d.high, expected.high),
        (d.low90, expected.low90),
        (d.high90, expected.high90),
    ] {
        close(got, expected, 1e-12);
    }
}
