//! Did the gain carry over? The verdict from intervals alone.

use super::mover::Bounds;

/// All that a verdict rests on. Gains are fractions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// Observed gain, same pack; `None` if not estimable.
    pub same_pack: Option<Bounds>,
    /// Observed gain to hold against the reference band: at the same terminal voltage, or as on the
    /// same pack where no flight logged a voltage (and then the band is for the same pack too).
    pub compared: Option<Bounds>,
    /// Smallest gain that matters, > 0.
    pub margin: f64,
    /// Lower and upper end of the reference band, each with its uncertainty.
    pub band: Option<(Bounds, Bounds)>,
    /// 95 % interval of the static gain.
    pub static_gain: Option<(f64, f64)>,
}

/// The verdict on carry-over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    NotSettled(NotSettled),
    /// Shown to be within the margin; `real` if it is also shown not to be zero.
    NoDifferenceThatMatters {
        real: bool,
    },
    Worse,
    MoreThanTheReferenceCases,
    PartlyCarriedOver,
    CarriedOver,
    /// The static gain itself may be nothing; `faster`: the flight difference is above zero.
    NothingToCarry {
        faster: bool,
    },
}

/// What keeps a question open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotSettled {
    /// The flights cannot tell the gain.
    NotEstimable,
    /// Neither a gain nor its absence is shown.
    TooWide,
    /// A real gain, but nothing to hold it against.
    NoReference,
    /// A real gain that may be all of the reference or fall short of it by more than matters.
    HowMuchIsOpen,
}

/// The verdicts in their order: equivalence and "worse" on the gain as on the same pack, the
/// comparison with the reference band on the gain at the same terminal voltage.
///
/// | verdict | when |
/// |---|---|
/// | no difference that matters | 90 % interval within ±margin (two one-sided tests at 5 %) |
/// | worse | 95 % interval below 0 |
/// | nothing to carry | the static gain's own 95 % interval includes 0 |
/// | more than the reference cases | gain − upper end: 95 % interval above 0 |
/// | partly carried over | gain above 0, and gain − lower end: 95 % interval below 0 |
/// | carried over | gain above 0, and gain − lower end above −margin (one-sided test at 5 %) |
/// | not settled | everything else |
///
/// That the interval merely *reaches* the band does not make it carried over: with few flights it
/// reaches everything. In trial (tests/stats/coverage.rs) that rule called gains that had carried
/// by half "carried over" in up to three seasons of four.
pub fn verdict(evidence: &Evidence) -> Verdict {
    let Some(pack) = evidence.same_pack else {
        return Verdict::NotSettled(NotSettled::NotEstimable);
    };
    let margin = evidence.margin;
    if -margin < pack.low90 && pack.high90 < margin {
        return Verdict::NoDifferenceThatMatters {
            real: pack.low > 0.0 || pack.high < 0.0,
        };
    }
    if pack.high < 0.0 {
        return Verdict::Worse;
    }
    if evidence
        .static_gain
        .is_some_and(|(low, high)| low <= 0.0 && 0.0 <= high)
    {
        return Verdict::NothingToCarry {
            faster: pack.low > 0.0,
        };
    }
    let gain = evidence.compared.unwrap_or(pack);
    if gain.low <= 0.0 {
        return Verdict::NotSettled(NotSettled::TooWide);
    }
    let (Some((low_end, high_end)), Some(_)) = (evidence.band, evidence.compared) else {
        return Verdict::NotSettled(NotSettled::NoReference);
    };
    let over_low = gain.minus(&low_end);
    if gain.minus(&high_end).low > 0.0 {
        Verdict::MoreThanTheReferenceCases
    } else if over_low.high < 0.0 {
        Verdict::PartlyCarriedOver
    } else if over_low.low90 > -margin {
        Verdict::CarriedOver
    } else {
        Verdict::NotSettled(NotSettled::HowMuchIsOpen)
    }
}
