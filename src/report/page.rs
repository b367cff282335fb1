//! The page: templates filled with a view. Everything is escaped except our own SVG and style.

use std::fmt::Write;
use std::sync::OnceLock;

use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, HtmlEscape, UndefinedBehavior, Value, context};
use sha2::{Digest, Sha256};

use super::ReportError;
use super::card::CardView;
use super::font::{BOLD, FAMILY, REGULAR, base64};
use super::view::{SeasonPage, SheetPage};

const TEMPLATES: &[(&str, &str)] = &[
    ("shell.html", include_str!("templates/shell.html")),
    ("season.html", include_str!("templates/season.html")),
    ("sheet.html", include_str!("templates/sheet.html")),
    ("answer.html", include_str!("templates/answer.html")),
    ("account.html", include_str!("templates/account.html")),
    ("parts.html", include_str!("templates/parts.html")),
    ("card.html", include_str!("templates/card.html")),
];
const STYLE: &str = include_str!("templates/style.css");
const CARD_STYLE: &str = include_str!("templates/card.css");
/// All that runs in a page; the page works without it.
const SCRIPT: &str = concat!(
    include_str!("templates/units.js"),
    include_str!("templates/hover.js")
);

/// The season page, complete in itself.
pub fn season(view: &SeasonPage<'_>) -> Result<String, ReportError> {
    let values = context! {
        page => Serde(view),
        style => styled(STYLE),
        fonts_beside => false,
        script => SCRIPT,
        script_hash => script_hash(),
    };
    fill("season.html", values)
}

/// Any other page: its style stands in it, its typeface beside it, since that is as long as the rest.
pub fn sheet(view: &SheetPage<'_>) -> Result<String, ReportError> {
    let values = context! {
        page => Serde(view),
        style => STYLE,
        fonts_beside => true,
        script => SCRIPT,
        script_hash => script_hash(),
    };
    fill("sheet.html", values)
}

/// The typeface of the pages beside the season page.
pub fn fonts() -> String {
    format!("{}{}", face(REGULAR, 400), face(BOLD, 700))
}

/// What the page's security policy lets run: this script and no other (Content Security Policy Level 3,
/// section 2.3.1).
fn script_hash() -> String {
    format!("sha256-{}", base64(&Sha256::digest(SCRIPT.as_bytes())))
}

/// The card's page.
pub fn set_card(card: &CardView<'_>) -> Result<String, ReportError> {
    fill(
        "card.html",
        context! { card => Serde(card), style => styled(CARD_STYLE) },
    )
}

fn styled(style: &str) -> String {
    format!("{}{style}", fonts())
}

fn fill(template: &str, values: minijinja::Value) -> Result<String, ReportError> {
    // Read once: a season has a page a flight.
    static TEMPLATES_READ: OnceLock<Result<Environment<'static>, String>> = OnceLock::new();
    let fault = |e: minijinja::Error| ReportError::Page(format!("{e:#}"));
    let environment = TEMPLATES_READ
        .get_or_init(|| environment().map_err(|e| format!("{e:#}")))
        .as_ref()
        .map_err(|e| ReportError::Page(e.clone()))?;
    let page = environment.get_template(template).map_err(fault)?;
    page.render(values).map_err(fault)
}

fn environment() -> Result<Environment<'static>, minijinja::Error> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    let syntax = SyntaxConfig::builder()
        .trim_blocks(true)
        .lstrip_blocks(true)
        .build()?;
    environment.set_syntax(syntax);
    environment.add_filter("glue", |text: String| prose(&super::words::glue(&text)));
    environment.add_filter("stop", |text: String| prose(&super::words::stop(&text)));
    environment.add_filter("whole", |text: String| prose(&super::words::whole(&text)));
    for (name, text) in TEMPLATES {
        environment.add_template(name, text)?;
    }
    Ok(environment)
}

/// Escaped text, what stands between two backticks set as code.
fn prose(text: &str) -> Value {
    let parts: Vec<&str> = text.split('`').collect();
    let mut html = String::with_capacity(text.len());
    for (i, part) in parts.iter().enumerate() {
        let part = HtmlEscape(part);
        let closed = i + 1 < parts.len();
        // A last backtick without a partner stays what it is. Writing to a string cannot fail.
        let _ = match (i % 2 == 1, closed) {
            (true, true) => write!(html, "<code>{part}</code>"),
            (true, false) => write!(html, "`{part}"),
            (false, _) => write!(html, "{part}"),
        };
    }
    Value::from_safe_string(html)
}

fn face(bytes: &[u8], weight: u16) -> String {
    format!(
        "@font-face{{font-family:\"{FAMILY}\";font-weight:{weight};font-display:block;\
         src:url(data:font/ttf;base64,{}) format(\"truetype\")}}\n",
        base64(bytes)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn code_is_set_as_code_and_everything_is_escaped() {
        let set = |text: &str| prose(text).to_string();
        assert_eq!(set("a < b"), "a &lt; b");
        assert_eq!(
            set("Add `zone = \"UTC\"` to `[site]`."),
            "Add <code>zone = &quot;UTC&quot;</code> to <code>[site]</code>."
        );
        assert_eq!(set("one ` alone <b>"), "one ` alone &lt;b&gt;");
    }
}
