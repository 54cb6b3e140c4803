//! What the browser runs.
//! Takes a name; gives the file of `assets/` with its type. In a debug build the files are read anew for each request, so that
//! a change is seen at once; a release carries them. Leaves alone who may ask (`guard`).
//!
//! `page.css` is a `text/css`

use axum::extract::Path;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};

use crate::page::error::PageError;

#[derive(rust_embed::RustEmbed)]
#[folder = "src/page/assets/"]
struct Assets;

/// The page itself.
pub(super) async fn index() -> Result<Response, PageError> {
    file("index.html")
}

/// A file that the page asks for.
pub(super) async fn asset(Path(name): Path<String>) -> Result<Response, PageError> {
    file(&name)
}

fn file(name: &str) -> Result<Response, PageError> {
    let content_type = content_type(name).ok_or(PageError::NotFound)?;
    let file = Assets::get(name).ok_or(PageError::NotFound)?;
    Ok(([(CONTENT_TYPE, content_type)], file.data).into_response())
}

// What has no type here is not given at all: a note or a backup copy that lies among the files.
fn content_type(name: &str) -> Option<&'static str> {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_');
    let (stem, ending) = name.rsplit_once('.')?;
    if stem.is_empty() || stem.starts_with('.') || !name.chars().all(plain) {
        return None;
    }
    Some(match ending {
        "html" => "text/html; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "svg" => "image/svg+xml",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_a_page_is_made_of_is_given() {
        assert_eq!(content_type("page.css"), Some("text/css; charset=utf-8"));
        for name in ["page", ".svg", "..js", "a/b.js", "../mod.js", "page.js~", "mod.rs", "%2e.js", ""] {
            assert_eq!(content_type(name), None, "{name}");
        }
    }
}
