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
