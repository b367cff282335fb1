//! A season in text: what it must read as, and each kind of mistake with its place.
//! The formats are our own; only encodings and calendar facts come from outside, named beside.

mod csv;
mod mistakes;

use benchborne::ingest::Channel;
use benchborne::season::{
    CHANNELS, Finding, Loaded, QuestionKind, Season, SeasonText, load, margin_digest,
    usual_accuracy,
};

const GOOD: &str = r##"title = "Two sister jets, two fans"
invented = true
[site]
name = "The long field"
elevation = "312 m"
zone = "Europe/Vienna"
[airframe.alder]
name = "Alder"
mass = "2.41 kg"
wing_area = "24 dm2"
span = "0,98 m"
stall_speed = "13 m/s"
load_factor_limit = 6.0
[airframe.birch]
[controller.c80]
continuous = "80 A"
burst = "100 A"
burst_time = "10 s"
[pack.p1]
chemistry = "LiPo"
cells = 4
capacity = "3300 mAh"
c_rating = 45
resistance = "12 mohm"
[pack.p2]
cells = 6
capacity = "4.0 Ah"
[power.stock]
name = "Six blades"
fan_diameter = "70 mm"
hub_diameter = "28 mm"
blades = 6
outlet_area = "33 cm2"
motor_kv = "2900 rpm/V"
motor_resistance = "12 mohm"
motor_no_load_current = "2.1 A"
controller = "c80"
pack = "p1"
[power.swap]
fan_diameter = "70 mm"
[instrument.meter]
[instrument.meter.voltage]
accuracy = "1 %"
absolute = "0.02 V"
resolution = "0.01 V"
range_end = "60 V"
peak_hold = true
[instrument.meter.current]
absolute = "0.5 A"
[[bench]]
id = "stock-a"
power = "stock"
airframe = "alder"
file = "bench/stock.csv"
date = "2025-04-12"
temperature = "14 degC"
pressure = "986 hPa"
humidity = "60 %"
instruments = ["meter"]
equal_duty = true
[bench.channels]
throttle = { column = "Stick", unit = "%", ends = [0, 100] }
thrust = "Pull [ozf]"
rpm = { column = "#4", scale = 0.1428 }
[[bench]]
power = "swap"
file = "bench\\swap.csv"
date = 2025-04-13
[[logs]]
id = "radio"
files = "logs/radio-*.csv"
rate = "10 Hz"
[logs.channels]
throttle = { column = "Thr", unit = "us", ends = [1100, 1900] }
[[question]]
kind = "carry-over"
baseline = "stock"
candidate = "swap"
margin = "3 %"
[rules]
headroom = "30 %"
reserve = "25 %"
[[option]]
name = "stronger controller"
controller = "c80"
pack = "p2"
added_mass = "60 g"
cost = "one evening"
"##;

fn toml_only(text: &str) -> Loaded {
    load(&SeasonText {
        season_toml: text,
        ..SeasonText::default()
    })
}

fn good() -> Season {
    toml_only(GOOD).season.unwrap()
}

/// GOOD with one line changed; also the 1-based number of that line.
fn changed(from: &str, to: &str) -> (String, u32) {
    let at = GOOD.find(from).expect("the line stands in GOOD");
    let line = GOOD[..at].matches('\n').count() as u32 + 1;
    (GOOD.replacen(from, to, 1), line)
}

/// `code:line:column` of each finding.
fn places(findings: &[Finding]) -> Vec<String> {
    let place = |f: &Finding| {
        let place = f.place.clone().unwrap_or_default();
        let (line, column) = (place.line.unwrap_or(0), place.column.unwrap_or(0));
        format!("{}:{line}:{column}", f.code)
    };
    findings.iter().map(place).collect()
}

fn near(value: f64, wanted: f64) -> bool {
    (value - wanted).abs() <= 1e-12 * wanted.abs().max(1e-12)
}

#[test]
fn a_good_season_is_read_in_si() {
    let loaded = toml_only(GOOD);
    assert_eq!(loaded.findings, []);
    let season = loaded.season.unwrap();
    assert!(season.invented);
    assert_eq!(season.site.elevation_m, Some(312.0));
    assert_eq!(season.site.zone, Some(chrono_tz::Europe::Vienna));
    let alder = &season.airframes["alder"];
    assert_eq!((alder.mass_kg, alder.span_m), (Some(2.41), Some(0.98)));
    assert!(near(alder.wing_area_m2.unwrap(), 0.24));
    assert_eq!(season.airframes["birch"].name, "birch");
    let stock = season.power("stock").unwrap();
    assert!(
        near(stock.fan_diameter_m.unwrap(), 0.07) && near(stock.hub_diameter_m.unwrap(), 0.028)
    );
    let outlet = stock.outlet_area_m2.unwrap();
    assert!(near(outlet.value, 33e-4) && !outlet.is_default);
    let rad_s = 2900.0 * std::f64::consts::TAU / 60.0;
    assert!(near(stock.motor_kv_rad_s_v.unwrap(), rad_s));
    assert_eq!(season.controller_of("stock").unwrap().burst_s, Some(10.0));
    assert!(season.controller_of("swap").is_none());
    assert!(near(season.packs["p1"].capacity_c, 3.3 * 3600.0));
    assert!(near(season.packs["p1"].resistance_ohm.value, 0.012));
    let bench = &season.benches[0];
    assert!(near(bench.temperature_k.unwrap(), 287.15));
    assert!(near(bench.pressure_pa.unwrap(), 98_600.0));
    assert_eq!(bench.channels["throttle"].ends, Some((0.0, 100.0)));
    assert_eq!(bench.channels["thrust"].column, "Pull [ozf]");
    assert_eq!(bench.channels["angular_speed"].scale, Some(0.1428));
    assert_eq!(bench.line, 50);
    assert_eq!(season.benches[1].file, "bench/swap.csv");
    assert_eq!(season.benches[1].id, "swap");
    assert_eq!(season.benches[1].date.unwrap().to_string(), "2025-04-13");
    assert_eq!(season.logs[0].rate_hz, Some(10.0));
    assert_eq!(season.rules.headroom.value, 0.30);
    assert!(!season.rules.headroom.is_default && season.rules.full_throttle.is_default);
    assert!(near(season.options[0].added_mass_kg.unwrap(), 0.06));
}

#[test]
fn every_default_is_listed_with_what_knowing_it_would_buy() {
    let season = good();
    let keys: Vec<_> = season.defaults.iter().map(|d| d.key.as_str()).collect();
    assert_eq!(
        keys,
        [
            "pack.p2.chemistry",
            "pack.p2.resistance",
            "power.swap.outlet_area",
            "rules.full_throttle",
            "rules.pass_minimum",
            "rules.flights_a_day",
            "bench.swap.instruments",
        ]
    );
    assert!(season.defaults.iter().all(|d| !d.would_buy.is_empty()));
    // Swept area of 70 mm less a hub of 0.4: pi/4 (0.07² - 0.028²).
    let outlet = season.powers["swap"].outlet_area_m2.unwrap();
    assert!(outlet.is_default && (outlet.value - 32.3270e-4).abs() < 1e-8);
    // 1.5 mohm x 6 cells x 3.3 / 4.0.
    let resistance = season.packs["p2"].resistance_ohm;
    assert!(resistance.is_default && near(resistance.value, 7.425e-3));
}

#[test]
fn a_fan_may_be_undeclared_and_its_outlet_is_then_unknown() {
    let loaded = toml_only("[power.a]\n[power.b]\noutlet_area = \"33 cm2\"\n");
    assert_eq!(loaded.findings, []);
    let season = loaded.season.unwrap();
    let (a, b) = (&season.powers["a"], &season.powers["b"]);
    assert_eq!((a.fan_diameter_m, a.outlet_area_m2), (None, None));
    assert!(near(b.outlet_area_m2.unwrap().value, 33e-4));
    let default = season.defaults.iter().find(|d| d.key.contains("outlet"));
    let default = default.unwrap();
    assert_eq!(default.key, "power.a.outlet_area");
    assert!(default.would_buy.contains("figure of merit"));
}

#[test]
fn instruments_nobody_declared_are_assumed_and_not_shared() {
    let season = good();
    let (id, accuracy) = season.accuracy(&season.benches[0], "voltage").unwrap();
    assert_eq!((id.as_str(), accuracy.fraction.value), ("meter", 0.01));
    assert!(accuracy.peak_hold && !accuracy.fraction.is_default);
    // An absolute limit alone is a whole statement.
    let (_, current) = season.accuracy(&season.benches[0], "current").unwrap();
    assert_eq!((current.fraction.value, current.absolute.value), (0.0, 0.5));
    let (a, thrust) = season.accuracy(&season.benches[0], "thrust").unwrap();
    let (b, _) = season.accuracy(&season.benches[1], "thrust").unwrap();
    assert_eq!(thrust, usual_accuracy("thrust").unwrap());
    assert!(thrust.fraction.is_default && a != b);
    assert!(season.accuracy(&season.benches[1], "satellites").is_none());
}

#[test]
fn channel_words_are_those_of_the_reader() {
    for (word, _) in CHANNELS {
        let channel: Result<Channel, _> = serde_json::from_str(&format!("\"{word}\""));
        assert!(channel.is_ok(), "{word}");
    }
}

#[test]
fn questions_not_declared_are_derived() {
    let season = good();
    let kinds: Vec<_> = season.questions.iter().map(|q| q.kind).collect();
    use QuestionKind::*;
    assert_eq!(
        kinds,
        [
            CarryOver,
            PowerAndDuration,
            Controller,
            Airframe,
            Pack,
            Sisters,
            Next
        ]
    );
    assert_eq!(
        (season.questions[0].line, season.questions[1].line),
        (75, 0)
    );
    // Derived ones keep the pair and the margin that was declared.
    assert!(season.questions.iter().all(|q| q.margin.value == 0.03));
    let sisters = &season.questions[5];
    assert_eq!(
        (sisters.baseline.as_str(), sisters.candidate.as_str()),
        ("alder", "birch")
    );

    // Without a declaration the first power system in the file is the baseline.
    let season =
        toml_only("[power.z]\nfan_diameter = \"70 mm\"\n[power.a]\nfan_diameter = \"70 mm\"\n")
            .season
            .unwrap();
    assert_eq!(season.questions.len(), 6);
    assert!(
        season
            .questions
            .iter()
            .all(|q| q.baseline == "z" && q.candidate == "a")
    );
    assert!(
        season
            .questions
            .iter()
            .all(|q| q.margin.is_default && q.margin.value == 0.02)
    );
}

#[test]
fn one_power_system_has_nothing_to_carry_over() {
    let season = toml_only("[power.a]\nfan_diameter = \"70 mm\"\n")
        .season
        .unwrap();
    let kinds: Vec<_> = season.questions.iter().map(|q| q.kind.word()).collect();
    assert_eq!(kinds, ["power-and-duration", "controller", "pack", "next"]);
}

#[test]
fn the_margin_digest_follows_the_margin_and_nothing_else() {
    let before = margin_digest(&good());
    assert_eq!(before.len(), 16);
    let other =
        |from: &str, to: &str| margin_digest(&toml_only(&changed(from, to).0).season.unwrap());
    assert_ne!(before, other("margin = \"3 %\"", "margin = \"2 %\""));
    assert_eq!(before, other("margin = \"3 %\"", "margin = 0.03"));
    assert_eq!(before, other("mass = \"2.41 kg\"", "mass = \"2.5 kg\""));
}

#[test]
fn text_files_are_decoded_by_mark_and_by_content() {
    let decode = |bytes: &[u8]| {
        benchborne::ingest::encoding::decode(bytes)
            .text
            .into_owned()
    };
    // "°C;Größe" in Windows-1252, UTF-8 and UTF-16 (code charts of Unicode, ISO 8859-1).
    let latin: &[u8] = b"\xB0C;Gr\xF6\xDFe";
    assert_eq!(decode(latin), "°C;Größe");
    assert_eq!(decode("°C;Größe".as_bytes()), "°C;Größe");
    assert_eq!(decode(b"\xEF\xBB\xBFabc"), "abc");
    assert_eq!(decode(b"\xFF\xFEa\0b\0c\0"), "abc");
    assert_eq!(decode(b"\xFE\xFF\0a\0b\0c"), "abc");
    assert_eq!(decode(b"f\0l\0i\0g\0h\0t\0"), "flight");
    assert_eq!(decode(b"\0f\0l\0i\0g\0h\0t"), "flight");
    assert_eq!(decode(b""), "");
}
