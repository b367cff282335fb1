//! Flights that would settle a question, from the season's own scatter and by the verdict rule itself.
//!
//! Method: the chance that the rule settles it with so many flights, by the noncentral t (Owen 1968) at the
//! scatter seen so far.

use crate::findings::answer::{Answer, FlightPlan, Step};
use crate::findings::evidence::{Evidence, counted, percent};
use crate::findings::observed::Observed;
use crate::findings::plan_flights;
use crate::stats::chance::{Precision, Rule, airframes_chance};
use crate::stats::components::{Components, components};
use crate::stats::estimate::Estimate;
use crate::stats::mover::Bounds;
use crate::stats::observed::FlightSpeed;
use crate::stats::planning::{Most, Plan, Scatter, Slot, Target, Way, smallest};
use crate::stats::verdict::{NotSettled, Verdict};

/// Key of the flights a fan that the card leads with.
pub const FLIGHTS_NEEDED: &str = "flights_needed_a_fan";
/// Days that a plan may ask for.
const MOST_DAYS: usize = 12;
/// Passes a flight where no flight tells (common practice, no source), and the fewest and most that
/// a plan asks for.
const USUAL_PASSES: f64 = 8.0;
const PASSES: (f64, f64) = (6.0, 8.0);

/// One question's flights, and the rule by which they will be judged.
pub struct Ask<'a, 'b> {
    pub evidence: &'b Evidence<'a>,
    pub observed: &'b Observed<'a>,
    pub powers: [&'a str; 2],
    /// Ids of the two airframes where their difference is asked for.
    pub sisters: Option<[&'a str; 2]>,
    pub rule: Rule,
}

/// A true gain that the plan must be able to settle.
struct Supposed {
    words: &'static str,
    key: &'static str,
    log_gain: f64,
    /// Flights are planned until it is settled in four of five seasons.
    wanted: bool,
}

impl<'a> Ask<'a, '_> {
    fn target(&self) -> Target {
        match self.sisters {
            Some(_) => Target::Airframe,
            None => Target::Fan,
        }
    }

    fn supposed(&self, rule: &Rule) -> Vec<Supposed> {
        let one = |words, key, log_gain, wanted| Supposed {
            words,
            key,
            log_gain,
            wanted,
        };
        if self.sisters.is_some() {
            return vec![
                one("they are alike", "if_alike", 0.0, true),
                one(
                    "they differ by the difference that matters",
                    "if_unlike",
                    rule.margin.ln_1p(),
                    true,
                ),
            ];
        }
        let mut out = vec![one("nothing carried over", "if_nothing", 0.0, true)];
        let shift = rule.compared_less_pack.unwrap_or(0.0);
        if let Some((low, _)) = rule.band.filter(|(low, _)| low.value > 0.0) {
            let of = |gain: f64| gain.ln_1p() - shift;
            out.push(one("all of it carried over", "if_all", of(low.value), true));
            out.push(one("half of it did", "if_half", of(0.5 * low.value), false));
        }
        out
    }

    fn chance(&self, rule: &Rule, precision: Precision, log_gain: f64) -> f64 {
        match self.sisters {
            Some(_) => airframes_chance(precision, rule.margin, rule.common_pack, log_gain),
            None => rule.chance(precision, log_gain),
        }
    }

    fn enough(&self, rule: &Rule, precision: Precision, power: f64) -> bool {
        self.supposed(rule)
            .iter()
            .filter(|s| s.wanted)
            .all(|s| self.chance(rule, precision, s.log_gain) >= power)
    }

    /// Whether the rule can be settled by flights alone, however many.
    fn limit(&self, rule: &Rule, log_gain: f64) -> f64 {
        let endless = Precision::new(1e-6, 1000.0);
        self.chance(rule, endless, log_gain)
    }

    fn rows(&self) -> (Vec<FlightSpeed>, Vec<u32>) {
        let speeds = &self.observed.speeds;
        let rank = |all: Vec<&'a str>, own: &str| {
            let mut all = all;
            all.sort_unstable();
            all.dedup();
            all.partition_point(|other| *other < own)
        };
        let days: Vec<&str> = speeds.iter().map(|s| s.day).collect();
        let airframes = plan_flights::airframes(self);
        let rows = speeds
            .iter()
            .map(|s| FlightSpeed {
                log_speed: s.speed_m_s.ln(),
                se: Some(s.relative_se).filter(|se| *se > 0.0),
                day: rank(days.clone(), s.day),
                candidate: s.power == self.powers[1],
                airframe: airframes
                    .iter()
                    .position(|a| *a == s.airframe)
                    .unwrap_or(airframes.len()),
            })
            .collect();
        let passes = speeds
            .iter()
            .map(|s| s.flight.passes.clamp(0, 1000) as u32)
            .collect();
        (rows, passes)
    }
}

/// Open for want of flights: more of them can settle it.
pub fn is_open(verdict: Verdict) -> bool {
    matches!(
        verdict,
        Verdict::NotSettled(
            NotSettled::NotEstimable | NotSettled::TooWide | NotSettled::HowMuchIsOpen
        )
    )
}

/// Says in `answer` what flights would settle the question: words, numbers, and the flights in order.
pub fn flights(ask: &Ask, answer: &mut Answer) {
    let (rows, passes) = ask.rows();
    let spread = components(&rows, &passes);
    let usual = mean_passes(&passes);
    let wanted_passes = usual.clamp(PASSES.0, PASSES.1).round();
    record_spread(&spread, &rows, answer);
    let scatter = |flight_sd: f64| Scatter {
        flight: flight_sd,
        day: spread.day.sd,
    };
    let sd = spread.flight_sd_with(wanted_passes, usual);
    let rule = with_a_bench_that_does(ask, answer);
    let flown: Vec<Slot> = rows
        .iter()
        .map(|r| Slot {
            day: r.day,
            candidate: r.candidate,
            airframe: r.airframe,
        })
        .collect();
    let airframes = plan_flights::airframes(ask);
    let most = Most {
        days: MOST_DAYS,
        flights_a_day: ask.evidence.season.rules.flights_a_day.value as usize,
    };
    let search = |way: Way, sd: f64, rule: &Rule, power: f64| {
        smallest(
            &flown,
            way,
            (0, 1),
            ask.target(),
            scatter(sd),
            most,
            |precision| ask.enough(rule, precision, power),
        )
    };
    let way = match (ask.sisters, airframes.len()) {
        (None, 0 | 1) => Way::ChangedAtTheField,
        _ => Way::CrossedOver,
    };
    let Some(plan) = search(way, sd, &rule, 0.8) else {
        let larger = [1.5, 2.0, 3.0].iter().find_map(|factor| {
            let wider = Rule {
                margin: factor * rule.margin,
                ..rule
            };
            Some((wider.margin, search(way, sd, &wider, 0.8)?))
        });
        answer
            .next
            .push(Step::fly(no_plan(&spread, sd, &rule, most, larger)));
        return;
    };
    let side = if ask.sisters.is_some() {
        "airframe"
    } else {
        "fan"
    };
    let surer = search(way, sd, &rule, 0.9);
    let extremes = [spread.flight.low, spread.flight.high]
        .map(|limit| search(way, sd * limit? / spread.flight.sd, &rule, 0.8));
    record_plan(
        ask,
        &rule,
        &plan,
        surer.as_ref(),
        &extremes,
        &spread,
        answer,
    );
    let mut text = words(ask, &rule, &plan, &spread, wanted_passes, side);
    if let Some(surer) = surer.filter(|s| s.flights.len() > plan.flights.len()) {
        text += &format!(
            " For nine seasons of ten: {} on {}.",
            of_each(&surer, side),
            counted(surer.days(), "day")
        );
    }
    if way == Way::ChangedAtTheField
        && let Some(home) = search(Way::OneFanADay, sd, &rule, 0.8)
    {
        text += &format!(
            " If the fans can be changed at home only: {} on {}, one fan a day.",
            of_each(&home, side),
            counted(home.days(), "day")
        );
    }
    answer.next.push(Step::fly(text));
    answer.plan = Some(FlightPlan {
        flights: plan_flights::named(ask, &plan, &airframes),
        passes_a_flight: wanted_passes as u64,
    });
}

fn mean_passes(passes: &[u32]) -> f64 {
    let known: Vec<f64> = passes
        .iter()
        .filter(|n| **n > 0)
        .map(|n| f64::from(*n))
        .collect();
    if known.is_empty() {
        USUAL_PASSES
    } else {
        crate::stats::mean(&known)
    }
}

/// The rule to plan by: with the reference band as it is, or, where its own error keeps the question
/// open however many flights are flown, narrowed as far as it must be (and that is said).
fn with_a_bench_that_does(ask: &Ask, answer: &mut Answer) -> Rule {
    let open = |rule: &Rule| -> bool {
        ask.supposed(rule)
            .iter()
            .any(|s| s.wanted && s.key == "if_all" && ask.limit(rule, s.log_gain) < 0.9)
    };
    let Some((low, _)) = ask.rule.band.filter(|_| open(&ask.rule)) else {
        return ask.rule;
    };
    let narrowed = |factor: f64| {
        let around = |b: Bounds| {
            let at = |end: f64| b.value + factor * (end - b.value);
            Bounds {
                value: b.value,
                low: at(b.low),
                high: at(b.high),
                low90: at(b.low90),
                high90: at(b.high90),
            }
        };
        Rule {
            band: ask.rule.band.map(|(l, h)| (around(l), around(h))),
            ..ask.rule
        }
    };
    let factor = [0.8, 0.67, 0.5, 0.33, 0.25, 0.1]
        .into_iter()
        .find(|factor| !open(&narrowed(*factor)));
    let Some(factor) = factor else {
        // Not the bench: what the flights have wrong together.
        answer.next.push(Step::fly(
            "What all flights have wrong together (voltage sensors, the pooled run-up) keeps it \
             open however many are flown: swap the loggers between the two from flight to flight, \
             and fly longer passes.",
        ));
        return ask.rule;
    };
    let half = 0.5 * (low.high - low.low);
    answer.estimates.insert(
        "reference_case_error_needed".to_owned(),
        bare(
            factor * half,
            "half-width of the lower reference case below which flights can settle it",
        ),
    );
    answer.next.push(Step::measure(format!(
        "On the bench first: the lower reference case is known to ±{} only, and no number of flights \
         settles a question that the bench leaves open. It takes ±{}: repeat both full-throttle runs \
         with the same meter and scale, in turn, on packs alike full, until it is that narrow.",
        percent(half),
        percent(factor * half)
    )));
    narrowed(factor)
}

fn bare(value: f64, method: &str) -> Estimate {
    Estimate {
        low: None,
        high: None,
        ..Estimate::plus_minus(value, 0.0, "1", method)
    }
}

fn record_spread(spread: &Components, rows: &[FlightSpeed], answer: &mut Answer) {
    let parts = [
        (
            "scatter_between_flights",
            Some(spread.flight),
            "flights of a day, analysis of variance",
        ),
        (
            "scatter_between_days",
            Some(spread.day),
            "days, analysis of variance (method of moments)",
        ),
    ];
    for (key, part, of) in parts {
        let Some(part) = part else { continue };
        let method = if part.assumed {
            format!(
                "too few flights to tell: a usual value stands in (standard deviation between {of})"
            )
        } else {
            format!("standard deviation of log level speed between {of}")
        };
        answer.estimates.insert(
            key.to_owned(),
            Estimate {
                low: part.low,
                high: part.high,
                ..Estimate::plus_minus(part.sd, 0.0, "1", &method)
            }
            .count("flights", rows.len())
            .count("degrees of freedom", part.df),
        );
    }
    if let Some(pass) = spread.pass_sd {
        answer.estimates.insert(
            "scatter_between_passes".to_owned(),
            bare(
                pass,
                "standard deviation of one pass within a flight, from the flights' own standard errors",
            ),
        );
    }
}

fn record_plan(
    ask: &Ask,
    rule: &Rule,
    plan: &Plan,
    surer: Option<&Plan>,
    extremes: &[Option<Plan>; 2],
    spread: &Components,
    answer: &mut Answer,
) {
    let most = |plan: &Plan| {
        let (a, b) = plan.of_each();
        a.max(b) as f64
    };
    let key = match ask.sisters {
        Some(_) => "flights_needed_an_airframe",
        None => FLIGHTS_NEEDED,
    };
    let of = |plan: &Plan, power: &str| {
        bare(
            most(plan),
            &format!(
                "further flights of each, the fewest by which the verdict rule settles it in {power} \
                 seasons, whichever of the supposed gains is true; interval: that of the scatter"
            ),
        )
        .at("scatter", spread.flight.sd, "1")
        .at("margin", rule.margin, "1")
        .count("days", plan.days())
    };
    answer.estimates.insert(
        key.to_owned(),
        Estimate {
            low: extremes[0].as_ref().map(most),
            high: extremes[1].as_ref().map(most),
            ..of(plan, "8 of 10")
        },
    );
    if let Some(surer) = surer {
        answer
            .estimates
            .insert(format!("{key}_nine_in_ten"), of(surer, "9 of 10"));
    }
    answer.estimates.insert(
        "flying_days_needed".to_owned(),
        bare(plan.days() as f64, "days of the plan"),
    );
    for supposed in ask.supposed(rule) {
        let chance = ask.chance(rule, plan.precision, supposed.log_gain);
        answer.estimates.insert(
            format!("chance_settled_{}", supposed.key),
            bare(
                chance,
                "chance that the planned flights, with those flown, give the right verdict: exact for \
                 the verdict rule at this scatter",
            )
            .at("true_gain", supposed.log_gain.exp_m1(), "1"),
        );
    }
}

/// "4 more flights with each fan" or "3 more of the one and 2 of the other".
fn of_each(plan: &Plan, side: &str) -> String {
    let (baseline, candidate) = plan.of_each();
    if baseline == candidate || side == "airframe" {
        format!(
            "{} with each fan",
            counted(baseline.max(candidate), "more flight")
        )
    } else {
        format!(
            "{} with the baseline and {} with the candidate",
            counted(baseline, "more flight"),
            candidate
        )
    }
}

fn words(
    ask: &Ask,
    rule: &Rule,
    plan: &Plan,
    spread: &Components,
    passes: f64,
    side: &str,
) -> String {
    let chances: Vec<String> = ask
        .supposed(rule)
        .iter()
        .map(|s| {
            let chance = ask.chance(rule, plan.precision, s.log_gain);
            format!("{:.0} % if {}", 100.0 * chance, s.words)
        })
        .collect();
    let how = match plan.way {
        Way::CrossedOver => "both fans each day, one in each airframe, changed over between days",
        Way::ChangedAtTheField => "both fans each day",
        Way::OneFanADay => "one fan a day",
    };
    format!(
        "Fly {}, {passes:.0} passes a flight, on {} ({how}, in the order of the card). {}: the chance \
         that this settles it is {}.",
        of_each(plan, side),
        counted(plan.days(), "day"),
        scatter_words(spread, spread.flight.sd),
        list(&chances)
    )
}

fn scatter_words(spread: &Components, sd: f64) -> String {
    if spread.flight.assumed {
        format!(
            "At a usual scatter of {} between flights, taken since there are too few flights to tell",
            percent(sd)
        )
    } else {
        format!(
            "At this season's scatter of {} between flights",
            percent(sd)
        )
    }
}

fn no_plan(
    spread: &Components,
    sd: f64,
    rule: &Rule,
    most: Most,
    larger: Option<(f64, Plan)>,
) -> String {
    let mut text = format!(
        "{} no plan of up to {} and {} flights a day settles it at a smallest difference that matters \
         of {}: fly longer and more alike passes",
        scatter_words(spread, sd),
        counted(most.days, "day"),
        most.flights_a_day,
        percent(rule.margin)
    );
    if let Some((margin, plan)) = larger {
        text += &format!(
            ", or ask for {} (then {} on {} would do)",
            percent(margin),
            of_each(&plan, "fan"),
            counted(plan.days(), "day")
        );
    }
    text + "."
}

/// "a, b and c".
fn list(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [head @ .., last] => format!("{} and {last}", head.join(", ")),
    }
}
