//! A page in the browser, by what the platform opens files with.

use std::path::Path;

use super::show;

/// Opens a page; where that cannot be, it is said, and nothing else is lost.
pub fn page(path: &Path) {
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    if let Err(error) = open::that_detached(&path) {
        show::remark(&format!(
            "The page could not be opened from here ({error}). Open it yourself: {}",
            path.display()
        ));
    }
}
