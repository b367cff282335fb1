//! The site and the things that fly: `[site]`, `[airframe.*]`, `[controller.*]`, `[pack.*]`,
//! `[power.*]`.

use std::collections::BTreeMap;
use std::f64::consts::PI;

use chrono_tz::{TZ_VARIANTS, Tz};

use super::bounds;
use super::toml_reader::{Context, Node};
use super::wording::{did_you_mean, one_of};
use super::{Airframe, Controller, Declared, Finding, Pack, Power, Site};
use crate::units::nearest;

/// Hub of a fan as a part of its diameter where unknown: common practice, no source.
const HUB_RATIO: f64 = 0.4;
/// Resistance of a cell of 3.3 Ah where unknown, ohm: common practice, no source.
const CELL_RESISTANCE: f64 = 1.5e-3;
const CELL_CHARGE: f64 = 3.3 * 3600.0;

/// Everything declared under one kind of section; `ids` also holds those that could not be read.
pub(super) struct Read<T> {
    pub entries: BTreeMap<String, T>,
    /// All declared ids, in file order.
    pub ids: Vec<String>,
}

impl<T> Read<T> {
    fn all(
        cx: &mut Context,
        root: &Node,
        kind: &str,
        known: &[&'static str],
        mut entry: impl FnMut(&mut Context, &Node, &str) -> Option<T>,
    ) -> Self {
        let mut read = Self {
            entries: BTreeMap::new(),
            ids: Vec::new(),
        };
        for (id, table, span) in root.sections(cx, kind) {
            let node = Node::new(cx, format!("{kind}.{id}"), table, span, known);
            if let Some(entry) = entry(cx, &node, &id) {
                read.entries.insert(id.clone(), entry);
            }
            read.ids.push(id);
        }
        read
    }

    /// Ids that were read, in file order.
    pub fn usable(&self) -> Vec<&str> {
        let usable = |id: &&String| self.entries.contains_key(*id);
        self.ids.iter().filter(usable).map(String::as_str).collect()
    }
}

/// The id under `key`, if something of `kind` is declared by that id.
pub(super) fn reference(
    cx: &mut Context,
    node: &Node,
    key: &str,
    kind: &str,
    declared: &[String],
) -> Option<String> {
    let (id, span) = node.text(cx, key)?;
    if declared.contains(&id) {
        return Some(id);
    }
    let finding = unknown_id(kind, &id, declared);
    cx.report(finding, &span);
    None
}

/// The complaint about an id that nothing is declared by.
pub(super) fn unknown_id(kind: &str, id: &str, declared: &[String]) -> Finding {
    let words = || declared.iter().map(String::as_str);
    let otherwise = format!("Declare it under [{kind}.{id}], or use a declared id.");
    Finding::error(
        &format!("unknown-{kind}"),
        format!("no {kind} '{id}' is declared"),
        did_you_mean(nearest(id, words()), &otherwise),
    )
    .expected(one_of(words()))
}

pub(super) fn declared(value: f64) -> Declared {
    Declared {
        value,
        is_default: false,
    }
}

pub(super) fn assumed(value: f64) -> Declared {
    Declared {
        value,
        is_default: true,
    }
}

fn name(cx: &mut Context, node: &Node, id: &str) -> String {
    node.text(cx, "name")
        .map_or_else(|| id.to_owned(), |(name, _)| name)
}

/// A zone by its city, or one that is two letters off at most: a wrong zone would shift every clock.
fn near_zone(word: &str) -> Option<&'static str> {
    let names = || TZ_VARIANTS.iter().map(|zone| zone.name());
    let city = |name: &str| {
        name.rsplit('/')
            .next()
            .is_some_and(|c| c.eq_ignore_ascii_case(word))
    };
    let close =
        |name: &&str| strsim::damerau_levenshtein(&name.to_lowercase(), &word.to_lowercase()) <= 2;
    let by_city = names().find(|name| city(name));
    by_city.or_else(|| nearest(word, names()).filter(close))
}

pub(super) fn site(cx: &mut Context, root: &Node) -> Site {
    let Some((table, span)) = root.table(cx, "site") else {
        return Site::default();
    };
    let node = Node::new(cx, "site", table, span, &["name", "elevation", "zone"]);
    let zone = node.text(cx, "zone").and_then(|(word, span)| {
        let zone = word.parse::<Tz>().ok();
        if zone.is_none() {
            let near = near_zone(&word);
            let finding = Finding::error(
                "unknown-zone",
                format!("no time zone '{word}'"),
                did_you_mean(near, "Use a name of the IANA time zone database."),
            )
            .expected("a name such as Europe/Vienna");
            cx.report(finding, &span);
        }
        zone
    });
    Site {
        name: node.text(cx, "name").map_or_else(String::new, |(n, _)| n),
        elevation_m: node.quantity(cx, "elevation", &bounds::ELEVATION),
        zone,
    }
}

pub(super) fn airframes(cx: &mut Context, root: &Node) -> Read<Airframe> {
    let known = [
        "name",
        "mass",
        "wing_area",
        "span",
        "stall_speed",
        "load_factor_limit",
        "negative_load_factor_limit",
        "speed_limit",
        "mean_chord",
        "joint_arm",
        "unit_arm",
        "pack_arm",
    ];
    Read::all(cx, root, "airframe", &known, |cx, node, id| {
        Some(Airframe {
            name: name(cx, node, id),
            mass_kg: node.quantity(cx, "mass", &bounds::MASS),
            wing_area_m2: node.quantity(cx, "wing_area", &bounds::WING_AREA),
            span_m: node.quantity(cx, "span", &bounds::SPAN),
            stall_speed_m_s: node.quantity(cx, "stall_speed", &bounds::STALL),
            load_factor_limit: node.number(cx, "load_factor_limit", (1.0, 100.0)),
            negative_load_factor_limit: node.number(
                cx,
                "negative_load_factor_limit",
                (-100.0, 0.0),
            ),
            speed_limit_m_s: node.quantity(cx, "speed_limit", &bounds::PASS_SPEED),
            mean_chord_m: node.quantity(cx, "mean_chord", &bounds::SPAN),
            joint_arm_m: node.quantity(cx, "joint_arm", &bounds::JOINT_ARM),
            unit_arm_m: node.quantity(cx, "unit_arm", &bounds::ARM),
            pack_arm_m: node.quantity(cx, "pack_arm", &bounds::ARM),
        })
    })
}

pub(super) fn controllers(cx: &mut Context, root: &Node) -> Read<Controller> {
    let known = [
        "name",
        "continuous",
        "burst",
        "burst_time",
        "temperature_limit",
    ];
    Read::all(cx, root, "controller", &known, |cx, node, id| {
        let controller = Controller {
            name: name(cx, node, id),
            continuous_a: node.quantity(cx, "continuous", &bounds::AMPS),
            burst_a: node.quantity(cx, "burst", &bounds::AMPS),
            burst_s: node.quantity(cx, "burst_time", &bounds::BURST_TIME),
            temperature_limit_k: node.quantity(cx, "temperature_limit", &bounds::PART_TEMPERATURE),
        };
        if let (Some(continuous), Some(burst)) = (controller.continuous_a, controller.burst_a)
            && burst < continuous
        {
            let what = format!(
                "the burst rating of '{id}' ({burst} A) is below its continuous rating ({continuous} A)"
            );
            let to_do = "Correct one of them; they may be exchanged.";
            let span = node.get("burst").map_or(node.span.clone(), |v| v.span());
            cx.report(Finding::error("not-physical", what, to_do), &span);
            return Some(Controller {
                continuous_a: None,
                burst_a: None,
                ..controller
            });
        }
        Some(controller)
    })
}

pub(super) fn packs(cx: &mut Context, root: &Node) -> Read<Pack> {
    let known = [
        "name",
        "chemistry",
        "cells",
        "capacity",
        "c_rating",
        "resistance",
        "mass",
    ];
    Read::all(cx, root, "pack", &known, |cx, node, id| {
        let complete =
            node.require(cx, "cells", "4") & node.require(cx, "capacity", "\"3300 mAh\"");
        let name = name(cx, node, id);
        let chemistry = node.text(cx, "chemistry").map(|(word, _)| word);
        let cells = node.count(cx, "cells", (1, 40));
        let capacity = node.quantity(cx, "capacity", &bounds::CAPACITY);
        let c_rating = node.number(cx, "c_rating", (0.5, 500.0));
        let resistance = node.quantity(cx, "resistance", &bounds::OHM);
        let mass_kg = node.quantity(cx, "mass", &bounds::PART_MASS);
        let (true, Some(cells), Some(capacity_c)) = (complete, cells, capacity) else {
            return None;
        };
        let chemistry = chemistry.unwrap_or_else(|| {
            let buys = "cell voltages that belong to the chemistry, for the reserve and the sag";
            cx.default(node.join("chemistry"), "LiPo".to_owned(), buys);
            "LiPo".to_owned()
        });
        let resistance_ohm = resistance.map_or_else(
            || {
                let value = CELL_RESISTANCE * f64::from(cells) * CELL_CHARGE / capacity_c;
                let words = format!(
                    "{:.1} mohm (1.5 mohm a cell of 3300 mAh, less for a larger one; common practice, no source)",
                    value * 1e3
                );
                let buys = "a surer comparison on the same pack where no flight log shows the sag";
                cx.default(node.join("resistance"), words, buys);
                assumed(value)
            },
            declared,
        );
        Some(Pack {
            name,
            chemistry,
            cells,
            capacity_c,
            c_rating,
            resistance_ohm,
            mass_kg,
        })
    })
}

pub(super) fn powers(
    cx: &mut Context,
    root: &Node,
    controller_ids: &[String],
    pack_ids: &[String],
) -> Read<Power> {
    let known = [
        "name",
        "fan_diameter",
        "hub_diameter",
        "blades",
        "outlet_area",
        "outlet_diameter",
        "motor_kv",
        "motor_resistance",
        "motor_no_load_current",
        "unit_mass",
        "controller",
        "pack",
    ];
    Read::all(cx, root, "power", &known, |cx, node, id| {
        let name = name(cx, node, id);
        let fan = node.quantity(cx, "fan_diameter", &bounds::FAN);
        let hub = node.quantity(cx, "hub_diameter", &bounds::FAN);
        let blades = node.count(cx, "blades", (1, 50));
        let area = node.quantity(cx, "outlet_area", &bounds::OUTLET);
        let diameter = node.quantity(cx, "outlet_diameter", &bounds::FAN);
        let kv = node.quantity(cx, "motor_kv", &bounds::KV);
        let resistance = node.quantity(cx, "motor_resistance", &bounds::OHM);
        let no_load = node.quantity(cx, "motor_no_load_current", &bounds::AMPS);
        let unit_mass_kg = node.quantity(cx, "unit_mass", &bounds::PART_MASS);
        let controller = reference(cx, node, "controller", "controller", controller_ids);
        let pack = reference(cx, node, "pack", "pack", pack_ids);
        // A diameter that is there but cannot be read is an error of its own; nothing is guessed for it.
        if fan.is_none() && node.get("fan_diameter").is_some() {
            return None;
        }
        let hub_m = hub.filter(|hub| fan.is_none_or(|fan_m| hub_fits(cx, node, *hub, fan_m)));
        let outlet = area.or(diameter.map(|d| PI / 4.0 * d * d));
        let outlet =
            outlet.filter(|area| fan.is_none_or(|fan_m| outlet_fits(cx, node, *area, fan_m)));
        Some(Power {
            name,
            fan_diameter_m: fan,
            hub_diameter_m: hub_m,
            blades,
            outlet_area_m2: match (outlet, fan) {
                (Some(area), _) => Some(declared(area)),
                (None, Some(fan_m)) => Some(usual_outlet(cx, node, fan_m, hub_m)),
                (None, None) => {
                    no_outlet(cx, node);
                    None
                }
            },
            motor_kv_rad_s_v: kv,
            motor_resistance_ohm: resistance,
            motor_no_load_current_a: no_load,
            unit_mass_kg,
            controller,
            pack,
        })
    })
}

fn usual_outlet(cx: &mut Context, node: &Node, fan_m: f64, hub_m: Option<f64>) -> Declared {
    let hub = hub_m.unwrap_or(HUB_RATIO * fan_m);
    let area = PI / 4.0 * (fan_m * fan_m - hub * hub);
    let words = format!(
        "{:.1} cm2 (swept area less {})",
        area * 1e4,
        if hub_m.is_some() {
            "the hub"
        } else {
            "a hub of 0.4 of the diameter; common practice, no source"
        }
    );
    let buys = "the jet speed from the thrust, so a check of the anemometer and of the efficiency";
    cx.default(node.join("outlet_area"), words, buys);
    assumed(area)
}

/// Neither outlet nor fan is known: what cannot be told without is left out, nothing is guessed.
fn no_outlet(cx: &mut Context, node: &Node) {
    let words =
        "unknown (no fan_diameter either): outlets count as equal between two systems, and \
                 the checks that need one are left out"
            .to_owned();
    let buys = "the figure of merit as a number of its own, and the checks of exhaust speed and jet \
                power against the thrust; a fan's diameter gets most of it";
    cx.default(node.join("outlet_area"), words, buys);
}

fn hub_fits(cx: &mut Context, node: &Node, hub_m: f64, fan_m: f64) -> bool {
    if hub_m < 0.9 * fan_m {
        return true;
    }
    let what = format!(
        "the hub ({:.1} mm) leaves no room for blades in a fan of {:.1} mm",
        hub_m * 1e3,
        fan_m * 1e3
    );
    let span = node
        .get("hub_diameter")
        .map_or(node.span.clone(), |v| v.span());
    let finding = Finding::error("not-physical", what, "Correct the hub or the fan diameter.");
    cx.report(finding.expected("less than 0.9 of the fan diameter"), &span);
    false
}

/// A nozzle is narrower than the fan or about as wide; an area a decimal place off is a slip.
fn outlet_fits(cx: &mut Context, node: &Node, area_m2: f64, fan_m: f64) -> bool {
    let swept = PI / 4.0 * fan_m * fan_m;
    if (0.2 * swept..=2.0 * swept).contains(&area_m2) {
        return true;
    }
    let key = if node.get("outlet_area").is_some() {
        "outlet_area"
    } else {
        "outlet_diameter"
    };
    let what = format!(
        "an outlet of {:.1} cm2 does not go with a fan that sweeps {:.1} cm2",
        area_m2 * 1e4,
        swept * 1e4
    );
    let span = node.get(key).map_or(node.span.clone(), |v| v.span());
    let finding = Finding::error(
        "not-physical",
        what,
        "Correct the outlet or the fan diameter.",
    );
    cx.report(finding.expected("0.2 to 2 times the swept area"), &span);
    false
}
