//! Drag of glides, thrust in flight, excess power and energy for a kilometre against the simulator's
//! truth. Small version of what the study of flights does.

use crate::sim_log::log_of;
use crate::sim_season::studied;
use benchborne::findings::Answer;
use benchborne::flight::air_path::AirPath;
use benchborne::flight::glide::{Airframe, Window, glides, idle_drag};
use benchborne::flight::record;
use benchborne::ingest::Channel;
use benchborne::simulate::physics::Supply;
use benchborne::simulate::{SeasonPlan, Sharing, Tuned, fly};
use benchborne::stats;

const FRAME: Airframe = Airframe {
    mass_kg: 1.95,
    span_m: Some(0.96),
    stall_speed_m_s: Some(13.0),
};

fn plan(glides: usize, wind_m_s: f64) -> SeasonPlan {
    let mut plan = SeasonPlan::coverage(4, 0.04, Sharing::EachDay, wind_m_s);
    plan.glides = glides;
    plan
}

/// Thrust counted from the idling fan: what a flight can show. A drag area added to both the airframe
/// and the fan's thrust changes nothing that is logged, so nothing else can be asked of it.
#[test]
fn thrust_at_level_speed_holds_the_truth() {
    let (mut errors, mut held, mut all) = (Vec::new(), 0, 0);
    for (seed, wind) in [(1, 2.0), (2, 5.0), (3, 0.0)] {
        let plan = plan(4, wind);
        let tuned = Tuned::new(&plan).unwrap();
        let season = studied(plan, &tuned, seed).unwrap();
        for (i, flight) in season.flown.flights.iter().enumerate() {
            let truth = flight.truth.level_thrust_n - flight.truth.idle_thrust_n;
            let row = season
                .analysed
                .tables
                .thrust_in_flight
                .iter()
                .find(|r| r.level && r.flight == format!("f{i:02}"))
                .unwrap();
            errors.push(row.thrust_n / truth - 1.0);
            all += 1;
            held += usize::from((row.thrust_low_n..=row.thrust_high_n).contains(&truth));
        }
    }
    let bias = stats::mean(&errors);
    assert!(bias.abs() < 0.02, "bias {bias:.4}");
    assert!(stats::sd(&errors) < 0.04, "{errors:?}");
    assert!(held as f64 >= 0.93 * all as f64, "{held} of {all}");
}

#[test]
fn the_gain_is_found_where_it_went() {
    let plan = plan(2, 3.0);
    let tuned = Tuned::new(&plan).unwrap();
    let season = studied(plan, &tuned, 5).unwrap();
    let answer: &Answer = season.answer().unwrap();
    let estimate = |key: &str| {
        answer
            .estimates
            .get(key)
            .unwrap_or_else(|| panic!("no {key}: {:?}", answer.remarks))
    };
    // The simulator's own excess power at the estimate's conditions.
    let excess = |fan: usize, throttle: f64, v: f64, volts: f64| {
        let jet = season_jet(&tuned);
        let rho = tuned.reference.rho;
        let thrust = tuned.powers[fan]
            .steady(Supply::Terminal(volts), throttle, v, rho)
            .thrust_n;
        (thrust - jet.drag(v, 1.0, rho)) * v / (jet.mass_kg * 9.80665)
    };
    // At one pitch the stronger fan climbs faster: no airspeed of the climb was flown with both.
    let refused = answer.remarks.iter().find(|r| r.starts_with("Not told"));
    assert!(
        refused.is_some_and(|r| r.contains("in the climb") && r.contains("no airspeed in common")),
        "{:?}",
        answer.remarks
    );
    assert!(!answer.estimates.contains_key("excess_power_climb_gain"));
    let found = estimate("excess_power_level_gain");
    let at = |name: &str| found.at[name].value;
    let (u, v, volts) = (at("throttle"), at("airspeed"), at("voltage"));
    let truth = excess(1, u, v, volts) / excess(0, u, v, volts) - 1.0;
    // Over eight seasons 15 of 16 intervals held it (seeds 1 to 8; climb and level flight, before
    // climbs without a common airspeed were refused).
    assert!(
        (found.low.unwrap()..=found.high.unwrap()).contains(&truth) && found.low.unwrap() > 0.1,
        "{found:?}, truth {truth:.3}"
    );
    for (fan, id) in ["stock", "swap"].into_iter().enumerate() {
        let own = estimate(&format!("excess_power_level_{id}")).value.unwrap();
        let truth = excess(fan, u, v, volts);
        assert!(
            (own / truth - 1.0).abs() < 0.12,
            "{id}: {own:.2}, truth {truth:.2}"
        );
    }
    let take_off = estimate("excess_power_take_off_gain");
    assert!(take_off.low.unwrap() > 0.1, "{take_off:?}");
    assert!(
        answer.remarks[0].contains("take-off run") && answer.remarks[0].contains("none is left"),
        "{}",
        answer.remarks[0]
    );
    for (fan, id) in ["stock", "swap"].into_iter().enumerate() {
        let found = estimate(&format!("energy_per_kilometre_{id}"));
        let v = found.at["airspeed"].value;
        let truth = energy_wh_km(&tuned, fan, v);
        assert!(
            (found.low.unwrap()..=found.high.unwrap()).contains(&truth)
                && (found.value.unwrap() / truth - 1.0).abs() < 0.05,
            "{id} at {v}: {found:?}, truth {truth:.3}"
        );
    }
    // v < w in level flight, and the share tells how near.
    let share = estimate("top_speed_share_of_jet_speed_stock");
    assert!((0.8..1.0).contains(&share.value.unwrap()), "{share:?}");
    for figure in ["excess-power", "thrust-in-flight", "energy-per-kilometre"] {
        let id = format!("{figure}-stock-swap");
        assert!(answer.figures.contains(&id), "{:?}", answer.figures);
    }
}

fn season_jet(tuned: &Tuned) -> benchborne::simulate::jet::Jet {
    tuned.reference.jet
}

/// Energy for a kilometre of level flight: the throttle at which thrust is drag, by bisection.
fn energy_wh_km(tuned: &Tuned, fan: usize, v: f64) -> f64 {
    let (at, power) = (&tuned.reference, &tuned.powers[fan]);
    let supply = Supply::Terminal(at.terminal_v);
    let (mut low, mut high) = (0.1, 1.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if power.steady(supply, middle, v, at.rho).thrust_n < at.jet.drag(v, 1.0, at.rho) {
            low = middle;
        } else {
            high = middle;
        }
    }
    let amps = power.steady(supply, low, v, at.rho).electric.pack_current_a;
    amps * at.terminal_v / v / 3.6
}

fn windows(glides_flown: usize, channels: &[Channel]) -> (Vec<Vec<Window>>, bool) {
    let plan = plan(glides_flown, 3.0);
    let season = fly(&plan, 9).unwrap();
    let mut height = true;
    let found = season.flights[..2]
        .iter()
        .map(|flight| {
            let mut log = log_of(&flight.log);
            for channel in channels {
                log.channels.remove(channel);
            }
            let survey = record::survey(vec![log], Some(13.0), None, None);
            let wind = (flight.truth.wind_north, flight.truth.wind_east);
            let path = AirPath::of(
                survey.log.as_ref().unwrap(),
                survey.velocity.as_ref().unwrap(),
                wind,
                survey.velocity_lag_s(),
            );
            height &= path.has_height();
            glides(&path, survey.phases.as_ref(), FRAME, flight.truth.density)
        })
        .collect();
    (found, height)
}

#[test]
fn drag_wants_glides_and_a_height() {
    let (found, _) = windows(4, &[]);
    let drag = idle_drag(&found, FRAME).unwrap();
    assert!(drag.glides >= 8 && drag.fastest_m_s > 50.0, "{drag:?}");
    let (found, height) = windows(4, &[Channel::Height]);
    assert!(!height && found.iter().all(Vec::is_empty));
    let refused = idle_drag(&found, FRAME).unwrap_err();
    assert_eq!(refused.code, "drag-no-glides");
    assert!(refused.what.contains("there are 0"), "{refused}");
    assert!(refused.to_do.contains("coast"), "{refused}");
}

#[test]
fn speeds_too_alike_leave_one_term() {
    let (found, _) = windows(4, &[]);
    let fast: Vec<Vec<Window>> = found
        .iter()
        .map(|w| w.iter().copied().filter(|w| w.v > 46.0).collect())
        .collect();
    let drag = idle_drag(&fast, FRAME).unwrap();
    assert_eq!(
        drag.induced_from,
        benchborne::flight::glide::Induced::OfSpan
    );
    let bare = Airframe {
        span_m: None,
        ..FRAME
    };
    let drag = idle_drag(&fast, bare).unwrap();
    assert_eq!(drag.induced_from, benchborne::flight::glide::Induced::Left);
    assert_eq!(drag.induced, 0.0);
    assert!((drag.drag_area_m2 / 0.0036 - 1.0).abs() < 0.1, "{drag:?}");
}
