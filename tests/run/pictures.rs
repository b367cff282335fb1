//! Pictures of single flights and of the season, made from the demo season's tables.

use std::fs;

use benchborne::findings::evidence::Evidence;
use benchborne::findings::flight_pictures::of_flight;
use benchborne::findings::{Figure, FigureData, TrackMap};
use benchborne::report::{FINDINGS_SCHEMA, FLIGHT_SCHEMA};
use benchborne::run::{RunOptions, run};
use benchborne::season::{Season, SeasonText, load};
use jsonschema::Registry;
use serde_json::Value;

use super::demo::demo;
use super::folder::{self, contents};

fn season() -> Season {
    let text = |name: &str| fs::read_to_string(folder::demo().join(name)).unwrap();
    let (toml, logbook, passes) = (text("season.toml"), text("logbook.csv"), text("passes.csv"));
    load(&SeasonText {
        season_toml: &toml,
        logbook_csv: Some(&logbook),
        passes_csv: Some(&passes),
    })
    .season
    .unwrap()
}

fn figures(flight: &str) -> Vec<Figure> {
    let season = season();
    let tables = &demo().tables;
    of_flight(
        &Evidence {
            season: &season,
            tables,
        },
        flight,
    )
}

fn map(figures: &[Figure]) -> Option<&TrackMap> {
    figures.iter().find_map(|f| match &f.data {
        FigureData::TrackMap(map) => Some(map),
        _ => None,
    })
}

/// A pass drawn from positions is as long as its ground speed (logged apart from them) and time make
/// it, but for 1 % (thinning, mean of samples) and half a metre of a receiver's noise at either end
/// (common practice, no source).
#[test]
fn passes_on_the_map_are_as_long_as_their_speed_says() {
    let tables = &demo().tables;
    let mut compared = 0;
    let flights = tables.flights.iter().enumerate();
    for (i, flight) in flights.filter(|(_, f)| f.has_position) {
        let figures = figures(&flight.flight);
        let Some(map) = map(&figures) else {
            // Speed and course alone make no map.
            assert!(tables.own.of(i).track.is_empty());
            continue;
        };
        let points: usize = map.path.iter().map(|l| l.x.len()).sum();
        assert!((50..=620).contains(&points), "{}: {points}", flight.flight);
        for pass in &map.passes {
            let row = tables
                .passes
                .iter()
                .find(|p| p.flight == flight.flight && p.pass == i64::from(pass.number))
                .unwrap();
            let (x, y) = (&pass.line.x, &pass.line.y);
            let drawn: f64 = (1..x.len())
                .map(|i| (x[i] - x[i - 1]).hypot(y[i] - y[i - 1]))
                .sum();
            let flown = row.mean_ground_speed_m_s * (row.end_s.unwrap() - row.start_s.unwrap());
            assert!(
                (drawn - flown).abs() < 1.0 + 0.01 * flown,
                "{} {}: {drawn} against {flown}",
                flight.flight,
                pass.number
            );
            assert_eq!(row.used, pass.used);
            compared += 1;
        }
        assert_eq!(map.places.len(), 2, "{}", flight.flight);
    }
    assert!(compared > 40, "{compared}");
}

#[test]
fn every_flight_with_a_log_has_its_strip() {
    let tables = &demo().tables;
    for flight in &tables.flights {
        let figures = figures(&flight.flight);
        let strip = figures.iter().find_map(|f| match &f.data {
            FigureData::FlightStrip(strip) => Some(strip),
            _ => None,
        });
        assert_eq!(
            strip.is_some(),
            flight.recorded_s > 0.0,
            "{}",
            flight.flight
        );
        let Some(strip) = strip else { continue };
        assert!(strip.strips.len() >= 3, "{}", flight.flight);
        for quantity in &strip.strips {
            let points: usize = quantity.segments.iter().map(|l| l.x.len()).sum();
            assert!((10..=650).contains(&points), "{points}");
        }
        // The greatest current survives the thinning.
        if let (Some(current), Some(peak)) = (
            strip.strips.iter().find(|s| s.y.quantity == "current"),
            flight
                .peak_current_a
                .filter(|_| flight.power_source == "measured"),
        ) {
            let most = current.segments.iter().flat_map(|l| l.y.iter().copied());
            let most = most.fold(f64::MIN, f64::max);
            assert!(
                (most - peak).abs() < 1e-9,
                "{}: {most} {peak}",
                flight.flight
            );
        }
    }
}

#[test]
fn ids_of_pictures_differ_between_flights() {
    let mut ids: Vec<String> = demo()
        .tables
        .flights
        .iter()
        .flat_map(|f| figures(&f.flight))
        .map(|f| f.id)
        .collect();
    let all = ids.len();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), all);
    assert!(all > 40, "{all}");
}

/// Names that differ only in what an id cannot hold still get ids of their own.
#[test]
fn odd_flight_names_keep_ids_apart() {
    let season = season();
    let mut tables = demo().tables.clone();
    let names = ["F 1", "f-1", "七", "八", "f_1"];
    tables.flights.truncate(names.len());
    for (row, name) in tables.flights.iter_mut().zip(names) {
        row.flight = name.to_owned();
    }
    let evidence = Evidence {
        season: &season,
        tables: &tables,
    };
    assert_eq!(
        names.map(|n| evidence.flight_slug(n)),
        ["f-1", "f-1--2", "flight--1", "flight--2", "f-1--3"]
    );
}

/// What the page of a flight draws stands with its data in a file beside it, and as PNG where asked for.
#[test]
fn a_flights_pictures_stand_beside_its_page() {
    let season = folder::Season::with(&["f01", "f12"]);
    let place = tempfile::tempdir().unwrap();
    let made = |name: &str, flight_pictures, no_pages| {
        let options = RunOptions {
            season: season.dir.clone(),
            out: place.path().join(name),
            flight_pictures,
            no_pages,
            ..RunOptions::default()
        };
        run(&options).unwrap();
        contents(&options.out)
    };
    let plain = made("plain", false, false);
    let find = |name: &str| plain.iter().find(|(n, _)| n == name).map(|(_, b)| b);
    let document: Value = serde_json::from_slice(find("flights/f01.json").unwrap()).unwrap();
    // A flight without a log has no picture of its own.
    assert!(find("flights/f12.json").is_none() && find("flights/f12.html").is_some());
    let registry = Registry::new()
        .add(
            "json-schema:///findings.schema.json",
            schema(FINDINGS_SCHEMA),
        )
        .unwrap()
        .prepare()
        .unwrap();
    let validator = jsonschema::options()
        .with_registry(&registry)
        .with_base_uri("json-schema:///flight.schema.json")
        .build(&schema(FLIGHT_SCHEMA))
        .unwrap();
    let errors: Vec<String> = validator
        .iter_errors(&document)
        .map(|e| format!("{}: {e}", e.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{errors:?}");
    let mut wrong = document.clone();
    wrong["figures"][0]["caption"] = Value::from(3);
    assert!(!validator.is_valid(&wrong));
    let page = String::from_utf8_lossy(find("flights/f01.html").unwrap()).into_owned();
    let figures = document["figures"].as_array().unwrap();
    assert_eq!(figures.len(), 4);
    for figure in figures {
        let id = figure["id"].as_str().unwrap();
        assert!(page.contains(&format!("id=\"figure-{id}\"")), "{id}");
    }
    assert!(page.contains("href=\"f01.json\""));
    assert!(page.contains("<svg") && !page.contains(".png\""));
    assert!(
        !plain
            .iter()
            .any(|(n, _)| n.starts_with("flights/") && n.ends_with(".png"))
    );

    let drawn = made("drawn", true, false);
    let page = drawn.iter().find(|(n, _)| n == "flights/f01.html").unwrap();
    let page = String::from_utf8_lossy(&page.1).into_owned();
    for figure in figures {
        let id = figure["id"].as_str().unwrap();
        // The slash is escaped, as everything is.
        assert!(
            page.contains(&format!("href=\"f01&#x2f;{id}.png\"")),
            "{id}"
        );
        let png = drawn
            .iter()
            .find(|(n, _)| *n == format!("flights/f01/{id}.png"));
        assert!(png.unwrap().1.starts_with(b"\x89PNG"));
    }
    let data = made("data", false, true);
    assert!(!data.iter().any(|(n, _)| n.starts_with("flights/")));
    assert!(data.iter().any(|(n, _)| n == "tables/strips.parquet"));
}

fn schema(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}
