//! Logs with holes, spikes, one row or none: nothing panics, and no interval is upside down.

use benchborne::flight::current_duration::{Between, current_duration};
use benchborne::flight::duration::to_reserve;
use benchborne::flight::energy::draw;
use benchborne::flight::holds::{HoldRules, holds};
use benchborne::flight::loads::loads;
use benchborne::flight::pack::{pack_fit, rest_voltage};
use benchborne::flight::phases::phases;
use benchborne::flight::rpm_alignment::{readings, rpm_alignment};
use benchborne::flight::spool_up::spool_up;
use benchborne::flight::unloading::{FlightHolds, unloading};
use benchborne::ingest::Channel;
use proptest::prelude::*;

use super::made::{curve, log};

const CHANNELS: [Channel; 12] = [
    Channel::Throttle,
    Channel::Voltage,
    Channel::Current,
    Channel::GroundSpeed,
    Channel::Course,
    Channel::VelocityNorth,
    Channel::VelocityEast,
    Channel::Airspeed,
    Channel::Height,
    Channel::AngularSpeed,
    Channel::AccelerationX,
    Channel::AccelerationZ,
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]
    #[test]
    fn nothing_panics(
        steps in prop::collection::vec(prop_oneof![8 => 0.001..0.5_f64, 1 => 1.0..100.0_f64], 0..80),
        present in prop::collection::vec(any::<bool>(), 12),
        cells in prop::collection::vec(
            prop_oneof![3 => Just(f64::NAN), 5 => -5.0..120.0_f64, 5 => Just(0.0), 5 => 0.0..1.0_f64],
            1000,
        ),
        settle in -1.0..3.0_f64,
    ) {
        let mut t = 0.0;
        let time: Vec<f64> = steps.iter().map(|s| { t += s; t }).collect();
        let channels: Vec<(Channel, Vec<f64>)> = CHANNELS
            .iter()
            .enumerate()
            .filter(|(c, _)| present[*c])
            .map(|(c, channel)| {
                // Every second channel stands still in places, as a held throttle does.
                let cell = |i: usize| cells[(c * 83 + if c % 2 == 0 { i / 9 } else { i }) % 1000];
                (*channel, (0..time.len()).map(cell).collect())
            })
            .collect();
        let log = log(time, &channels);
        let phases = phases(&log, None).0;
        if let Some(phases) = &phases {
            prop_assert!(phases.airborne.iter().all(|(a, b)| a <= b), "{:?}", phases);
            prop_assert!(phases.spans.windows(2).all(|w| w[0].end_s <= w[1].start_s + 1e-9));
            let _ = to_reserve(&log, phases, 10_000.0, 0.2, 1.0);
        }
        if let Some(drawn) = draw(&log, None, None, None).0 {
            let charge = drawn.charge_mah;
            prop_assert!(charge.value.is_finite());
            prop_assert!(charge.high.is_none_or(|high| charge.low <= high.max(0.0)), "{:?}", drawn);
        }
        let _ = spool_up(&log);
        let _ = (pack_fit(&log), rest_voltage(&log));
        let loads = loads(&log, 1.2, phases.as_ref());
        prop_assert!(loads.load_factor_p99.is_none_or(|n| n >= 0.0));
        let longest = log.time.last().zip(log.time.first()).map_or(0.0, |(b, a)| b - a);
        for held in current_duration(&log, Between::Linear, &[5.0]) {
            prop_assert!(held.duration_s <= longest + 1e-9 && held.current_a.is_finite());
        }
        let found = holds(&log, settle, phases.as_ref(), None, &HoldRules::default()).holds;
        prop_assert!(found.iter().all(|h| h.end_s > h.start_s && h.throttle.is_finite()));
        let flight = [FlightHolds { flight: "f", holds: &found, density_kg_m3: 1.2, level_speed_m_s: None }];
        let _ = unloading(&flight, &curve(), 0.95, 0.01);
        let read = readings(&log);
        let _ = rpm_alignment(&read, &read);
    }
}
