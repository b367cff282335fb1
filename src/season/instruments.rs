//! `[instrument.*]`: what measures what, how well; and what is assumed where nothing is declared.

use std::collections::BTreeMap;

use toml::de::DeValue;

use super::bounds::{self, Bound};
use super::channels::{channel, channel_words};
use super::sections::{assumed, declared};
use super::toml_reader::{Context, Node, by_place, type_of};
use super::wording::{did_you_mean, one_of};
use super::{Accuracy, BenchDecl, Finding, Instrument, Season};
use crate::units::nearest;

/// Accuracy limits assumed where none is declared, as a fraction of the reading: common practice,
/// no source. The power of a watt meter has the errors of its volts and amps together.
const USUAL: &[(&str, f64, &str)] = &[
    ("voltage", 0.02, "watt meter"),
    ("current", 0.03, "watt meter"),
    ("power", 0.04, "watt meter"),
    ("thrust", 0.02, "hanging scale"),
    ("exhaust_speed", 0.03, "vane anemometer"),
    ("angular_speed", 0.005, "optical rpm meter"),
];

/// What is assumed of an instrument for `channel` where nothing is declared.
pub fn usual_accuracy(channel: &str) -> Option<Accuracy> {
    let (_, fraction, _) = USUAL.iter().find(|(word, _, _)| *word == channel)?;
    Some(Accuracy {
        fraction: assumed(*fraction),
        absolute: assumed(0.0),
        resolution: assumed(0.0),
        range_end: None,
        peak_hold: false,
    })
}

pub(super) struct Instruments {
    pub entries: BTreeMap<String, Instrument>,
    pub ids: Vec<String>,
}

pub(super) fn instruments(cx: &mut Context, root: &Node) -> Instruments {
    let mut read = Instruments {
        entries: BTreeMap::new(),
        ids: Vec::new(),
    };
    for (id, table, span) in root.sections(cx, "instrument") {
        let mut instrument = Instrument {
            name: id.clone(),
            measures: BTreeMap::new(),
        };
        for (key, value) in by_place(table) {
            let word: &str = key.get_ref();
            let path = format!("instrument.{id}.{word}");
            match (word, value.get_ref()) {
                ("name", DeValue::String(name)) => instrument.name = name.to_string(),
                (_, DeValue::Table(inner)) => {
                    let Some((channel, quantity)) = channel(word) else {
                        let what = format!("'{path}': no quantity is called '{word}'");
                        let near = nearest(word, channel_words());
                        let to_do = did_you_mean(near, "Use one of these words.");
                        let finding = Finding::error("unknown-channel", what, to_do)
                            .expected(one_of(channel_words()));
                        cx.report(finding, &key.span());
                        continue;
                    };
                    let known = [
                        "accuracy",
                        "absolute",
                        "resolution",
                        "range_end",
                        "peak_hold",
                    ];
                    let node = Node::new(cx, path, inner, key.span(), &known);
                    let accuracy = accuracy(cx, &node, channel, quantity);
                    instrument.measures.insert(channel.to_owned(), accuracy);
                }
                (_, other) => {
                    let what = format!("'{path}' is {}", type_of(other));
                    let to_do =
                        format!("Write the accuracy under [instrument.{id}.voltage] or alike.");
                    let finding = Finding::error("wrong-type", what, to_do)
                        .expected("a name, or a section for each quantity measured");
                    cx.report(finding, &key.span());
                }
            }
        }
        if instrument.measures.is_empty() {
            let what = format!("instrument '{id}' measures nothing");
            let to_do = format!("Add a section such as [instrument.{id}.voltage].");
            cx.report(Finding::warning("no-quantity", what, to_do), &span);
        }
        read.ids.push(id.clone());
        read.entries.insert(id, instrument);
    }
    read
}

fn accuracy(
    cx: &mut Context,
    node: &Node,
    channel: &str,
    quantity: crate::units::Quantity,
) -> Accuracy {
    let size = |low, words, difference| Bound {
        quantity,
        low,
        high: f64::MAX,
        words,
        difference,
    };
    let fraction = node.quantity(cx, "accuracy", &bounds::FRACTION);
    let absolute = node.quantity(cx, "absolute", &size(0.0, "0 or more", true));
    let resolution = node.quantity(cx, "resolution", &size(0.0, "0 or more", true));
    let range_end = node.quantity(
        cx,
        "range_end",
        &size(f64::MIN_POSITIVE, "more than 0", false),
    );
    let peak_hold = node.boolean(cx, "peak_hold").unwrap_or(false);
    let fraction = match (fraction, absolute, usual_accuracy(channel)) {
        (Some(fraction), _, _) => declared(fraction),
        // An absolute limit alone is a whole statement.
        (None, Some(_), _) => declared(0.0),
        (None, None, Some(usual)) => {
            let words = format!(
                "{} % of the reading (common practice, no source)",
                usual.fraction.value * 100.0
            );
            let buys = "a narrower static gain, if the instrument is better than that";
            cx.default(node.join("accuracy"), words, buys);
            usual.fraction
        }
        (None, None, None) => assumed(0.0),
    };
    Accuracy {
        fraction,
        absolute: absolute.map_or_else(|| assumed(0.0), declared),
        resolution: resolution.map_or_else(|| assumed(0.0), declared),
        range_end,
        peak_hold,
    }
}

/// Gives benches without declared instruments usual ones. Each bench gets its own: that both sides
/// share an instrument, so that its scale error cancels in the gain, is the pilot's to say.
pub(super) fn assume_instruments(
    cx: &mut Context,
    benches: &mut [BenchDecl],
    instruments: &mut BTreeMap<String, Instrument>,
) {
    for bench in benches.iter_mut().filter(|b| b.instruments.is_empty()) {
        let id = format!("usual:{}", bench.id);
        let measures = USUAL
            .iter()
            .filter_map(|(word, _, _)| Some(((*word).to_owned(), usual_accuracy(word)?)))
            .collect();
        let name = format!("usual instruments (assumed) of bench {}", bench.id);
        instruments.insert(id.clone(), Instrument { name, measures });
        bench.instruments.push(id);
        let words: Vec<_> = USUAL
            .iter()
            .map(|(word, fraction, what)| format!("{what} {word} {} %", fraction * 100.0))
            .collect();
        cx.default(
            format!("bench.{}.instruments", bench.id),
            format!("{} (common practice, no source)", words.join(", ")),
            "a much narrower static gain: the scale error of an instrument used on both sides cancels",
        );
    }
}

impl Season {
    /// Which instrument of `bench` measured `channel`, and how well; the usual accuracy stands in
    /// where none of its instruments measures it.
    pub fn accuracy(&self, bench: &BenchDecl, channel: &str) -> Option<(String, Accuracy)> {
        let declared = bench.instruments.iter().find_map(|id| {
            let accuracy = self.instruments.get(id)?.measures.get(channel)?;
            Some((id.clone(), accuracy.clone()))
        });
        declared.or_else(|| {
            let accuracy = usual_accuracy(channel)?;
            Some((format!("usual:{}:{channel}", bench.id), accuracy))
        })
    }
}
