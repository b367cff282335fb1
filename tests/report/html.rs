//! What the page may and may not contain.

use std::collections::BTreeSet;

use super::fixture::HOSTILE;
use super::{all, json, page, season};

/// The values of all `name="..."` attributes.
fn attributes(html: &str, name: &str) -> Vec<String> {
    let start = format!(" {name}=\"");
    html.split(&start)
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .map(unescape)
        .collect()
}

/// The page without its head (font, style) and without drawings.
fn body(html: &str) -> String {
    let mut body = html.split_once("<body>").unwrap().1.to_owned();
    while let Some(start) = body.find("<svg") {
        let end = body[start..].find("</svg>").unwrap() + start + "</svg>".len();
        body.replace_range(start..end, "");
    }
    body
}

fn unescape(text: &str) -> String {
    text.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#x27;", "'")
        .replace("&#x2f;", "/")
        .replace("&nbsp;", " ")
        .replace("&amp;", "&")
}

/// Takes out every marked number, gives (pointer, shown times 100, digits) and what is left.
fn numbers(body: &str) -> (Vec<(String, bool, String)>, String) {
    let mut found = Vec::new();
    let mut left = String::new();
    let mut parts = body.split("<span class=\"n\" data-key=\"");
    left.push_str(parts.next().unwrap());
    for part in parts {
        let (key, rest) = part.split_once('"').unwrap();
        let (flag, rest) = rest.split_once('>').unwrap();
        let (text, rest) = rest.split_once("</span>").unwrap();
        found.push((unescape(key), flag.contains("data-percent"), unescape(text)));
        left.push_str(rest);
    }
    (found, left)
}

#[test]
fn every_number_shown_is_the_one_in_the_json() {
    for case in all() {
        let (name, json) = (case.name, json(&case.rendered));
        let (found, _) = numbers(&body(&page(&case.rendered)));
        assert!(found.len() >= 4, "{name}: {}", found.len());
        for (key, percent, text) in found {
            let value = json.pointer(&key).and_then(|v| v.as_f64());
            let value = value.unwrap_or_else(|| panic!("{name}: {key} is no number of the JSON"));
            // A p value below what three digits show is bounded.
            if let Some(bound) = text.strip_prefix("< ") {
                let bound: f64 = bound.parse().unwrap();
                assert!(value < bound, "{key}: {value} is not {text}");
                continue;
            }
            let digits = text.replace('−', "-").replace('\u{2009}', "");
            let shown: f64 = digits.parse().unwrap_or_else(|_| panic!("{key}: {text:?}"));
            let decimals = digits.split_once('.').map_or(0, |(_, d)| d.len() as i32);
            let value = if percent { value * 100.0 } else { value };
            let half = 0.5 * 10f64.powi(-decimals) * (1.0 + 1e-9);
            assert!(
                (shown - value).abs() <= half,
                "{key}: shown {text}, is {value}"
            );
        }
    }
}

/// Digits outside the marked numbers come from words of the JSON, never from the page itself.
#[test]
fn no_number_is_made_up_by_the_page() {
    let rendered = season();
    let words: BTreeSet<String> = digit_runs(&json(rendered).to_string());
    let (_, mut left) = numbers(&body(&page(rendered)));
    while let Some(start) = left.find("<span class=\"ordinal\">") {
        let end = left[start..].find("</span>").unwrap() + start;
        left.replace_range(start..end, "");
    }
    let text: String = {
        let mut inside = false;
        left.chars()
            .filter(|c| {
                let shown = !inside && *c != '<';
                inside = (inside || *c == '<') && *c != '>';
                shown
            })
            .collect()
    };
    for run in digit_runs(&unescape(&text)) {
        // Links say "Figure 2": a number of the page's own, like a page number.
        let is_figure = text.contains(&format!("Figure {run}"));
        assert!(
            words.contains(&run) || is_figure,
            "{run} stands on the page, not in the JSON"
        );
    }
}

fn digit_runs(text: &str) -> BTreeSet<String> {
    text.split(|c: char| !c.is_ascii_digit())
        .filter(|r| !r.is_empty())
        .map(str::to_owned)
        .collect()
}

#[test]
fn nothing_is_fetched_and_nothing_runs() {
    for case in all() {
        let (name, html) = (case.name, page(&case.rendered));
        assert!(!html.contains("<script"), "{name}");
        assert!(!html.contains("<img"), "{name}");
        assert!(!html.contains("<link"), "{name}");
        assert!(!html.contains("@import"), "{name}");
        assert!(attributes(&html, "src").is_empty(), "{name}");
        for href in attributes(&html, "href") {
            let own = href.starts_with('#')
                || href.starts_with("figures/")
                || href == "findings.json"
                || href == "next.html"
                || href == "findings.schema.json";
            assert!(own, "{name}: {href}");
        }
        for url in html.split("url(").skip(1) {
            assert!(url.starts_with("data:font/ttf;base64,"), "{name}");
        }
        let elsewhere = html.replace("http://www.w3.org/2000/svg", "");
        assert!(
            !elsewhere.contains("http://") && !elsewhere.contains("https://"),
            "{name}"
        );
    }
}

#[test]
fn markup_in_remarks_is_shown_as_written() {
    let html = page(season());
    assert!(unescape(&html).contains(HOSTILE));
    assert!(!html.contains(HOSTILE));
    assert!(!html.contains("onerror=alert(1)>"));
}

#[test]
fn ids_are_unique_and_links_have_targets() {
    for case in all() {
        let (name, html) = (case.name, page(&case.rendered));
        let ids = attributes(&html, "id");
        let unique: BTreeSet<&str> = ids.iter().map(String::as_str).collect();
        assert_eq!(ids.len(), unique.len(), "{name}");
        let inside = attributes(&html, "href")
            .into_iter()
            .filter_map(|h| h.strip_prefix('#').map(str::to_owned));
        let named = attributes(&html, "aria-labelledby").into_iter();
        for target in inside.chain(named) {
            assert!(unique.contains(target.as_str()), "{name}: #{target}");
        }
    }
}

#[test]
fn every_picture_has_words_a_caption_and_its_png() {
    let rendered = season();
    let html = page(rendered);
    let plates = html.matches("role=\"img\"").count();
    assert_eq!(plates, html.matches("<svg").count());
    assert_eq!(plates, 2 * 13);
    for plate in html.split("role=\"img\" aria-label=\"").skip(1) {
        assert!(plate.find('"').unwrap() > 20, "a picture without words");
    }
    assert_eq!(
        html.matches("<figure ").count(),
        html.matches("<figcaption>").count()
    );
    let pngs: Vec<String> = attributes(&html, "href")
        .into_iter()
        .filter(|h| h.ends_with(".png"))
        .collect();
    assert_eq!(pngs.len(), 13);
    for png in pngs {
        assert!(rendered.files.iter().any(|(name, _)| *name == png), "{png}");
    }
}

#[test]
fn the_page_is_well_formed_for_readers_of_all_kinds() {
    let html = page(season());
    assert!(html.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
    assert_eq!(html.matches("<h1>").count(), 1);
    assert!(html.contains("href=\"#main\"") && html.contains("id=\"main\""));
    assert_eq!(
        html.matches("<th scope=").count(),
        html.matches("<th ").count()
    );
    assert!(html.contains("Invented data."));
    let open = html
        .find("<p class=\"verdict open\">Not settled</p>")
        .unwrap();
    // What is missing stands before the fold, not in it.
    let section = &html[open..];
    assert!(section.find("What is missing").unwrap() < section.find("<details>").unwrap());
}

#[test]
fn tags_balance() {
    for case in all() {
        let (name, html) = (case.name, page(&case.rendered));
        for tag in [
            "section", "figure", "table", "tr", "td", "th", "ul", "ol", "li", "dl", "div", "p",
            "span", "details", "svg", "text",
        ] {
            let opened = html.matches(&format!("<{tag}>")).count()
                + html.matches(&format!("<{tag} ")).count();
            assert_eq!(
                opened,
                html.matches(&format!("</{tag}>")).count(),
                "{name}: {tag}"
            );
        }
    }
}

/// Sixteen files of one logger say the same: once is enough, with all of them named.
#[test]
fn a_finding_that_many_files_share_stands_once_with_all_of_them() {
    let html = unescape(&page(season()));
    assert_eq!(html.matches("one of three axes is logged").count(), 1);
    assert!(html.contains("logs/first.csv, logs/second.csv"));
    assert!(html.contains("no time zone was declared"));
}
