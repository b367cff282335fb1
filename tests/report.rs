//! The report: what it shows is what the JSON holds, and it is put down whole or not at all.

mod fixture;
mod html;
mod pictures;
mod writing;

use std::sync::OnceLock;

use benchborne::findings::{Across, DataCell, Findings, Mark};
use benchborne::report::{FINDINGS_SCHEMA, Rendered, ReportError, render};
use serde_json::Value;

fn file<'a>(rendered: &'a Rendered, name: &str) -> &'a [u8] {
    &rendered.files.iter().find(|(n, _)| n == name).unwrap().1
}

fn page(rendered: &Rendered) -> String {
    String::from_utf8(file(rendered, "index.html").to_vec()).unwrap()
}

/// All pages of the report with their names; the card has tests of its own.
fn pages(rendered: &Rendered) -> Vec<(String, String)> {
    let pages = rendered.files.iter();
    let pages = pages.filter(|(name, _)| name.ends_with(".html") && name != "next.html");
    pages
        .map(|(name, bytes)| (name.clone(), String::from_utf8(bytes.clone()).unwrap()))
        .collect()
}

fn json(rendered: &Rendered) -> Value {
    serde_json::from_slice(file(rendered, "findings.json")).unwrap()
}

struct Case {
    name: &'static str,
    findings: Findings,
    rendered: Rendered,
}

/// Every fixture, rendered once for all tests.
fn all() -> &'static [Case; 4] {
    static CASES: OnceLock<[Case; 4]> = OnceLock::new();
    CASES.get_or_init(|| {
        [
            ("season", fixture::season()),
            ("empty", fixture::empty()),
            ("hostile", fixture::hostile()),
            ("crowded", fixture::crowded()),
        ]
        .map(|(name, findings)| Case {
            name,
            rendered: render(&findings).unwrap(),
            findings,
        })
    })
}

fn season() -> &'static Rendered {
    &all()[0].rendered
}

#[test]
fn two_renders_are_equal_byte_for_byte() {
    assert_eq!(render(&fixture::season()).unwrap(), *season());
}

#[test]
fn the_json_is_the_findings() {
    for case in all() {
        let text = file(&case.rendered, "findings.json");
        let back: Findings = serde_json::from_slice(text).unwrap();
        assert_eq!(back, case.findings, "{}", case.name);
    }
}

#[test]
fn the_json_satisfies_its_schema() {
    let schema: Value = serde_json::from_str(FINDINGS_SCHEMA).unwrap();
    assert!(jsonschema::draft202012::meta::is_valid(&schema));
    let validator = jsonschema::validator_for(&schema).unwrap();
    for case in all() {
        let json = json(&case.rendered);
        let errors: Vec<String> = validator
            .iter_errors(&json)
            .map(|e| format!("{}: {e}", e.instance_path()))
            .collect();
        assert!(errors.is_empty(), "{}: {errors:#?}", case.name);
    }
}

#[test]
fn the_schema_refuses_what_is_broken() {
    let schema: Value = serde_json::from_str(FINDINGS_SCHEMA).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let sound = json(season());
    let estimate = "/questions/0/estimates/static_thrust_gain";
    let broken: [(&str, Value); 8] = [
        ("/schema", Value::from(2)),
        ("/questions/0/verdict", Value::from("certainly")),
        (&format!("{estimate}/value"), Value::from("21 %")),
        (&format!("{estimate}/level"), Value::from(95)),
        ("/ledger/files/0/rows_in", Value::from(-1)),
        ("/figures/0/data/kind", Value::from("gauge")),
        ("/tables/0/rows/0/2", Value::from(vec![1, 2])),
        ("/season", Value::Null),
    ];
    for (pointer, value) in broken {
        let mut json = sound.clone();
        *json.pointer_mut(pointer).unwrap() = value;
        assert!(!validator.is_valid(&json), "{pointer}");
    }
    let mut json = sound;
    json.as_object_mut()
        .unwrap()
        .insert("gauges".into(), Value::Null);
    assert!(!validator.is_valid(&json));
}

/// serde_json would write `null` and say nothing.
#[test]
fn a_nan_is_refused_not_hidden() {
    let mut findings = fixture::season();
    findings.questions[0]
        .estimates
        .get_mut("static_thrust_gain")
        .unwrap()
        .level = f64::NAN;
    assert!(matches!(render(&findings), Err(ReportError::NotANumber(_))));
}

#[test]
fn pictures_are_pngs_with_something_on_them() {
    let rendered = season();
    let pngs: Vec<_> = rendered
        .files
        .iter()
        .filter(|(n, _)| n.ends_with(".png"))
        .collect();
    assert_eq!(pngs.len(), 13);
    for (name, bytes) in pngs {
        let pixels = resvg::tiny_skia::Pixmap::decode_png(bytes).unwrap();
        assert_eq!(pixels.width(), 2 * (720 + 2 * 14), "{name}");
        let inked = pixels
            .pixels()
            .iter()
            .filter(|p| p.red() < 200 || p.blue() < 200)
            .count();
        let share = inked as f64 / pixels.pixels().len() as f64;
        assert!((0.002..0.5).contains(&share), "{name}: {share}");
    }
}

#[test]
fn empty_series_give_a_note_and_no_picture() {
    let rendered = &all()[1].rendered;
    assert!(
        rendered
            .files
            .iter()
            .all(|(name, _)| !name.ends_with(".png"))
    );
    let page = page(rendered);
    assert!(!page.contains("<svg"));
    assert_eq!(page.matches("Nothing to draw yet").count(), 12);
}

/// A series with holes in it is drawn as far as it goes.
#[test]
fn ragged_and_single_point_series_do_not_panic() {
    use benchborne::findings::FigureData as F;
    let mut findings = fixture::season();
    for figure in &mut findings.figures[..13] {
        match &mut figure.data {
            F::BenchCurves(d) => {
                d.panels[0].lines[0].x.truncate(1);
                d.panels[0].points[0].low.clear();
            }
            F::LevelSpeeds(d) => {
                d.days.truncate(1);
                d.points[0].y.truncate(1);
            }
            F::CurrentDuration(d) => d.lines.iter_mut().for_each(|l| {
                l.x.truncate(1);
                l.x[0] = 0.0;
            }),
            F::FlightStrip(d) => d.strips.iter_mut().for_each(|s| {
                s.segments.truncate(1);
                s.segments[0].x.truncate(1);
            }),
            F::PassFit(d) => d.fitted.clear(),
            F::VelocityVectors(d) => d.radius = 0.0,
            F::Ladder(d) => d.rungs.truncate(1),
            F::BenchAgainstFlight(d) => d.panels[0].panel.lines.clear(),
            F::Plots(d) => {
                d.panels[0].lines[0].y.truncate(1);
                d.panels[0].points[0].high.clear();
                d.panels[1].lines.clear();
                d.panels[2].lines[0].x[0] = 0.0;
                d.panels[2].marks.push(Mark {
                    label: "nowhere".into(),
                    at: 0.0,
                    across: Across::X,
                });
            }
            F::CellMap(d) => {
                d.panels[0].cells.truncate(1);
                d.panels[1].cells[0].column = 99;
            }
            F::TrackMap(d) => {
                d.path[0].y.truncate(1);
                d.passes[0].line.x.truncate(1);
                d.places[0].east = 1e9;
            }
            F::Calendar(d) => d.days.truncate(1),
        }
    }
    assert!(render(&findings).is_ok());
}

#[test]
fn cells_beyond_the_columns_are_left_out_and_missing_ones_dashed() {
    let mut findings = fixture::season();
    findings.tables[0].rows[0].push(DataCell::Text("surplus-cell".into()));
    findings.tables[0].rows[1].truncate(1);
    for (name, html) in pages(&render(&findings).unwrap()) {
        assert!(!html.contains("surplus-cell"), "{name}");
    }
}
