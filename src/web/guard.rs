//! Who may speak to the local page: a one-use token becomes a cookie; foreign hosts and origins are turned away.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use sha2::{Digest, Sha256};

/// The path that trades the token for the cookie.
pub(super) const ENTER: &str = "/enter";

/// What every answer carries, so that a page of ours runs only its own files and nobody frames or sniffs it.
const HEADERS: [(HeaderName, &str); 6] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; \
         form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
];

/// The secrets of one run of the server, the first two 32 random bytes each, as lower-case hex.
#[derive(Clone)]
pub struct Secrets {
    /// Stands in the printed address and is good once.
    pub token: String,
    /// The value of the cookie.
    pub session: String,
    /// Spells the code for phones on the local network.
    pub code: [u8; 8],
}

impl std::fmt::Debug for Secrets {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Secrets { … }")
    }
}

/// Decides for each request whether it comes from the breeder's own page.
#[derive(Debug)]
pub(super) struct Guard {
    secrets: Secrets,
    token_used: AtomicBool,
    port: u16,
}

impl Guard {
    pub(super) fn new(secrets: Secrets, port: u16) -> Self {
        Self { secrets, token_used: AtomicBool::new(false), port }
    }

    /// Cookies know no ports, so the name carries it: two books may be open at once.
    fn cookie_name(&self) -> String {
        format!("broodhue-{}", self.port)
    }

    fn host_is_ours(&self, headers: &HeaderMap) -> bool {
        let host = headers.get(header::HOST).and_then(|h| h.to_str().ok()).unwrap_or_default();
        self.is_ours(host)
    }

    /// Whether a host is this computer at our port; browsers leave out the port that HTTP has anyway.
    fn is_ours(&self, host: &str) -> bool {
        let ours = |name: &str| host == format!("{name}:{}", self.port) || self.port == 80 && host == name;
        ["127.0.0.1", "localhost"].iter().any(|name| ours(name))
    }

    /// A browser sends `Origin` with everything but plain reading; a request that changes something must show ours.
    fn origin_is_ours(&self, method: &Method, headers: &HeaderMap) -> bool {
        let reads = method == Method::GET || method == Method::HEAD;
        match headers.get(header::ORIGIN).map(HeaderValue::to_str) {
            None => reads,
            Some(Err(_)) => false,
            Some(Ok(origin)) => origin.strip_prefix("http://").is_some_and(|host| self.is_ours(host)),
        }
    }

    fn has_session(&self, headers: &HeaderMap) -> bool {
        let wanted = format!("{}=", self.cookie_name());
        headers
            .get_all(header::COOKIE)
            .iter()
            .filter_map(|v| v.to_str().ok())
            .flat_map(|line| line.split(';'))
            .filter_map(|pair| pair.trim().strip_prefix(&wanted))
            .any(|value| same(value, &self.secrets.session))
    }

    /// Trades the token for the cookie, once.
    fn enter(&self, query: &str) -> Option<String> {
        let token = query.split('&').find_map(|pair| pair.strip_prefix("token="))?;
        let first = same(token, &self.secrets.token) && !self.token_used.swap(true, Ordering::SeqCst);
        first.then(|| {
            format!("{}={}; HttpOnly; SameSite=Strict; Path=/; Max-Age=86400", self.cookie_name(), self.secrets.session)
        })
    }
}

/// Compares digests, so that the time taken tells nothing about where two secrets differ.
pub(super) fn same(a: &str, b: &str) -> bool {
    Sha256::digest(a) == Sha256::digest(b)
}

/// The middleware around every route of the local page.
pub(super) async fn check(State(guard): State<Arc<Guard>>, request: Request, next: Next) -> Response {
    let mut response = admit(&guard, request, next).await;
    add_headers(&mut response);
    response
}

/// Adds what every answer carries, where it is not set already.
pub(super) fn add_headers(response: &mut Response) {
    for (name, value) in HEADERS {
        response.headers_mut().entry(name).or_insert(HeaderValue::from_static(value));
    }
}

async fn admit(guard: &Guard, request: Request, next: Next) -> Response {
    let headers = request.headers();
    if !guard.host_is_ours(headers) {
        return refuse("This page answers only under the address that broodhue printed.");
    }
    if !guard.origin_is_ours(request.method(), headers) {
        return refuse("This request came from another page and was not carried out.");
    }
    let known = guard.has_session(headers);
    if request.uri().path() == ENTER {
        return match guard.enter(request.uri().query().unwrap_or_default()) {
            Some(cookie) => ([(header::SET_COOKIE, cookie)], Redirect::to("/")).into_response(),
            None if known => Redirect::to("/").into_response(),
            None => refuse(
                "This address has been used already. Stop broodhue confirm, start it again and open the new address.",
            ),
        };
    }
    if known {
        next.run(request).await
    } else {
        refuse("Open the address that broodhue confirm printed; it lets one browser in.")
    }
}

fn refuse(why: &'static str) -> Response {
    (StatusCode::FORBIDDEN, why).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn guard() -> Guard {
        Guard::new(Secrets { token: "t".repeat(64), session: "s".repeat(64), code: [0; 8] }, 8123)
    }

    fn headers(pairs: &[(HeaderName, &str)]) -> HeaderMap {
        pairs.iter().map(|(n, v)| (n.clone(), HeaderValue::from_str(v).unwrap())).collect()
    }

    #[test]
    fn a_token_is_good_once() {
        let guard = guard();
        assert!(guard.enter("token=wrong").is_none());
        let cookie = guard.enter(&format!("token={}", "t".repeat(64))).unwrap();
        assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"));
        assert!(guard.enter(&format!("token={}", "t".repeat(64))).is_none());
    }

    #[test]
    fn hosts_and_origins_must_be_the_printed_ones() {
        let guard = guard();
        assert!(guard.host_is_ours(&headers(&[(header::HOST, "127.0.0.1:8123")])));
        for foreign in ["127.0.0.1", "evil.example:8123", "127.0.0.1:8123.evil.example", "127.0.0.1:80", ""] {
            assert!(!guard.host_is_ours(&headers(&[(header::HOST, foreign)])), "{foreign}");
        }
        assert!(guard.origin_is_ours(&Method::GET, &headers(&[])));
        assert!(!guard.origin_is_ours(&Method::POST, &headers(&[])));
        assert!(guard.origin_is_ours(&Method::POST, &headers(&[(header::ORIGIN, "http://localhost:8123")])));
        for foreign in ["null", "http://evil.example", "https://127.0.0.1:8123", "http://127.0.0.1:81"] {
            assert!(!guard.origin_is_ours(&Method::POST, &headers(&[(header::ORIGIN, foreign)])), "{foreign}");
        }
    }

    #[test]
    fn the_cookie_is_found_among_others() {
        let guard = guard();
        let own = format!("a=b; broodhue-8123={}; c=d", "s".repeat(64));
        assert!(guard.has_session(&headers(&[(header::COOKIE, &own)])));
        assert!(!guard.has_session(&headers(&[(header::COOKIE, "broodhue-8123=guess; broodhue-8124=x")])));
    }
}
