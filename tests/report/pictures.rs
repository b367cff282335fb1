//! What the drawings look like, as far as a program can tell.

use std::sync::Arc;

use super::{all, page};
use resvg::usvg::{Group, Node, Options, Rect, Tree, fontdb};

fn drawings(html: &str) -> Vec<Tree> {
    let mut fonts = fontdb::Database::new();
    fonts.load_font_data(include_bytes!("../../src/report/font/report-sans-regular.ttf").to_vec());
    fonts.load_font_data(include_bytes!("../../src/report/font/report-sans-bold.ttf").to_vec());
    let options = Options {
        fontdb: Arc::new(fonts),
        ..Options::default()
    };
    html.split("<svg")
        .skip(1)
        .map(|rest| {
            let svg = format!("<svg{}</svg>", rest.split("</svg>").next().unwrap());
            Tree::from_str(&svg, &options).unwrap()
        })
        .collect()
}

/// Words with the boxes they take, in logical pixels.
fn words(group: &Group, out: &mut Vec<(String, Rect)>) {
    for node in group.children() {
        match node {
            Node::Group(group) => words(group, out),
            Node::Text(text) => {
                let string = text.chunks().iter().map(|c| c.text()).collect::<String>();
                out.push((string, text.abs_bounding_box()));
            }
            _ => {}
        }
    }
}

#[test]
fn no_words_overlap_in_a_picture() {
    let pages = ["season", "crowded"].map(|name| all().iter().find(|c| c.name == name).unwrap());
    for tree in pages
        .iter()
        .flat_map(|case| drawings(&page(&case.rendered)))
    {
        let mut found = Vec::new();
        words(tree.root(), &mut found);
        assert!(found.len() > 5);
        for (i, (a, box_a)) in found.iter().enumerate() {
            for (b, box_b) in &found[i + 1..] {
                let w = box_a.right().min(box_b.right()) - box_a.x().max(box_b.x());
                let h = box_a.bottom().min(box_b.bottom()) - box_a.y().max(box_b.y());
                // Line boxes include room above and below the letters; half a line is air.
                assert!(w <= 0.5 || h <= 5.0, "{a:?} and {b:?} overlap by {w} x {h}");
            }
        }
    }
}

#[test]
fn words_stay_on_the_paper() {
    for case in all() {
        for tree in drawings(&page(&case.rendered)) {
            let (width, height) = (tree.size().width(), tree.size().height());
            let mut found = Vec::new();
            words(tree.root(), &mut found);
            for (text, area) in found {
                let inside = area.x() >= -1.0
                    && area.right() <= width + 1.0
                    && area.y() >= -3.0
                    && area.bottom() <= height + 3.0;
                assert!(
                    inside,
                    "{}: {text:?} {area:?} leaves {width} x {height}",
                    case.name
                );
            }
        }
    }
}

/// What pointing at the pictures says: the words of every reading.
fn readings(html: &str) -> Vec<String> {
    html.split("<metadata>")
        .skip(1)
        .flat_map(|rest| {
            let text = rest.split("</metadata>").next().unwrap();
            let data: serde_json::Value = serde_json::from_str(text).unwrap();
            let series = data["series"].as_array().unwrap().len() as u64;
            let points = data["points"].as_array().unwrap().clone();
            points.into_iter().map(move |point| {
                assert!(point[2].as_u64().unwrap() < series);
                point[3].as_str().unwrap().to_owned()
            })
        })
        .collect()
}

fn numbers_of(value: &serde_json::Value, out: &mut Vec<f64>) {
    match value {
        serde_json::Value::Number(n) => out.extend(n.as_f64()),
        serde_json::Value::Array(all) => all.iter().for_each(|v| numbers_of(v, out)),
        serde_json::Value::Object(all) => all.values().for_each(|v| numbers_of(v, out)),
        _ => {}
    }
}

#[test]
fn what_pointing_shows_stands_in_the_json() {
    let case = &all()[0];
    let html = page(&case.rendered);
    let mut known = Vec::new();
    numbers_of(&super::json(&case.rendered)["figures"], &mut known);
    known.sort_by(f64::total_cmp);
    let told = readings(&html);
    assert!(told.len() > 500, "{}", told.len());
    let mut numbers = 0;
    for words in &told {
        let plain = words.replace('\u{2009}', "").replace('−', "-");
        let tokens = plain.split(|c: char| c.is_whitespace() || "(),:".contains(c));
        for token in tokens.filter(|t| t.parse::<f64>().is_ok()) {
            let shown: f64 = token.parse().unwrap();
            let decimals = token.split_once('.').map_or(0, |(_, d)| d.len() as i32);
            let half = 0.5 * 10f64.powi(-decimals) * (1.0 + 1e-9);
            let from = known.partition_point(|v| *v < shown - half);
            assert!(
                known.get(from).is_some_and(|v| *v <= shown + half),
                "{token} in {words:?}"
            );
            numbers += 1;
        }
    }
    assert!(numbers > told.len(), "{numbers}");
}

/// Hostile names stay words: the readings parse, and none of their markup is markup of the page.
#[test]
fn hostile_names_do_no_harm_in_readings() {
    let case = &all()[2];
    assert_eq!(case.name, "hostile");
    let html = page(&case.rendered);
    assert!(!readings(&html).is_empty());
    for rest in html.split("<metadata>").skip(1) {
        let text = rest.split("</metadata>").next().unwrap();
        assert!(!text.contains(['<', '>', '&']));
    }
}
