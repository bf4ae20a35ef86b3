//! Who is answered: pages of this very server, on this machine, that know its token.

use crate::failure::Failure;
use crate::system;
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use std::fs::OpenOptions;
use std::io::{ErrorKind, Read as _, Write as _};
use std::path::Path;

/// Headers of every answer: no other origin, no cache, no frame around it.
pub(super) const HEADERS: [(header::HeaderName, &str); 6] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; \
         frame-ancestors 'none'; base-uri 'none'; form-action 'none'",
    ),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (header::HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (header::HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
];

/// Bytes of a file with a token that are read.
const MOST_TOKEN: u64 = 1000;

/// What an address must have to be answered.
#[derive(Debug)]
pub(super) struct Guard {
    token: String,
    hosts: [String; 2],
}

impl Guard {
    /// For a port, with a token of 128 random bits, or the one that a file keeps.
    pub(super) fn new(port: u16, kept: Option<&Path>) -> Result<Self, Failure> {
        let token = kept.map_or_else(random, token_of)?;
        Ok(Self { token, hosts: ["127.0.0.1", "localhost"].map(|host| format!("{host}:{port}")) })
    }

    /// The address of the page.
    pub(super) fn address(&self) -> String {
        format!("http://{}/{}/", self.hosts[0], self.token)
    }

    /// What the path has after the token, where the request may be answered.
    pub(super) fn check<'p>(&self, method: &Method, path: &'p str, headers: &HeaderMap) -> Result<&'p str, StatusCode> {
        let text = |name: header::HeaderName| headers.get(name).map(HeaderValue::to_str).transpose();
        let one = |name: header::HeaderName| headers.get_all(name).iter().count() <= 1;
        let host = text(header::HOST).ok().flatten().unwrap_or_default();
        // Another name for this machine would be another site's, which only looks as if it were here.
        if !one(header::HOST) || !self.hosts.iter().any(|h| h == host) {
            return Err(StatusCode::FORBIDDEN);
        }
        let (token, rest) = path.strip_prefix('/').and_then(|p| p.split_once('/')).ok_or(StatusCode::NOT_FOUND)?;
        if !same(token.as_bytes(), self.token.as_bytes()) {
            return Err(StatusCode::NOT_FOUND);
        }
        let origin = text(header::ORIGIN).map_err(|_| StatusCode::FORBIDDEN)?;
        let own = |origin: &str| origin.strip_prefix("http://").is_some_and(|o| o == host);
        if !one(header::ORIGIN) || origin.is_some_and(|o| !own(o)) {
            return Err(StatusCode::FORBIDDEN);
        }
        let site = headers.get("sec-fetch-site").map(HeaderValue::as_bytes);
        // Typed into the address bar, or asked by the page itself.
        if site.is_some_and(|s| s != b"same-origin" && s != b"none") && !(method == Method::GET && rest.is_empty()) {
            return Err(StatusCode::FORBIDDEN);
        }
        if method == Method::POST && origin.is_none() && site != Some(b"same-origin") {
            return Err(StatusCode::FORBIDDEN);
        }
        if method != Method::GET && method != Method::POST {
            return Err(StatusCode::METHOD_NOT_ALLOWED);
        }
        Ok(rest)
    }
}

fn random() -> Result<String, Failure> {
    let mut bits = [0; 16];
    getrandom::fill(&mut bits).map_err(|e| Failure::new(format!("this machine gives no random numbers: {e}")))?;
    Ok(bits.iter().map(|b| format!("{b:02x}")).collect())
}

/// The token that `file` keeps; a new file, which only this user can read, gets a new one.
fn token_of(file: &Path) -> Result<String, Failure> {
    let fail = |e: std::io::Error| Failure::new(format!("--token-file {}: {e}", file.display()));
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    system::of_this_user(&mut options);
    match options.open(file) {
        Ok(mut new) => {
            let token = random()?;
            new.write_all(token.as_bytes()).map_err(fail)?;
            Ok(token)
        }
        Err(e) if e.kind() == ErrorKind::AlreadyExists => {
            let token =
                own_text(file).map_err(|why| Failure::new(format!("--token-file {}: {why}", file.display())))?;
            if token.len() == 32 && token.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b)) {
                return Ok(token);
            }
            let words = "holds no token of 32 hexadecimal digits: name a file that is not there yet";
            Err(Failure::new(format!("--token-file {}: {words}", file.display())))
        }
        Err(e) => Err(fail(e)),
    }
}

/// The text of a small file that only this user can read.
fn own_text(file: &Path) -> Result<String, String> {
    let (opened, found) = crate::disk::open(file)?;
    if let Some(why) = system::let_in(&found) {
        return Err(why);
    }
    let mut text = String::new();
    opened.take(MOST_TOKEN).read_to_string(&mut text).map_err(|e| crate::disk::plainly(&e))?;
    Ok(text.trim().to_owned())
}

/// Whether both are the same, in a time that does not tell how far they are.
fn same(a: &[u8], b: &[u8]) -> bool {
    a.len() == b.len() && a.iter().zip(b).fold(0, |differs, (a, b)| differs | (a ^ b)) == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(all: &[(&'static str, &str)]) -> HeaderMap {
        all.iter().map(|(n, v)| (header::HeaderName::from_static(n), HeaderValue::from_str(v).unwrap())).collect()
    }

    #[test]
    fn only_the_page_itself_is_answered() {
        let guard = Guard::new(4000, None).unwrap();
        let root = format!("/{}/", guard.token);
        let api = format!("{root}api/state");
        let host = ("host", "127.0.0.1:4000");
        let get = |path: &str, all: &[(&'static str, &str)]| {
            guard.check(&Method::GET, path, &headers(all)).map(str::to_owned)
        };
        let post = |all: &[(&'static str, &str)]| guard.check(&Method::POST, &api, &headers(all)).map(str::to_owned);
        assert_eq!(guard.token.len(), 32);
        assert_ne!(guard.token, Guard::new(4000, None).unwrap().token);
        assert_eq!(get(&root, &[host]), Ok(String::new()));
        assert_eq!(get(&api, &[("host", "localhost:4000")]), Ok("api/state".to_owned()));
        let forbidden = Err(StatusCode::FORBIDDEN);
        for odd in ["evil.example:4000", "127.0.0.1", "127.0.0.1:4001", "127.0.0.1:4000.evil.example", ""] {
            assert_eq!(get(&api, &[("host", odd)]), forbidden, "{odd}");
        }
        assert_eq!(get(&api, &[]), forbidden);
        assert_eq!(get(&api, &[host, host]), forbidden);
        for path in [
            "/",
            "//",
            "/0/",
            "/api/state",
            &root[..33],
            &root.to_uppercase().replace(|c: char| c.is_ascii_digit(), "x"),
        ] {
            assert_eq!(get(path, &[host]), Err(StatusCode::NOT_FOUND), "{path}");
        }
        for origin in
            ["http://evil.example", "null", "https://127.0.0.1:4000", "http://127.0.0.1:4001", "http://localhost:4000"]
        {
            assert_eq!(get(&api, &[host, ("origin", origin)]), forbidden, "{origin}");
            assert_eq!(post(&[host, ("origin", origin)]), forbidden, "{origin}");
        }
        assert_eq!(post(&[host]), forbidden);
        assert!(post(&[host, ("origin", "http://127.0.0.1:4000")]).is_ok());
        assert!(post(&[host, ("sec-fetch-site", "same-origin")]).is_ok());
        assert_eq!(post(&[host, ("sec-fetch-site", "cross-site")]), forbidden);
        assert_eq!(get(&api, &[host, ("sec-fetch-site", "cross-site")]), forbidden);
        // A link from elsewhere that knows the token may open the page.
        assert!(get(&root, &[host, ("sec-fetch-site", "cross-site")]).is_ok());
        assert_eq!(guard.check(&Method::DELETE, &api, &headers(&[host])), Err(StatusCode::METHOD_NOT_ALLOWED));
    }

    #[test]
    fn a_file_keeps_the_token() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("token");
        let first = Guard::new(4000, Some(&file)).unwrap();
        assert_eq!(first.token, Guard::new(4000, Some(&file)).unwrap().token);
        #[cfg(unix)]
        assert_eq!(std::os::unix::fs::PermissionsExt::mode(&file.metadata().unwrap().permissions()) & 0o777, 0o600);
        for odd in ["", "abc", "00000000000000000000000000000000/", "ABCDEF00000000000000000000000000"] {
            std::fs::write(&file, odd).unwrap();
            assert!(Guard::new(4000, Some(&file)).is_err(), "{odd}");
        }
        assert!(Guard::new(4000, Some(folder.path())).is_err());
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            std::fs::write(&file, &first.token).unwrap();
            for (mode, good) in [(0o600, true), (0o400, true), (0o644, false), (0o660, false)] {
                std::fs::set_permissions(&file, std::fs::Permissions::from_mode(mode)).unwrap();
                assert_eq!(Guard::new(4000, Some(&file)).is_ok(), good, "{mode:o}");
            }
        }
    }
}
