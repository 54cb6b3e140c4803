//! Who may ask, and what every answer says to the browser.
//! Takes requests; lets through those of the page itself: to the right host, from no other page, by whoever opened the secret
//! address. Adds the headers that keep the page to itself. Leaves alone what is asked for.
//!
//! a POST that another page sends is refused, whatever cookies the browser adds to it

use std::sync::Arc;

use axum::extract::{Path, Request, State};
use axum::http::header::{self, HeaderName};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::page::Desk;
use crate::page::error::{CannotServe, PageError};
use crate::page::secret::Secret;

/// What a page of this server may load, and who may frame it: nothing from elsewhere, and nobody.
const CONTENT_SECURITY_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
    media-src 'self' blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// Headers of every answer.
const HEADERS: [(HeaderName, &str); 7] = [
    (header::CONTENT_SECURITY_POLICY, CONTENT_SECURITY_POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (header::CACHE_CONTROL, "no-store"),
    (header::X_FRAME_OPTIONS, "DENY"),
];

/// What of a start of the program decides who may ask.
#[derive(Debug)]
pub(super) struct Guard {
    port: u16,
    address: Secret,
    cookie: Secret,
}

impl Guard {
    /// For a server on this port.
    pub(super) fn new(port: u16) -> Result<Self, CannotServe> {
        Ok(Self { port, address: Secret::fresh()?, cookie: Secret::fresh()? })
    }

    /// The address that opens the page.
    pub(super) fn address(&self) -> String {
        format!("http://127.0.0.1:{}/open/{}", self.port, self.address.written())
    }

    // Browsers send cookies to every port of a host: with the port in its name, two pages do not lose each other's.
    fn cookie_name(&self) -> String {
        format!("spoken-exam-{}", self.port)
    }

    fn knows_host(&self, host: &str) -> bool {
        ["127.0.0.1", "localhost"].iter().any(|name| host.eq_ignore_ascii_case(&format!("{name}:{}", self.port)))
    }

    fn has_cookie(&self, headers: &HeaderMap) -> bool {
        let name = self.cookie_name();
        let cookies = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
        let pairs = cookies.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().split_once('='));
        pairs.filter(|(known, _)| *known == name).any(|(_, told)| self.cookie.is(told))
    }

    fn check(&self, request: &Request) -> Result<(), PageError> {
        let headers = request.headers();
        let host = one(headers, &header::HOST).ok_or(PageError::WrongHost)?;
        if !self.knows_host(host) {
            return Err(PageError::WrongHost);
        }
        let posts = match *request.method() {
            Method::GET | Method::HEAD => false,
            Method::POST => true,
            _ => return Err(PageError::WrongMethod),
        };
        // Of a line that stays open browsers ask no leave of the other side: it is a way to send as well.
        let sends = posts || headers.contains_key(header::UPGRADE);
        let own = format!("http://{host}");
        let origins = headers.get_all(header::ORIGIN);
        // Whatever a page of the same machine but another port asks for, browsers call "same-site".
        let site = headers.get("sec-fetch-site").map(HeaderValue::as_bytes);
        let foreign = !matches!(site, None | Some(b"same-origin" | b"none"));
        if foreign || origins.iter().any(|origin| !origin.as_bytes().eq_ignore_ascii_case(own.as_bytes())) {
            return Err(PageError::Foreign);
        }
        if sends && origins.iter().count() != 1 {
            return Err(PageError::Foreign);
        }
        if !request.uri().path().starts_with("/open/") && !self.has_cookie(headers) {
            return Err(PageError::Closed);
        }
        if posts && !is_json(headers) {
            return Err(PageError::NotJson);
        }
        Ok(())
    }
}

/// A header that stands there once.
fn one<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    let mut values = headers.get_all(name).iter();
    let value = values.next()?.to_str().ok()?;
    values.next().is_none().then_some(value)
}

fn is_json(headers: &HeaderMap) -> bool {
    let content_type = one(headers, &header::CONTENT_TYPE).unwrap_or_default();
    let kind = content_type.split(';').next().unwrap_or_default();
    kind.trim().eq_ignore_ascii_case("application/json")
}

/// Lets a request through, or answers it with why not. What every answer says is added to both.
pub(super) async fn guard(State(desk): State<Arc<Desk>>, request: Request, next: Next) -> Response {
    let for_programs = request.uri().path().starts_with("/api/");
    let told = |error: PageError| if for_programs { error.into_response() } else { error.as_page() };
    let mut response = match desk.guard.check(&request) {
        Ok(()) => with_a_sentence(next.run(request).await, told),
        Err(error) => told(error),
    };
    for (name, value) in HEADERS {
        response.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    response
}

/// What the library itself refuses, a method or an address that is no text, it answers without a word, or in words of its own.
fn with_a_sentence(response: Response, told: impl FnOnce(PageError) -> Response) -> Response {
    let status = response.status();
    let content_type = response.headers().get(header::CONTENT_TYPE).map(HeaderValue::as_bytes).unwrap_or_default();
    let is_ours = content_type.starts_with(b"application/json") || content_type.starts_with(b"text/html");
    if !status.is_client_error() || is_ours {
        return response;
    }
    let mut answer = told(match status {
        StatusCode::METHOD_NOT_ALLOWED => PageError::WrongMethod,
        _ => PageError::NotUnderstood("its address or its headers are not as the page sends them".to_owned()),
    });
    *answer.status_mut() = status;
    answer
}

/// Opens the page for whoever knows the secret address.
pub(super) async fn open(State(desk): State<Arc<Desk>>, Path(told): Path<String>) -> Response {
    if !desk.guard.address.is(&told) {
        return PageError::Closed.as_page();
    }
    let (name, value) = (desk.guard.cookie_name(), desk.guard.cookie.written());
    let cookie = format!("{name}={value}; HttpOnly; SameSite=Strict; Path=/");
    (StatusCode::SEE_OTHER, [(header::LOCATION, "/".to_owned()), (header::SET_COOKIE, cookie)]).into_response()
}

/// For everything that is not there.
pub(super) async fn nothing_here() -> PageError {
    PageError::NotFound
}
