//! The page: templates filled with a view. Everything is escaped except our own SVG and style.

use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, UndefinedBehavior, context};

use super::ReportError;
use super::card::CardView;
use super::font::{BOLD, FAMILY, REGULAR, base64};
use super::view::PageView;

const TEMPLATES: &[(&str, &str)] = &[
    ("page.html", include_str!("templates/page.html")),
    ("answer.html", include_str!("templates/answer.html")),
    ("back.html", include_str!("templates/back.html")),
    ("parts.html", include_str!("templates/parts.html")),
    ("card.html", include_str!("templates/card.html")),
];
const STYLE: &str = include_str!("templates/style.css");
const CARD_STYLE: &str = include_str!("templates/card.css");

pub fn set(view: &PageView<'_>) -> Result<String, ReportError> {
    fill(
        "page.html",
        context! { page => Serde(view), style => styled(STYLE) },
    )
}

/// The card's page.
pub fn set_card(card: &CardView<'_>) -> Result<String, ReportError> {
    fill(
        "card.html",
        context! { card => Serde(card), style => styled(CARD_STYLE) },
    )
}

fn styled(style: &str) -> String {
    format!("{}{}{style}", face(REGULAR, 400), face(BOLD, 700))
}

fn fill(template: &str, values: minijinja::Value) -> Result<String, ReportError> {
    let fault = |e: minijinja::Error| ReportError::Page(format!("{e:#}"));
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    let syntax = SyntaxConfig::builder()
        .trim_blocks(true)
        .lstrip_blocks(true)
        .build();
    environment.set_syntax(syntax.map_err(fault)?);
    environment.add_filter("glue", |text: String| super::words::glue(&text));
    environment.add_filter("stop", |text: String| super::words::stop(&text));
    for (name, text) in TEMPLATES {
        environment.add_template(name, text).map_err(fault)?;
    }
    let page = environment.get_template(template).map_err(fault)?;
    page.render(values).map_err(fault)
}

fn face(bytes: &[u8], weight: u16) -> String {
    format!(
        "@font-face{{font-family:\"{FAMILY}\";font-weight:{weight};font-display:block;\
         src:url(data:font/ttf;base64,{}) format(\"truetype\")}}\n",
        base64(bytes)
    )
}
