//! Who flies what on which day in the demo season.

use chrono::NaiveDate;

use super::season::{AirframePlan, DayPlan, FanPlan, FlightPlan, LoggerKind, PackPlan, SeasonPlan};

pub const SEED: u64 = 20_250_412;

const ALDER: usize = 0;
const BIRCH: usize = 1;
pub(super) const SIX: usize = 0;
pub(super) const ELEVEN: usize = 1;
const RED: usize = 0;
pub(super) const BLUE: usize = 1;

/// The plan behind the demo season.
pub fn plan() -> SeasonPlan {
    let mut plan = SeasonPlan::empty()
        .rate(20.0, 5.0)
        .passes(8)
        .duration(235.0)
        .gusts(0.8);
    let jet = |id: &str, mass_kg, speed_effect| AirframePlan {
        id: id.into(),
        mass_kg,
        wing_area_m2: 0.235,
        span_m: 0.96,
        stall_m_s: 13.0,
        speed_effect,
    };
    plan.airframes = vec![jet("alder", 1.95, 0.0), jet("birch", 1.97, -0.012)];
    let mut eleven = FanPlan::candidate("eleven-blade", 0.04, 0.20, 0.12);
    eleven.unloading = 0.55;
    plan.fans = vec![FanPlan::baseline("six-blade"), eleven];
    let pack = |id: &str, resistance_ohm, ageing| PackPlan {
        id: id.into(),
        cells: 4,
        capacity_mah: 2600.0,
        resistance_ohm,
        ageing,
    };
    plan.packs = vec![pack("red", 0.0125, 0.04), pack("blue", 0.0110, 0.004)];
    let day = |month, day, temperature_c, pressure_hpa, wind_m_s, wind_from_deg| DayPlan {
        date: NaiveDate::from_ymd_opt(2025, month, day).unwrap_or_default(),
        temperature_c,
        pressure_hpa,
        wind_m_s,
        wind_from_deg,
    };
    plan.days = vec![
        day(4, 12, 12.0, 981.0, 3.2, 285.0),
        day(5, 3, 18.0, 979.0, 5.1, 255.0),
        day(5, 24, 21.0, 984.0, 2.0, 110.0),
        day(6, 14, 26.0, 978.0, 4.0, 300.0),
    ];
    use LoggerKind::{NoCurrent, None, PowerAndTrack, Telemetry};
    plan.flights = [
        (0, ALDER, SIX, RED, Telemetry, 612.4),
        (0, BIRCH, ELEVEN, BLUE, PowerAndTrack, 641.0),
        (0, ALDER, SIX, BLUE, Telemetry, 697.8),
        (0, BIRCH, ELEVEN, RED, PowerAndTrack, 728.0),
        (1, ALDER, ELEVEN, RED, Telemetry, 570.3),
        (1, BIRCH, SIX, BLUE, PowerAndTrack, 598.0),
        (1, BIRCH, SIX, RED, None, 655.0),
        (1, ALDER, ELEVEN, BLUE, Telemetry, 683.7),
        (1, BIRCH, SIX, RED, PowerAndTrack, 741.0),
        (2, ALDER, SIX, RED, NoCurrent, 605.5),
        (2, BIRCH, ELEVEN, BLUE, PowerAndTrack, 633.0),
        (2, ALDER, SIX, BLUE, Telemetry, 702.2),
        (2, BIRCH, ELEVEN, RED, PowerAndTrack, 729.0),
        (3, ALDER, ELEVEN, RED, Telemetry, 545.1),
        (3, BIRCH, SIX, BLUE, PowerAndTrack, 571.0),
        (3, ALDER, ELEVEN, BLUE, Telemetry, 640.8),
        (3, BIRCH, SIX, RED, PowerAndTrack, 668.0),
    ]
    .into_iter()
    .map(|(day, airframe, fan, pack, logger, start_min)| FlightPlan {
        day,
        airframe,
        fan,
        pack,
        logger,
        start_min,
    })
    .collect();
    plan
}
