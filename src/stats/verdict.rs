//! Did the gain carry over? The verdict from intervals alone.

/// Closed interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    pub low: f64,
    pub high: f64,
}

/// All that a verdict rests on. Gains are fractions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// Observed gain, same pack, 95 %; `None` if not estimable.
    pub same_pack: Option<Interval>,
    /// The same at 90 %.
    pub same_pack_90: Option<Interval>,
    /// Observed gain at the same terminal voltage, 95 %.
    pub same_terminal_voltage: Option<Interval>,
    /// Smallest gain that matters, > 0.
    pub margin: f64,
    /// Reference band with its uncertainty: the lower limit of the lower end to the upper limit of
    /// the upper end.
    pub band: Option<Interval>,
    /// Static gain, 95 %.
    pub static_gain: Option<Interval>,
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
    /// The interval is too wide for any verdict.
    TooWide,
    /// A real gain, but no static gain or reference band to hold it against.
    NoReference,
}

/// The verdicts of the design in their order: equivalence and "worse" on the gain as on the same
/// pack, the comparison with the reference band on the gain at the same terminal voltage.
pub fn verdict(evidence: &Evidence) -> Verdict {
    let (Some(pack), Some(pack90)) = (evidence.same_pack, evidence.same_pack_90) else {
        return Verdict::NotSettled(NotSettled::NotEstimable);
    };
    let m = evidence.margin;
    if -m < pack90.low && pack90.high < m {
        return Verdict::NoDifferenceThatMatters {
            real: pack.low > 0.0 || pack.high < 0.0,
        };
    }
    if pack.high < 0.0 {
        return Verdict::Worse;
    }
    if evidence
        .static_gain
        .is_some_and(|g| g.low <= 0.0 && 0.0 <= g.high)
    {
        return Verdict::NothingToCarry {
            faster: pack.low > 0.0,
        };
    }
    let Some(gain) = evidence.same_terminal_voltage else {
        return Verdict::NotSettled(NotSettled::NotEstimable);
    };
    match evidence.band {
        _ if gain.low <= 0.0 => Verdict::NotSettled(NotSettled::TooWide),
        None => Verdict::NotSettled(NotSettled::NoReference),
        Some(band) if gain.low > band.high => Verdict::MoreThanTheReferenceCases,
        Some(band) if gain.high < band.low => Verdict::PartlyCarriedOver,
        Some(_) => Verdict::CarriedOver,
    }
}
