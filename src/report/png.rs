//! The same SVG, as pixels.

use std::sync::{Arc, OnceLock};

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

use crate::report::ReportError;
use crate::report::font::{BOLD, FAMILY, REGULAR};

/// Device pixels per logical pixel: sharp in print at the page's width.
const ZOOM: f32 = 2.0;

/// Only the bundled font: what a machine has installed must not change a picture.
fn fonts() -> Arc<fontdb::Database> {
    static FONTS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    Arc::clone(FONTS.get_or_init(|| {
        let mut database = fontdb::Database::new();
        database.load_font_data(REGULAR.to_vec());
        database.load_font_data(BOLD.to_vec());
        Arc::new(database)
    }))
}

pub fn parse(svg: &str) -> Result<Tree, ReportError> {
    let options = Options {
        font_family: FAMILY.to_owned(),
        fontdb: fonts(),
        ..Options::default()
    };
    Tree::from_str(svg, &options).map_err(|e| ReportError::Drawing(e.to_string()))
}

pub fn rasterise(svg: &str) -> Result<Vec<u8>, ReportError> {
    let tree = parse(svg)?;
    let size = tree
        .size()
        .to_int_size()
        .scale_by(ZOOM)
        .ok_or_else(|| ReportError::Drawing("a picture without size".to_owned()))?;
    let mut pixels = Pixmap::new(size.width(), size.height())
        .ok_or_else(|| ReportError::Drawing("a picture too large".to_owned()))?;
    pixels.fill(resvg::tiny_skia::Color::WHITE);
    resvg::render(
        &tree,
        Transform::from_scale(ZOOM, ZOOM),
        &mut pixels.as_mut(),
    );
    pixels
        .encode_png()
        .map_err(|e| ReportError::Drawing(e.to_string()))
}
