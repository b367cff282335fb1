//! A season's findings made by hand: every kind of picture, every shape of answer, hostile words.

use std::collections::BTreeMap;

use benchborne::findings::*;
use benchborne::ingest::{FileLedger, Reason};
use benchborne::season::{DefaultUsed, Finding, QuestionKind};
use benchborne::stats::estimate::Estimate;

pub const HOSTILE: &str = "<script>alert(\"x\")</script> & 'quoted' <img src=x onerror=alert(1)>";

fn axis(quantity: &str, unit: &str) -> Axis {
    Axis {
        quantity: quantity.into(),
        unit: unit.into(),
    }
}

fn line(label: &str, colour: u32, x: &[f64], f: impl Fn(f64) -> f64) -> Line {
    Line {
        label: label.into(),
        colour,
        x: x.to_vec(),
        y: x.iter().map(|x| f(*x)).collect(),
        low: None,
        high: None,
    }
}

fn banded(mut line: Line, share: f64) -> Line {
    line.low = Some(line.y.iter().map(|y| y * (1.0 - share)).collect());
    line.high = Some(line.y.iter().map(|y| y * (1.0 + share)).collect());
    line
}

fn points(label: &str, colour: u32, xy: &[(f64, f64)], half: f64) -> Points {
    Points {
        label: label.into(),
        colour,
        x: xy.iter().map(|p| p.0).collect(),
        y: xy.iter().map(|p| p.1).collect(),
        low: xy
            .iter()
            .map(|p| (half > 0.0).then_some(p.1 - half))
            .collect(),
        high: xy
            .iter()
            .map(|p| (half > 0.0).then_some(p.1 + half))
            .collect(),
    }
}

fn grid(from: f64, to: f64, n: usize) -> Vec<f64> {
    (0..=n)
        .map(|i| from + (to - from) * i as f64 / n as f64)
        .collect()
}

fn figure(id: &str, caption: &str, alt: &str, data: FigureData) -> Figure {
    Figure {
        id: id.into(),
        caption: caption.into(),
        alt: alt.into(),
        data,
    }
}

fn bench_curves() -> Figure {
    let u = grid(30.0, 100.0, 40);
    let panel = |y: Axis, a: f64, b: f64, p: f64| Panel {
        x: axis("throttle", "%"),
        y,
        lines: vec![
            banded(line("Stock fan", 0, &u, |u| a * (u / 100.0).powf(p)), 0.025),
            banded(
                line("Twelve-blade swap", 1, &u, |u| b * (u / 100.0).powf(p)),
                0.025,
            ),
        ],
        points: vec![
            points(
                "Stock fan",
                0,
                &[30.0, 45.0, 60.0, 75.0, 90.0, 100.0]
                    .map(|u| (u, a * (u / 100.0_f64).powf(p) * 1.01)),
                a * 0.02,
            ),
            points(
                "Twelve-blade swap",
                1,
                &[30.0, 45.0, 60.0, 75.0, 90.0, 100.0]
                    .map(|u| (u, b * (u / 100.0_f64).powf(p) * 0.99)),
                b * 0.02,
            ),
        ],
    };
    figure(
        "bench-curves",
        "At equal volts the swap pulls more at every throttle, and draws more current for it.",
        "Two panels of bench curves by throttle. Thrust at full throttle: 17 newtons stock, 21 swapped. Current: 62 and 74 amperes.",
        FigureData::BenchCurves(BenchCurves {
            panels: vec![
                panel(axis("thrust", "N"), 17.2, 21.1, 2.1),
                panel(axis("current", "A"), 62.0, 74.0, 2.6),
            ],
        }),
    )
}

fn bench_against_flight() -> Figure {
    let u = grid(25.0, 100.0, 40);
    let panel = |name: &str, colour: u32, a: f64| PowerPanel {
        title: name.into(),
        panel: Panel {
            x: axis("throttle", "%"),
            y: axis("current", "A"),
            lines: vec![banded(
                line("bench", colour, &u, |u| a * (u / 100.0).powf(2.6)),
                0.03,
            )],
            points: vec![points(
                "holds in flight",
                colour,
                &(0..24)
                    .map(|i| {
                        let u = 40.0 + f64::from(i * 37 % 60);
                        (
                            u,
                            a * (u / 100.0).powf(2.6)
                                * (0.94 - 0.0006 * u + 0.004 * f64::from(i % 5)),
                        )
                    })
                    .collect::<Vec<_>>(),
                1.2,
            )],
        },
    };
    figure(
        "bench-against-flight",
        "In flight both fans draw a tenth less than on the bench at equal throttle and volts.",
        "Two panels, one a power system: bench current as a line, holds in flight as points below it.",
        FigureData::BenchAgainstFlight(BenchAgainstFlight {
            panels: vec![
                panel("Stock fan", 0, 62.0),
                panel("Twelve-blade swap", 1, 74.0),
            ],
        }),
    )
}

fn rung(
    label: &str,
    note: &str,
    value: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    group: RungGroup,
) -> Rung {
    Rung {
        label: label.into(),
        note: note.into(),
        value,
        low,
        high,
        group,
    }
}

fn ladder(id: &str, observed: bool) -> Figure {
    let (some, group) = (Some, RungGroup::Observed);
    let mut rungs = vec![
        rung(
            "Static thrust",
            "same pack, full throttle",
            some(21.3),
            some(17.4),
            some(25.2),
            RungGroup::Static,
        ),
        rung(
            "Static power",
            "same pack, full throttle",
            some(17.0),
            some(14.8),
            some(19.2),
            RungGroup::Static,
        ),
        rung(
            "Reference case from power",
            "static figure of merit lost in flight",
            some(5.4),
            some(4.7),
            some(6.0),
            RungGroup::Reference,
        ),
        rung(
            "Reference case from thrust",
            "static figure of merit kept in flight",
            some(10.1),
            some(8.3),
            some(11.9),
            RungGroup::Reference,
        ),
    ];
    if observed {
        rungs.push(rung(
            "Level top speed, same pack",
            "what the pilot feels; 8 flights on 4 days",
            some(3.9),
            some(2.3),
            some(5.5),
            group,
        ));
        rungs.push(rung(
            "Level top speed, same volts",
            "8 flights on 4 days",
            some(4.7),
            some(3.1),
            some(6.3),
            group,
        ));
        rungs.push(rung(
            "Pitot, one flight",
            "the tube's end was reached",
            None,
            some(2.6),
            None,
            group,
        ));
    } else {
        rungs.push(rung(
            "Level top speed",
            "one day a fan: fan and day cannot be told apart",
            None,
            None,
            None,
            group,
        ));
    }
    figure(
        id,
        if observed {
            "The flight gain is real, and less than either reference case makes of the static gain."
        } else {
            "The bench alone: a band of 5 to 10 %, and no flight to compare with."
        },
        "Ladder of gains with intervals, static above, reference cases in the middle, observed below.",
        FigureData::Ladder(Ladder {
            x: axis("gain, candidate against baseline", "%"),
            rungs,
            band: Some(Span {
                low: 5.4,
                high: 10.1,
                label: "reference band".into(),
            }),
            margin: Some(2.0),
            verdict: Some(Verdict::PartlyCarriedOver),
        }),
    )
}

fn current_duration() -> Figure {
    let t: Vec<f64> = (0..60)
        .map(|i| 0.2 * 1.14_f64.powi(i))
        .filter(|t| *t < 260.0)
        .collect();
    let held = |a: f64| move |t: f64| a * (0.55 + 0.45 / (1.0 + (t / 14.0).powf(0.8)));
    figure(
        "current-duration",
        "With the swap the continuous rating is passed for spans up to nine seconds; the burst rating never.",
        "Largest mean current held, by duration on a logarithmic axis, against continuous and burst ratings.",
        FigureData::CurrentDuration(CurrentDuration {
            x: axis("held for", "s"),
            y: axis("largest mean current", "A"),
            lines: vec![
                line("Stock, bench", 0, &t, held(68.0)),
                line("Stock, flight", 0, &t, held(61.0)),
                line("Swap, bench", 1, &t, held(88.0)),
                line("Swap, flight", 1, &t, held(79.0)),
            ],
            ratings: vec![
                Rating {
                    label: "continuous rating 80 A".into(),
                    current: 80.0,
                    from_s: 0.0,
                    to_s: 1e9,
                },
                Rating {
                    label: "burst rating 100 A, 10 s".into(),
                    current: 100.0,
                    from_s: 0.0,
                    to_s: 10.0,
                },
            ],
        }),
    )
}

fn flight_strip() -> Figure {
    let segment = |from: f64, to: f64, f: &dyn Fn(f64) -> f64| line("", 1, &grid(from, to, 300), f);
    let throttle = |t: f64| {
        if (t / 22.0).fract() < 0.45 {
            100.0
        } else {
            48.0 + 6.0 * (t * 0.7).sin()
        }
    };
    let strip = |y: Axis, f: &dyn Fn(f64) -> f64| Strip {
        y,
        segments: vec![segment(0.0, 118.0, f), segment(131.0, 236.0, f)],
    };
    figure(
        "flight-strip",
        "Flight 2025-05-03/2: five full-throttle straights, and thirteen seconds lost by the logger.",
        "Five strips over one time axis: throttle, current, voltage, ground speed and height, with passes and holds shaded.",
        FigureData::FlightStrip(FlightStrip {
            x: axis("time since power-up", "s"),
            strips: vec![
                strip(axis("throttle", "%"), &throttle),
                strip(axis("current", "A"), &|t| {
                    72.0 * (throttle(t) / 100.0).powf(2.6) + 1.5 * (t * 3.0).sin()
                }),
                strip(axis("voltage", "V"), &|t| {
                    16.4 - 0.006 * t - 0.02 * 72.0 * (throttle(t) / 100.0).powf(2.6)
                }),
                strip(axis("ground speed", "m/s"), &|t| {
                    42.0 + 14.0 * (t / 3.5).sin() * (t / 40.0).cos()
                }),
                strip(axis("height", "m"), &|t| 40.0 + 25.0 * (t / 30.0).sin()),
            ],
            shades: (0..10)
                .map(|i| Shade {
                    from: f64::from(i) * 22.0 + 2.0,
                    to: f64::from(i) * 22.0 + 9.5,
                    what: if i % 2 == 0 { "pass" } else { "hold" }.into(),
                })
                .collect(),
        }),
    )
}

fn level_speeds() -> Figure {
    figure(
        "level-speeds",
        "On each of the four days the swap flew faster than the stock fan.",
        "Level top speed of eight flights with intervals, by day; stock around 58 metres a second, swap around 60.",
        FigureData::LevelSpeeds(LevelSpeeds {
            y: axis("level top speed, same pack", "m/s"),
            days: ["2025-05-03", "2025-05-10", "2025-05-24", "2025-06-07"]
                .map(String::from)
                .to_vec(),
            points: vec![
                points(
                    "Stock fan",
                    0,
                    &[(-0.18, 57.9), (0.82, 58.4), (1.82, 57.5), (2.82, 58.2)],
                    0.7,
                ),
                points(
                    "Twelve-blade swap",
                    1,
                    &[(0.18, 60.2), (1.18, 60.5), (2.18, 59.6), (3.18, 60.6)],
                    0.7,
                ),
            ],
        }),
    )
}

fn pass_fit() -> Figure {
    let t = grid(0.0, 6.5, 65);
    let run = |entry: f64| move |t: f64| 60.2 - (60.2 - entry) * (-t / 2.4).exp();
    let entries = [44.0, 46.5, 49.0, 51.5, 42.5];
    figure(
        "pass-fit",
        "Five passes of one flight, entered at 43 to 52 m/s, run towards one level speed that none of them reached.",
        "Airspeed against time for five passes, with the joint fit and the level speed band.",
        FigureData::PassFit(PassFit {
            x: axis("time since start of the pass", "s"),
            y: axis("airspeed", "m/s"),
            measured: entries
                .iter()
                .enumerate()
                .map(|(i, e)| {
                    line("measured", 1, &t[..=40 + 5 * i], |t| {
                        run(*e)(t) + 0.35 * (t * 5.0 + i as f64).sin()
                    })
                })
                .collect(),
            fitted: entries
                .iter()
                .map(|e| line("joint fit", 1, &t, run(*e)))
                .collect(),
            level_speed: Span {
                low: 59.6,
                high: 60.8,
                label: "level speed with 95 % interval".into(),
            },
            level_value: 60.2,
        }),
    )
}

fn velocity_vectors() -> Figure {
    let around = |degrees: &[f64]| -> Vec<(f64, f64)> {
        degrees
            .iter()
            .map(|d| {
                (
                    3.6 + 59.8 * d.to_radians().sin(),
                    -2.4 + 59.8 * d.to_radians().cos(),
                )
            })
            .collect()
    };
    figure(
        "velocity-vectors",
        "Exit velocities lie on one circle, moved by a wind of 4.3 m/s.",
        "Ground velocities east and north on a circle of level speed whose centre is the wind.",
        FigureData::VelocityVectors(VelocityVectors {
            unit: "m/s".into(),
            points: vec![points(
                "pass, at its end",
                1,
                &around(&[62.0, 243.0, 59.0, 240.0, 330.0]),
                0.0,
            )],
            wind_east: 3.6,
            wind_north: -2.4,
            wind_se: 0.8,
            radius: 59.8,
        }),
    )
}

fn empty_figures() -> Vec<Figure> {
    let nothing = "Nothing of this kind was measured.";
    vec![
        figure(
            "empty-curves",
            nothing,
            nothing,
            FigureData::BenchCurves(BenchCurves { panels: vec![] }),
        ),
        figure(
            "empty-ladder",
            nothing,
            nothing,
            FigureData::Ladder(Ladder {
                x: axis("gain", "%"),
                rungs: vec![],
                band: None,
                margin: Some(2.0),
                verdict: None,
            }),
        ),
        figure(
            "empty-duration",
            nothing,
            nothing,
            FigureData::CurrentDuration(CurrentDuration {
                x: axis("t", "s"),
                y: axis("I", "A"),
                lines: vec![line("none", 0, &[], |x| x)],
                ratings: vec![],
            }),
        ),
        figure(
            "empty-strip",
            nothing,
            nothing,
            FigureData::FlightStrip(FlightStrip {
                x: axis("t", "s"),
                strips: vec![],
                shades: vec![],
            }),
        ),
        figure(
            "empty-speeds",
            nothing,
            nothing,
            FigureData::LevelSpeeds(LevelSpeeds {
                y: axis("v", "m/s"),
                days: vec![],
                points: vec![],
            }),
        ),
        figure(
            "empty-fit",
            nothing,
            nothing,
            FigureData::PassFit(PassFit {
                x: axis("t", "s"),
                y: axis("v", "m/s"),
                measured: vec![],
                fitted: vec![],
                level_speed: Span {
                    low: 0.0,
                    high: 0.0,
                    label: String::new(),
                },
                level_value: 0.0,
            }),
        ),
        figure(
            "empty-vectors",
            nothing,
            nothing,
            FigureData::VelocityVectors(VelocityVectors {
                unit: "m/s".into(),
                points: vec![],
                wind_east: 0.0,
                wind_north: 0.0,
                wind_se: 0.0,
                radius: 0.0,
            }),
        ),
        figure(
            "empty-against",
            nothing,
            nothing,
            FigureData::BenchAgainstFlight(BenchAgainstFlight { panels: vec![] }),
        ),
    ]
}

fn words(list: &[&str]) -> Vec<String> {
    list.iter().map(|s| (*s).to_owned()).collect()
}

fn answer(kind: QuestionKind, id: &str, asks: &str, verdict: Verdict, sentence: &str) -> Answer {
    Answer {
        question: kind,
        id: id.into(),
        asks: asks.into(),
        baseline: Some("stock".into()),
        candidate: Some("swap".into()),
        verdict,
        sentence: sentence.into(),
        headline: vec![],
        estimates: BTreeMap::new(),
        missing: vec![],
        next: vec![],
        remarks: vec![],
        how: HowWeKnow::default(),
        figures: vec![],
        tables: vec![],
        cautions: vec![],
    }
}

fn carry_over() -> Answer {
    let gain = |v: f64, half: f64, method: &str| Estimate::plus_minus(v, half, "1", method);
    let mut a = answer(
        QuestionKind::CarryOver,
        "carry-over-stock-swap",
        "Did the static gain carry over into flight?",
        Verdict::PartlyCarriedOver,
        "Partly: the swap is faster in level flight, but by less than either reference case makes of its static gain.",
    );
    a.headline = words(&["observed_speed_gain_same_pack", "static_thrust_gain"]);
    let flights = |e: Estimate| e.count("flights", 8).count("days", 4).count("passes", 41);
    let at = |e: Estimate| e.at("voltage", 14.12, "V").at("density", 1.183, "kg/m3");
    a.estimates = [
        (
            "observed_speed_gain_same_pack",
            flights(gain(
                0.0391,
                0.0162,
                "Fan and day, linear model on flight means; t interval",
            )),
        ),
        (
            "observed_speed_gain_same_terminal_voltage",
            at(flights(gain(
                0.047,
                0.016,
                "As above, brought to one voltage",
            ))),
        ),
        (
            "static_thrust_gain",
            at(gain(
                0.213,
                0.039,
                "Ratio of bench curves; scale errors cancel (GUM, correlated inputs)",
            )
            .count("bench points", 18)
            .input("bench/stock.csv")
            .input("bench/swap.csv")),
        ),
        (
            "static_power_gain",
            at(gain(0.17, 0.022, "Ratio of bench curves")),
        ),
        (
            "reference_speed_gain_low",
            gain(
                0.0537,
                0.0065,
                "Static figure of merit lost in flight: cube root of the power ratio",
            ),
        ),
        (
            "reference_speed_gain_high",
            gain(
                0.1013,
                0.018,
                "Static figure of merit kept: square root of the thrust ratio",
            ),
        ),
        (
            "exhaust_speed_m_s",
            Estimate {
                value: None,
                low: Some(100.0),
                high: None,
                ..Estimate::plus_minus(0.0, 1.0, "m/s", "The anemometer's end was reached")
            },
        ),
        (
            "drag_ratio",
            Estimate {
                high: None,
                ..Estimate::plus_minus(1.031, 0.04, "1", "One-sided")
            },
        ),
        (
            "flights_needed",
            Estimate {
                value: Some(6.0),
                low: None,
                high: None,
                ..Estimate::plus_minus(6.0, 1.0, "1", "Precision planning")
            },
        ),
    ]
    .map(|(k, e)| (k.to_owned(), e))
    .into();
    a.figures = words(&[
        "ladder",
        "bench-curves",
        "level-speeds",
        "pass-fit",
        "velocity-vectors",
    ]);
    a.tables = words(&["flights"]);
    a.remarks = words(&[
        "Static blade stall of the stock fan would make the static gain too large.",
        HOSTILE,
    ]);
    a.missing = words(&["The outlet area of the swap: the reference band assumes equal areas."]);
    a.next = words(&["Measure both outlet diameters with a calliper."]);
    a.how = HowWeKnow {
        method: words(&[
            "One joint fit a flight over its full-throttle straights; the flight is the unit of replication.",
            "Fan and day told apart within days; two one-sided tests against the margin.",
        ]),
        sources: words(&[
            "JCGM 100:2008 (GUM), section 5.2",
            "Momentum theory, uniform jet, equal outlet areas",
        ]),
        inputs: words(&[
            "logs/radio-01.csv to logs/radio-08.csv",
            "bench/stock.csv, bench/swap.csv",
        ]),
        would_change: words(&["A difference of more than 8 % between the outlet areas."]),
    };
    a
}

fn duration() -> Answer {
    let mut a = answer(
        QuestionKind::PowerAndDuration,
        "power-and-duration",
        "What power does it really draw in the air, and how long can I fly?",
        Verdict::Answered,
        "The swap draws 840 W at level top speed; a timer at 3 min 10 s keeps the reserve on 95 % of flights.",
    );
    a.headline = words(&["level_flight_power", "timer", "charge_used"]);
    a.estimates = [
        (
            "level_flight_power",
            Estimate::plus_minus(840.0, 31.0, "W", "Mean of flights"),
        ),
        (
            "timer",
            Estimate {
                value: Some(190.0),
                low: None,
                high: None,
                ..Estimate::plus_minus(190.0, 1.0, "s", "Lower 95/95 tolerance limit (ISO 16269-6)")
            }
            .count("flights", 8),
        ),
        (
            "charge_used",
            Estimate::plus_minus(
                2410.0,
                85.0,
                "mA.h",
                "Coulomb counting, calibrated by put-back",
            ),
        ),
        (
            "air_temperature",
            Estimate::plus_minus(-3.5, 0.5, "Cel", "Logbook"),
        ),
    ]
    .map(|(k, e)| (k.to_owned(), e))
    .into();
    a.figures = words(&["bench-against-flight", "flight-strip", "bench-curves"]);
    a.how.method = words(&[
        "Bench curve at throttle, voltage and density, times the unloading of the same system.",
    ]);
    a
}

fn not_settled() -> Answer {
    let mut a = answer(
        QuestionKind::Sisters,
        "sisters-alder-birch",
        "Are the two sister airframes really alike?",
        Verdict::NotSettled,
        "Not settled: each airframe carried one fan only, so fan and airframe cannot be told apart.",
    );
    a.missing = words(&[
        "Flights of Birch with the stock fan.",
        "Flights of Alder with the swap.",
    ]);
    a.next = words(&[
        "Two flights of each airframe with the other's fan, on one day: the cross-over separates the two.",
    ]);
    a.figures = words(&["ladder-bench-only"]);
    a.estimates = [(
        "airframe_difference".to_owned(),
        Estimate {
            value: None,
            low: None,
            high: None,
            ..Estimate::plus_minus(0.0, 1.0, "1", "Not estimable: confounded with the fan")
        },
    )]
    .into();
    a.headline = words(&["airframe_difference"]);
    a
}

fn card() -> Answer {
    let mut a = answer(
        QuestionKind::Next,
        "next",
        "What should I measure or fly next?",
        Verdict::Answered,
        "One afternoon settles the sisters: four flights, fans exchanged at the field.",
    );
    a.next = words(&[
        "Alder with the swap: two flights, six straights each, both directions, four seconds at full throttle.",
        "Birch with the stock fan: the same, on the same day.",
        "Read the pack's resting voltage before each flight.",
    ]);
    a.cautions = words(&[
        "Fans exchanged at the field: check balance and blade clearance before running up.",
    ]);
    a
}

fn controller() -> Answer {
    let mut a = answer(
        QuestionKind::Controller,
        "controller",
        "Does the controller have enough headroom?",
        Verdict::NotEnough,
        "No: with the swap the 80 A controller has 1 % left over the largest current held for ten seconds; 25 % was asked.",
    );
    a.headline = words(&["headroom", "largest_current_held"]);
    a.estimates = [
        (
            "headroom",
            Estimate::plus_minus(
                0.013,
                0.021,
                "1",
                "Rating over largest mean current held, less one",
            ),
        ),
        (
            "largest_current_held",
            Estimate::plus_minus(79.0, 1.6, "A", "Largest mean current over the span")
                .at("held_for", 10.0, "s")
                .count("flights", 8),
        ),
        (
            "loss_at_part_throttle_w",
            Estimate {
                value: None,
                low: None,
                high: Some(12.0),
                ..Estimate::plus_minus(0.0, 1.0, "W", "Bound from the case temperature")
            },
        ),
    ]
    .map(|(k, e)| (k.to_owned(), e))
    .into();
    a.figures = words(&["current-duration"]);
    a
}

fn tables() -> Vec<DataTable> {
    let column = |name: &str, unit: &str, digits| DataColumn {
        name: name.into(),
        unit: unit.into(),
        digits,
    };
    let text = |t: &str| DataCell::Text(t.into());
    vec![DataTable {
        id: "flights".into(),
        title: "Flights".into(),
        columns: vec![
            column("flight", "", 0),
            column("power system", "", 0),
            column("level speed", "m/s", 1),
            column("charge used", "mA.h", 0),
            column("throttle while cruising", "1", 2),
            column("remarks", "", 0),
        ],
        rows: vec![
            vec![
                text("2025-05-03/1"),
                text("Stock fan"),
                DataCell::Interval {
                    value: 57.91,
                    low: Some(57.2),
                    high: Some(58.6),
                },
                DataCell::Number(2214.4),
                DataCell::Number(0.48),
                text(""),
            ],
            vec![
                text("2025-05-03/2"),
                text("Twelve-blade swap"),
                DataCell::Interval {
                    value: 60.23,
                    low: Some(59.5),
                    high: None,
                },
                DataCell::Blank(()),
                DataCell::Number(0.51),
                text(HOSTILE),
            ],
            vec![
                text("2025-05-10/1"),
                text(
                    "Donaudampfschiffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft",
                ),
                DataCell::Blank(()),
                DataCell::Number(12345.6),
                DataCell::Blank(()),
                text("Wind böig, Σ unklar"),
            ],
        ],
    }]
}

pub fn season() -> Findings {
    let mut figures = vec![
        ladder("ladder", true),
        bench_curves(),
        level_speeds(),
        pass_fit(),
        velocity_vectors(),
        bench_against_flight(),
        flight_strip(),
        current_duration(),
        ladder("ladder-bench-only", false),
    ];
    figures.extend(empty_figures().into_iter().take(2));
    Findings {
        schema: SCHEMA,
        version: "0.1.0".into(),
        season: SeasonSummary {
            title: "Two sister jets, two fans".into(),
            invented: true,
            site: "Meadow field, 312 m".into(),
            airframes: words(&["Alder", "Birch"]),
            powers: vec![
                NamedPower {
                    id: "stock".into(),
                    name: "Stock fan".into(),
                    colour: 0,
                },
                NamedPower {
                    id: "swap".into(),
                    name: "Twelve-blade swap".into(),
                    colour: 1,
                },
            ],
            days: words(&["2025-05-03", "2025-05-10", "2025-05-24", "2025-06-07"]),
            flights: 8,
            bench_runs: 2,
            defaults: vec![DefaultUsed {
                key: "power.swap.outlet_area".into(),
                value: "as the baseline's".into(),
                would_buy: "A reference band half as wide.".into(),
            }],
            seed: 20_250_503,
        },
        ledger: Ledger {
            files: vec![
                FileLedger {
                    file: "logs/radio-01.csv".into(),
                    rows_in: 24_101,
                    rows_used: 24_088,
                    rows_set_aside: 13,
                    reasons: vec![
                        Reason {
                            code: "cut-off-row".into(),
                            count: 1,
                            first_line: 24_102,
                            what: "the row ends in the middle of a value".into(),
                        },
                        Reason {
                            code: "clock-step-back".into(),
                            count: 12,
                            first_line: 8_115,
                            what: "time runs backwards".into(),
                        },
                    ],
                },
                FileLedger {
                    file: "bench/stock.csv".into(),
                    rows_in: 9,
                    rows_used: 9,
                    ..FileLedger::default()
                },
            ],
            findings: vec![
                Finding::warning(
                    "shown-watts",
                    "shown watts differ from volts times amperes by 7 %",
                    "Switch peak hold off, or leave the column out.",
                )
                .at("bench/stock.csv", 7, Some(4))
                .expected("within 2 %"),
                Finding::error(
                    "unknown-airframe",
                    format!("airframe \"aldr\" {HOSTILE}"),
                    "Did you mean \"alder\"?",
                )
                .at("season.toml", 12, Some(9))
                .excerpt("12 | airframe = \"aldr\"\n   |            ^^^^^^"),
                Finding::note(
                    "default-zone",
                    "no time zone was declared",
                    "Add zone to [site].",
                ),
            ],
        },
        questions: vec![
            carry_over(),
            duration(),
            controller(),
            not_settled(),
            card(),
        ],
        figures,
        tables: tables(),
        cautions: words(&[
            "Packs can burn, fans can maim and throw blades, a restrained jet can break loose; the scale must hold the model safely.",
            "Structural evidence is comparative: it is no approval to fly.",
            "Local aviation rules, field rules, the maker's limits and qualified advice come first.",
        ]),
    }
}

/// Nothing but a title.
pub fn empty() -> Findings {
    let mut findings = season();
    findings.season = SeasonSummary {
        title: "Empty".into(),
        invented: false,
        site: String::new(),
        airframes: vec![],
        powers: vec![],
        days: vec![],
        flights: 0,
        bench_runs: 0,
        defaults: vec![],
        seed: 0,
    };
    findings.ledger = Ledger::default();
    findings.questions.clear();
    findings.figures = empty_figures();
    findings.tables.clear();
    findings.cautions.clear();
    findings
}

/// Every name and sentence a page shows made as nasty as a pilot's spreadsheet can be.
pub fn hostile() -> Findings {
    let mut findings = season();
    let nasty = format!("{HOSTILE} {} 漢字 \u{1}\u{0}", "Überlängenwort".repeat(12));
    findings.season.title = nasty.clone();
    findings.season.site = nasty.clone();
    findings.season.days = vec![nasty.clone()];
    for power in &mut findings.season.powers {
        power.name = nasty.clone();
    }
    for answer in &mut findings.questions {
        answer.id = format!("\"{HOSTILE}");
        answer.asks = nasty.clone();
        answer.sentence = nasty.clone();
        let odd = Estimate::plus_minus(1e-7, 3e-9, "m/s", &nasty)
            .at("a/b~c", 1.0, "1")
            .count("a/b", 3)
            .input(&nasty);
        answer.estimates.insert("odd/key~\"<b>".into(), odd);
        answer.headline.push("odd/key~\"<b>".into());
    }
    for figure in &mut findings.figures {
        figure.caption = nasty.clone();
        figure.alt = nasty.clone();
        rename(&mut figure.data, &nasty);
    }
    findings
}

fn rename(data: &mut FigureData, nasty: &str) {
    let lines = |lines: &mut Vec<Line>| lines.iter_mut().for_each(|l| l.label = nasty.into());
    let points = |points: &mut Vec<Points>| points.iter_mut().for_each(|p| p.label = nasty.into());
    match data {
        FigureData::BenchCurves(d) => d.panels.iter_mut().for_each(|p| {
            lines(&mut p.lines);
            p.y.quantity = nasty.into();
        }),
        FigureData::BenchAgainstFlight(d) => d.panels.iter_mut().for_each(|p| {
            p.title = nasty.into();
            points(&mut p.panel.points);
        }),
        FigureData::Ladder(d) => d.rungs.iter_mut().for_each(|r| {
            r.label = nasty.into();
            r.note = nasty.into();
        }),
        FigureData::CurrentDuration(d) => {
            lines(&mut d.lines);
            d.ratings.iter_mut().for_each(|r| r.label = nasty.into());
        }
        FigureData::FlightStrip(d) => d.shades.iter_mut().for_each(|s| s.what = nasty.into()),
        FigureData::LevelSpeeds(d) => {
            points(&mut d.points);
            d.days.iter_mut().for_each(|day| *day = nasty.into());
        }
        FigureData::PassFit(d) => {
            lines(&mut d.measured);
            d.level_speed.label = nasty.into();
        }
        FigureData::VelocityVectors(d) => points(&mut d.points),
    }
}
