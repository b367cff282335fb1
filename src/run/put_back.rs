//! The scale of a current sensor by the charge put back: weighed where the two can both be right,
//! refused where they cannot.

use super::folder::PlannedFlight;
use super::shelf::Shelved;
use crate::flight::energy::{
    PutBackRefused, ScaleEstimate, put_back_outliers, put_back_refused, put_back_scale,
};
use crate::flight::phases::{Phase, PhaseSpan};
use crate::flight::record::Survey;
use crate::season::{Finding, LogbookRow, Season};
use crate::stats;
use crate::units::MAH;

/// Flights with both a logged charge and a put-back from which a sensor's scale is taken, at least.
const PUT_BACK_FLIGHTS: usize = 3;

/// Corrects each log source's current sensor by what the charger put back; what each flight's current
/// was multiplied by.
pub fn calibrate(
    season: &Season,
    surveys: &mut [(PlannedFlight, Survey)],
    shelves: &mut [Shelved],
    complaints: &mut Vec<Finding>,
) -> Vec<Option<f64>> {
    let mut scales = vec![None; surveys.len()];
    for (index, source) in season.logs.iter().enumerate() {
        // The merged log bears the name of the power log: a separate track has no current sensor.
        let of_source = |planned: &PlannedFlight, survey: &Survey| {
            survey.log.as_ref().is_some_and(|log| {
                planned
                    .files
                    .iter()
                    .any(|f| f.source == Some(index) && f.name == log.file)
            })
        };
        let paired: Vec<usize> = (0..surveys.len())
            .filter(|i| {
                let (planned, survey) = &surveys[*i];
                // A record with gaps or a torn end counted less than was drawn.
                of_source(planned, survey) && survey.has_current() && whole(survey)
            })
            .filter(|i| surveys[*i].0.row.put_back_c.is_some_and(|c| c > 0.0))
            .collect();
        let pair = |(planned, survey): &(PlannedFlight, Survey)| {
            let logged = survey
                .draw
                .as_ref()
                .map_or(f64::NAN, |d| d.charge_mah.value);
            let back = planned.row.put_back_c.unwrap_or(f64::NAN);
            (logged * MAH, back)
        };
        let all: Vec<(f64, f64)> = paired.iter().map(|i| pair(&surveys[*i])).collect();
        let outliers = put_back_outliers(&all);
        for n in &outliers {
            let row = &mut surveys[paired[*n]].0.row;
            complaints.push(outlier(row, all[*n]));
            row.put_back_c = None;
        }
        let kept = |n: &usize| !outliers.contains(n);
        let pairs: Vec<(f64, f64)> = (0..all.len()).filter(kept).map(|n| all[n]).collect();
        let declared: Vec<f64> = surveys
            .iter()
            .filter(|(planned, survey)| of_source(planned, survey) && survey.has_current())
            .filter_map(|(_, survey)| survey.draw.as_ref())
            .map(|d| (d.charge_mah.value - d.charge_mah.low) / (2.0 * d.charge_mah.value))
            .filter(|u| u.is_finite())
            .collect();
        if pairs.is_empty() || declared.is_empty() {
            continue;
        }
        let sensor_u = stats::median(&declared);
        if let Some(refused) = put_back_refused(&pairs, sensor_u) {
            complaints.push(contradicted(&source.files, &refused));
            for i in paired {
                surveys[i].0.row.put_back_c = None;
            }
            continue;
        }
        if pairs.len() < PUT_BACK_FLIGHTS {
            continue;
        }
        let Some(scale) = put_back_scale(&pairs, sensor_u).map(ScaleEstimate::as_told) else {
            continue;
        };
        complaints.push(
            Finding::note(
                "current-calibrated",
                format!(
                    "the current sensor behind '{}' is scaled by {:.3} ± {:.3}: after {} flights the \
                     charger put back {:.3} of what was logged, weighed against the sensor's own \
                     accuracy",
                    source.files,
                    scale.scale,
                    2.0 * scale.relative_u * scale.scale,
                    scale.flights,
                    scale.put_back_over_logged
                ),
                "Blank the put-back column to use the sensor as it is.",
            )
            .in_file("logbook.csv"),
        );
        let flights = surveys.iter_mut().zip(shelves.iter_mut()).zip(&mut scales);
        for (((planned, survey), shelved), own) in flights {
            if of_source(planned, survey) && survey.has_current() {
                survey.calibrate(&scale);
                shelved.scale_current(scale.scale);
                *own = Some(scale.scale);
            }
        }
    }
    scales
}

/// What may be wrong where charger and sensor do not agree.
const PUT_BACK_SUSPECTS: &str = "a pack charged for storage (or from it), two packs on one line, another \
    pack than the logbook names, a cell in the wrong row, the charger, or the sensor";

fn outlier(row: &LogbookRow, (logged, back): (f64, f64)) -> Finding {
    Finding::warning(
        "put-back-outlier",
        format!(
            "flight '{}': {:.0} mAh put back is {:.2} of what was logged, unlike the other flights; it \
             is left out",
            row.flight,
            back / MAH,
            back / logged
        ),
        format!("Look for {PUT_BACK_SUSPECTS}; or blank the cell."),
    )
    .at("logbook.csv", row.line, row.put_back_column)
}

fn contradicted(files: &str, refused: &PutBackRefused) -> Finding {
    Finding::warning(
        "put-back-contradicts",
        format!(
            "after {} flight(s) logged by '{files}' the charger put back {:.2} of what was logged; the \
             sensor's and the charger's accuracy together explain {:.2} to {:.2}. The sensor is used as \
             it is, with its own accuracy, and these put-backs are used for nothing",
            refused.flights,
            refused.put_back_over_logged,
            refused.explained.recip(),
            refused.explained
        ),
        format!(
            "Look for {PUT_BACK_SUSPECTS}. Where the sensor is wrong, its charge, power and timer are: \
             land early until one full charge after a flight agrees with the log, or declare the \
             sensor's accuracy as wide as it is."
        ),
    )
    .in_file("logbook.csv")
}

/// The record runs from standstill to standstill without gaps: what it counted is all there was.
fn whole(survey: &Survey) -> bool {
    let Some(draw) = &survey.draw else {
        return false;
    };
    let on_ground = |phase: Option<&PhaseSpan>| phase.is_some_and(|p| p.phase == Phase::Ground);
    draw.gap_s == 0.0
        && survey.has_sound_current()
        && survey
            .phases
            .as_ref()
            .is_some_and(|p| on_ground(p.spans.first()) && on_ground(p.spans.last()))
}
