//! What a pilot declares as acting on level top speed beside the fan, by flight.

use crate::findings::answer::Answer;
use crate::findings::evidence::{Evidence, counted, percent_interval};
use crate::findings::level_speeds::LevelSpeed;
use crate::findings::observed::Observed;
use crate::season::Covariate;
use crate::stats::estimate::Estimate;
use crate::stats::t_quantile;
use crate::store::FlightRow;

impl Covariate {
    /// In a sentence.
    pub fn words(self) -> &'static str {
        match self {
            Self::Temperature => "the air's temperature",
            Self::Pressure => "the air's pressure",
            Self::Density => "the air's density",
            Self::ChargeUsed => "the charge used before the passes",
            Self::Order => "the order within the day",
            Self::Wind => "the wind's speed",
        }
    }

    /// In the key of an estimate.
    pub fn key(self) -> &'static str {
        match self {
            Self::Temperature => "temperature",
            Self::Pressure => "pressure",
            Self::Density => "density",
            Self::ChargeUsed => "charge_used",
            Self::Order => "order",
            Self::Wind => "wind",
        }
    }

    /// The step that a slope is told for: its size in the unit of [`of_flight`], the same in words,
    /// and the UCUM code of the estimate's condition.
    pub fn step(self) -> (f64, &'static str, &'static str) {
        match self {
            Self::Temperature => (1.0, "1 degree", "K"),
            Self::Pressure => (100.0, "1 hPa", "Pa"),
            Self::Density => (0.01, "0.01 kg/m³", "kg/m3"),
            Self::ChargeUsed => (0.1, "10 % of the pack", "1"),
            Self::Order => (1.0, "one flight later in the day", "1"),
            Self::Wind => (1.0, "1 m/s", "m/s"),
        }
    }
}

/// The covariate of one flight, SI; `None` where nothing tells it or it is no finite number.
pub fn of_flight(evidence: &Evidence, flight: &FlightRow, covariate: Covariate) -> Option<f64> {
    let noted = || {
        evidence
            .season
            .logbook
            .iter()
            .find(|row| row.flight == flight.flight)
    };
    let value = match covariate {
        Covariate::Temperature => noted()?.temperature_k,
        Covariate::Pressure => noted()?.pressure_pa,
        Covariate::Density => Some(flight.density_kg_m3),
        Covariate::ChargeUsed => flight.pass_charge_used,
        Covariate::Order => Some(flight.order_in_day as f64),
        Covariate::Wind => Some(flight.wind_to_north_m_s?.hypot(flight.wind_to_east_m_s?)),
    };
    value.filter(|v| v.is_finite())
}

/// Splits off the flights that lack a declared covariate, and says so: (those that have all, one
/// remark for each covariate that is missing somewhere).
pub fn complete<'a>(
    evidence: &Evidence<'a>,
    speeds: Vec<LevelSpeed<'a>>,
    covariates: &[Covariate],
) -> (Vec<LevelSpeed<'a>>, Vec<String>) {
    let lacks = |speed: &LevelSpeed, c: Covariate| of_flight(evidence, speed.flight, c).is_none();
    let remarks = covariates
        .iter()
        .filter_map(|c| {
            let without: Vec<&str> = speeds
                .iter()
                .filter(|s| lacks(s, *c))
                .map(|s| s.flight.flight.as_str())
                .collect();
            (!without.is_empty()).then(|| {
                format!(
                    "{} left out of the comparison, since {} is declared as a covariate and is not \
                     known there ({}). Note it, or take it off the list of covariates.",
                    counted(without.len(), "flight"),
                    c.words(),
                    without.join(", ")
                )
            })
        })
        .collect();
    let kept = speeds
        .into_iter()
        .filter(|s| covariates.iter().all(|c| !lacks(s, *c)))
        .collect();
    (kept, remarks)
}

/// Adds the slope of each covariate to an answer, or why there is none.
pub fn record(answer: &mut Answer, observed: &Observed) {
    for (covariate, slope) in observed.covariates.iter().zip(&observed.gain.covariates) {
        let Some(slope) = slope else {
            answer.remarks.push(format!(
                "Nothing is left of {} beside the day and the airframe: the days take it up, so it \
                 changes nothing.",
                covariate.words()
            ));
            continue;
        };
        let (step, said, unit) = covariate.step();
        let half = t_quantile(0.975, slope.df as f64) * slope.se;
        let change = |per_unit: f64| (step * per_unit).exp_m1();
        let estimate = Estimate::interval(
            change(slope.value),
            change(slope.value - half),
            change(slope.value + half),
            0.95,
            "1",
            "slope of the covariate in the linear model of log level speed",
        )
        .count("flights", observed.speeds.len())
        .at("step", step, unit);
        answer.remarks.push(format!(
            "Held fixed in the comparison: {}. Level top speed changes by {} with {said}.",
            covariate.words(),
            percent_interval(&estimate)
        ));
        answer.estimates.insert(
            format!("level_speed_change_by_{}", covariate.key()),
            estimate,
        );
    }
}
