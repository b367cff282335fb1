//! What limits the gain observed in flight: the parts of its interval, and the sentence on the largest.

use crate::findings::answer::{Answer, DataCell, DataColumn, DataTable};
use crate::findings::evidence::{Evidence, percent};
use crate::findings::observed::Observed;
use crate::stats::normal_quantile;

/// A part: in words, its half-width alone (of the log speed, 95 %), and what would lessen it.
struct Part {
    words: String,
    half: f64,
    remedy: &'static str,
}

/// The parts as a table, and the sentence on the largest into the answer.
pub fn record(evidence: &Evidence, answer: &mut Answer, observed: &Observed) -> Option<DataTable> {
    let effect = observed.gain.effect.as_ref()?;
    let k = normal_quantile(0.975);
    let scatter = 0.5 * (effect.high.ln_1p() - effect.low.ln_1p());
    let mut parts = vec![Part {
        words: "scatter of the flights".to_owned(),
        half: scatter,
        remedy: "more flights lessen it",
    }];
    for (words, remedy, error) in observed.causes(evidence, effect) {
        parts.push(Part {
            words,
            half: k * error,
            remedy,
        });
    }
    if let Some((name, error)) = observed.method_error(effect) {
        parts.push(Part {
            words: format!("disagreement with level speeds by {name}"),
            half: k * error,
            remedy: "longer passes, more of them each way, lessen it",
        });
    }
    let total: f64 = parts.iter().map(|p| p.half * p.half).sum();
    if total <= 0.0 {
        return None;
    }
    parts.retain(|p| p.half * p.half >= 1e-4 * total);
    parts.sort_by(|a, b| b.half.total_cmp(&a.half));
    let share = |part: &Part| part.half * part.half / total;
    let gain = |half: f64| (1.0 + effect.gain) * half;
    let halved = |part: &Part| gain((total - 0.75 * part.half * part.half).max(0.0).sqrt());
    if let Some(largest) = parts.first() {
        let others: Vec<String> = parts
            .iter()
            .skip(1)
            .take(2)
            .filter(|p| share(p) >= 0.05)
            .map(|p| format!("{} {:.0} %", p.words, 100.0 * share(p)))
            .collect();
        let others = if others.is_empty() {
            String::new()
        } else {
            format!(" ({})", others.join(", "))
        };
        answer.remarks.push(format!(
            "What limits the gain in flight most is the {}: {:.0} % of the interval's squared half-width\
             {others}. With half of it the gain would be known to ±{} instead of ±{}; {}.",
            largest.words,
            100.0 * share(largest),
            percent(halved(largest)),
            percent(gain(total.sqrt())),
            largest.remedy
        ));
    }
    Some(DataTable {
        id: format!("flight-budget-{}", answer.id),
        title: "What limits the gain in level top speed as on the same pack".to_owned(),
        columns: vec![
            DataColumn::new("error", "", 0),
            DataColumn::new("share of the squared half-width", "1", 3),
            DataColumn::new("half-width of the gain by it alone", "1", 4),
            DataColumn::new("half-width of the gain with half this error", "1", 4),
        ],
        rows: parts
            .iter()
            .map(|part| {
                vec![
                    DataCell::Text(part.words.clone()),
                    DataCell::Number(share(part)),
                    DataCell::Number(gain(part.half)),
                    DataCell::Number(halved(part)),
                ]
            })
            .collect(),
    })
}
