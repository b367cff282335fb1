//! What the pages may and may not contain.

use std::collections::{BTreeMap, BTreeSet};

use sha2::{Digest, Sha256};

use super::fixture::HOSTILE;
use super::{all, json, page, pages, season};

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
    for (from, to) in [("<svg", "</svg>"), ("<script>", "</script>")] {
        while let Some(start) = body.find(from) {
            let end = body[start..].find(to).unwrap() + start + to.len();
            body.replace_range(start..end, "");
        }
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
        let json = json(&case.rendered);
        let mut all_found = Vec::new();
        for (name, html) in pages(&case.rendered) {
            let (found, _) = numbers(&body(&html));
            assert!(!found.is_empty(), "{}: {name} shows no number", case.name);
            all_found.extend(found);
        }
        let name = case.name;
        assert!(all_found.len() >= 4, "{name}: {}", all_found.len());
        for (key, percent, text) in all_found {
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
    for (name, html) in pages(rendered) {
        no_digits_but(&words, &name, &html);
    }
}

fn no_digits_but(words: &BTreeSet<String>, name: &str, html: &str) {
    let (_, mut left) = numbers(&body(html));
    while let Some(start) = left.find("<span class=\"ordinal\">") {
        let end = left[start..].find("</span>").unwrap() + start;
        left.replace_range(start..end, "");
    }
    let text: String = {
        let mut inside = false;
        left.chars()
            .map(|c| {
                let shown = !inside && c != '<';
                inside = (inside || c == '<') && c != '>';
                // What stands in two elements is no one number.
                if shown { c } else { ' ' }
            })
            .collect()
    };
    for run in digit_runs(&unescape(&text)) {
        // Links say "Figure 2": a number of the page's own, like a page number.
        let is_figure = text.contains(&format!("Figure {run}"));
        assert!(
            words.contains(&run) || is_figure,
            "{run} stands on {name}, not in the JSON"
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
fn nothing_is_fetched_and_nothing_but_our_own_script_runs() {
    for case in all() {
        for (name, html) in pages(&case.rendered) {
            let name = format!("{}: {name}", case.name);
            assert_eq!(html.matches("<script").count(), 1, "{name}");
            assert!(!html.contains("<img"), "{name}");
            assert!(!html.contains("@import"), "{name}");
            assert!(attributes(&html, "src").is_empty(), "{name}");
            // The season page is complete in itself; the others find their typeface beside it.
            let below = name.contains('/');
            assert_eq!(html.matches("<link").count(), usize::from(below), "{name}");
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
}

/// The policy names the digest of the one script that may run: Content Security Policy Level 3, section
/// 6.7.3.3 (SHA-256 of the element's text, base64).
#[test]
fn the_policy_lets_only_the_pages_own_script_run() {
    for (name, html) in pages(season()) {
        let (_, rest) = html.split_once("script-src 'sha256-").unwrap();
        let said = decoded(rest.split('\'').next().unwrap());
        let (_, rest) = html.split_once("<script>").unwrap();
        let script = rest.split("</script>").next().unwrap();
        assert_eq!(said, Sha256::digest(script).to_vec(), "{name}");
    }
}

/// Base64 with padding (RFC 4648, section 4) back to bytes.
fn decoded(text: &str) -> Vec<u8> {
    let place = |c: u8| match c {
        b'A'..=b'Z' => c - b'A',
        b'a'..=b'z' => c - b'a' + 26,
        b'0'..=b'9' => c - b'0' + 52,
        b'+' => 62,
        b'/' => 63,
        _ => panic!("{} is no digit of base64", char::from(c)),
    };
    let digits = unescape(text);
    let digits = digits.trim_end_matches('=').bytes().map(place);
    let bits: Vec<u8> = digits
        .flat_map(|d| (0..6).rev().map(move |i| d >> i & 1))
        .collect();
    bits.chunks_exact(8)
        .map(|byte| byte.iter().fold(0, |sum, bit| sum << 1 | bit))
        .collect()
}

#[test]
fn markup_in_remarks_is_shown_as_written() {
    for case in all() {
        for (name, html) in pages(&case.rendered) {
            let name = format!("{}: {name}", case.name);
            assert!(!html.contains(HOSTILE), "{name}");
            assert!(!html.contains("onerror=alert(1)>"), "{name}");
            assert!(!body(&html).contains("<script"), "{name}");
        }
    }
    assert!(unescape(&page(season())).contains(HOSTILE));
    // A flight whose every word is hostile has a page with a tame name.
    let rendered = season();
    let tame = |name: &str| {
        name.bytes()
            .all(|b| b.is_ascii_alphanumeric() || b"-_./".contains(&b))
            && !name.contains("..")
    };
    assert!(rendered.files.iter().all(|(name, _)| tame(name)));
    let of_remark = pages(rendered)
        .into_iter()
        .filter(|(name, html)| name.starts_with("flights/") && unescape(html).contains(HOSTILE));
    assert!(of_remark.count() >= 1);
}

/// Every link of every page leads to a file of the report, and to a place in it where it names one.
#[test]
fn ids_are_unique_and_links_have_targets() {
    for case in all() {
        let all_pages = pages(&case.rendered);
        let ids: BTreeMap<&str, Vec<String>> = all_pages
            .iter()
            .map(|(name, html)| (name.as_str(), attributes(html, "id")))
            .collect();
        for (page, html) in &all_pages {
            let name = format!("{}: {page}", case.name);
            let own = &ids[page.as_str()];
            let unique: BTreeSet<&String> = own.iter().collect();
            assert_eq!(own.len(), unique.len(), "{name}");
            for target in attributes(html, "aria-labelledby") {
                assert!(unique.contains(&target), "{name}: #{target}");
            }
            for href in attributes(html, "href") {
                let (file, place) = href.split_once('#').unwrap_or((&href, ""));
                let file = match (file, page.rsplit_once('/')) {
                    ("", _) => page.clone(),
                    (file, None) => file.to_owned(),
                    (file, Some((folder, _))) => match file.strip_prefix("../") {
                        Some(file) => file.to_owned(),
                        None => format!("{folder}/{file}"),
                    },
                };
                let exists = case.rendered.files.iter().any(|(f, _)| *f == file);
                assert!(exists, "{name}: {href} leads to no file");
                let found = place.is_empty()
                    || ids
                        .get(file.as_str())
                        .is_some_and(|ids| ids.iter().any(|id| id == place));
                assert!(found, "{name}: {href} leads to no place");
            }
        }
    }
}

/// From the season page to each page below it, and back; a flight and its power system name each other.
#[test]
fn pages_are_linked_both_ways() {
    let rendered = season();
    let all_pages = pages(rendered);
    let links = |page: &str| -> BTreeSet<String> {
        let (_, html) = all_pages.iter().find(|(name, _)| name == page).unwrap();
        attributes(html, "href").into_iter().collect()
    };
    let from_season = links("index.html");
    let mut below = 0;
    for (name, _) in &all_pages {
        if name == "index.html" {
            continue;
        }
        below += 1;
        assert!(from_season.contains(name), "the season page lacks {name}");
        assert!(links(name).contains("../index.html"), "{name}");
    }
    assert_eq!(below, 2 + 2 + 1);
    let flight = "flights/2025-05-03-1.html";
    for other in ["power/stock.html", "comparisons/stock--swap.html"] {
        assert!(links(flight).contains(&format!("../{other}")), "{other}");
        assert!(links(other).contains(&format!("../{flight}")), "{other}");
    }
    assert!(links("power/stock.html").contains("../comparisons/stock--swap.html"));
    assert!(links("comparisons/stock--swap.html").contains("../power/stock.html"));
}

/// Both units stand in the page, and a switch that needs no script.
#[test]
fn units_are_switched_by_style_alone() {
    let rendered = season();
    for (name, html) in pages(rendered) {
        assert!(html.contains("id=\"units-own\"") && html.contains("id=\"units-si\" checked"));
        assert!(html.contains("html:has(#units-own:checked) .own"), "{name}");
    }
    let flight = pages(rendered)
        .into_iter()
        .find(|(name, _)| name == "flights/2025-05-03-1.html");
    let html = flight.unwrap().1;
    let key = "/flights/0/sheet/estimates/level_speed";
    for shown in [
        format!(
            "<span class=\"si\"><span class=\"n\" data-key=\"{key}/value\">57.9</span>&nbsp;m/s</span>"
        ),
        format!(
            "<span class=\"own\"><span class=\"n\" data-key=\"{key}/shown/value\">208.5</span>&nbsp;km/h</span>"
        ),
    ] {
        assert!(html.replace("&#x2f;", "/").contains(&shown), "{shown}");
    }
    // Where the pilot's units are the findings' own there is nothing to switch.
    assert!(!page(&all()[1].rendered).contains("<fieldset"));
}

#[test]
fn every_picture_has_words_a_caption_and_its_png() {
    let rendered = season();
    let html = page(rendered);
    let plates = html.matches("role=\"img\"").count();
    assert_eq!(plates, html.matches("<svg").count());
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
    assert_eq!(2 * pngs.len(), plates);
    // Each picture stands on some page.
    let everywhere = pages(rendered).into_iter();
    let everywhere: String = everywhere.map(|(_, html)| unescape(&html)).collect();
    let drawn = rendered.files.iter().filter(|(n, _)| n.ends_with(".png"));
    let drawn: Vec<&String> = drawn.map(|(name, _)| name).collect();
    assert_eq!(drawn.len(), 13);
    for png in drawn {
        assert!(everywhere.contains(&format!("{png}\"")), "{png}");
    }
}

#[test]
fn pages_are_well_formed_for_readers_of_all_kinds() {
    for case in all() {
        for (name, html) in pages(&case.rendered) {
            let name = format!("{}: {name}", case.name);
            let html_start = html.starts_with("<!DOCTYPE html>\n<html lang=\"en\">");
            assert!(html_start, "{name}");
            assert_eq!(html.matches("<h1>").count(), 1, "{name}");
            assert_eq!(html.matches("<main ").count(), 1, "{name}");
            assert!(html.contains("href=\"#main\"") && html.contains("id=\"main\""));
            assert_eq!(
                html.matches("<th scope=").count(),
                html.matches("<th ").count(),
                "{name}"
            );
            assert_eq!(
                html.matches("<table").count(),
                html.matches("<caption").count(),
                "{name}: a table without a caption"
            );
            headings_descend_by_one(&name, &html);
        }
    }
    for (name, html) in pages(season()) {
        assert!(html.contains("Invented data."), "{name}");
    }
}

/// WCAG 2.2, technique H42 and failure F43: no level of heading is skipped on the way down.
fn headings_descend_by_one(name: &str, html: &str) {
    let mut last = 0;
    for rest in body(html).split("<h").skip(1) {
        let level = rest.chars().next().and_then(|c| c.to_digit(10));
        let Some(level) = level else { continue };
        assert!(level <= last + 1, "{name}: h{level} after h{last}");
        last = level;
    }
    assert!(last > 0, "{name}");
}

#[test]
fn what_is_missing_stands_before_the_fold() {
    let html = page(season());
    let open = html
        .find("<p class=\"verdict open\">Not settled</p>")
        .unwrap();
    let section = &html[open..];
    assert!(section.find("What is missing").unwrap() < section.find("<details>").unwrap());
}

/// Each question of the season has its answer on the season page, with one number and one picture before
/// the fold, and how it is known in it.
#[test]
fn the_season_page_answers_first_and_folds_the_rest() {
    let html = body(&page(season()));
    let answers: Vec<&str> = html.split("<div class=\"answer\"").skip(1).collect();
    assert_eq!(answers.len(), 5);
    for answer in answers {
        let before = answer.split("<details>").next().unwrap();
        assert!(before.contains("class=\"sentence\""), "{before}");
        assert!(before.matches("class=\"big\"").count() <= 1);
        assert!(before.matches("<figure ").count() <= 1);
        let fold = answer.split("<details>").nth(1).unwrap();
        assert!(fold.contains("Rows read for it:"));
    }
    assert!(html.find("class=\"answer\"").unwrap() < html.find("id=\"season\"").unwrap());
}

#[test]
fn tags_balance() {
    for case in all() {
        for (name, html) in pages(&case.rendered) {
            for tag in [
                "section", "figure", "table", "tr", "td", "th", "ul", "ol", "li", "dl", "div", "p",
                "span", "details", "svg", "text", "nav", "fieldset", "label", "a",
            ] {
                let opened = html.matches(&format!("<{tag}>")).count()
                    + html.matches(&format!("<{tag} ")).count();
                assert_eq!(
                    opened,
                    html.matches(&format!("</{tag}>")).count(),
                    "{}: {name}: {tag}",
                    case.name
                );
            }
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
