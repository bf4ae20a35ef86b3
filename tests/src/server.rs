//! The server of `preview` at work, and a client of it that says exactly what a test wants said.

#![allow(clippy::missing_panics_doc)]

use serde_json::Value;
use std::ffi::OsStr;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Nothing of the server takes longer.
const PATIENCE: Duration = Duration::from_secs(60);

/// A server that is ended when this goes.
pub struct Server {
    /// The program.
    pub child: Child,
    /// `127.0.0.1:PORT`.
    pub host: String,
    /// `/TOKEN`.
    pub token: String,
}

/// What came back.
#[derive(Debug)]
pub struct Answer {
    /// The status.
    pub status: u16,
    /// Lines of the head, names in small letters.
    pub headers: Vec<(String, String)>,
    /// The body.
    pub body: Vec<u8>,
}

impl Answer {
    /// A header; empty where it is not there.
    pub fn header(&self, name: &str) -> &str {
        self.headers.iter().find(|(n, _)| n == name).map_or("", |(_, value)| value)
    }

    /// The body as JSON.
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&self.body)))
    }

    /// The body as JSON of an answer that must be good.
    pub fn good(&self) -> Value {
        assert_eq!(self.status, 200, "{}", String::from_utf8_lossy(&self.body));
        self.json()
    }

    /// What it says of an error with this status.
    pub fn refused(&self, status: u16) -> String {
        assert_eq!(self.status, status, "{}", String::from_utf8_lossy(&self.body));
        self.json()["error"].as_str().expect("an error says why").to_owned()
    }
}

impl Server {
    /// Starts the server in `dir`, and waits until it listens.
    pub fn start(dir: &Path, args: &str) -> Self {
        Self::start_with(dir, args, &[])
    }

    /// The same with these variables in its environment.
    pub fn start_with(dir: &Path, args: &str, variables: &[(&str, &OsStr)]) -> Self {
        Self::start_opened(dir, &format!("--no-open {args}"), variables)
    }

    /// The same, opening the page in a browser.
    pub fn start_opened(dir: &Path, args: &str, variables: &[(&str, &OsStr)]) -> Self {
        Self::start_fed(dir, args, variables, Stdio::null())
    }

    /// The same with this standard input.
    pub fn start_fed(dir: &Path, args: &str, variables: &[(&str, &OsStr)], input: Stdio) -> Self {
        let mut child = Command::new(crate::rushlight())
            .current_dir(dir)
            .arg("preview")
            .env("XDG_STATE_HOME", dir.join("state"))
            .envs(variables.iter().copied())
            .args(args.split_whitespace())
            .stdin(input)
            .stdout(Stdio::piped())
            .spawn()
            .expect("it starts");
        let stdout = child.stdout.take().expect("it is piped");
        let mut lines = BufReader::new(stdout).lines().map(|line| line.expect("UTF-8"));
        let address = lines.find(|line| line.starts_with("http://")).expect("it says its address");
        let rest = address.strip_prefix("http://").expect("it begins so").trim_end_matches('/');
        let (host, token) = rest.split_once('/').expect("a token");
        Self { host: host.to_owned(), token: format!("/{token}"), child }
    }

    /// A connection.
    pub fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(&self.host).expect("it listens");
        stream.set_read_timeout(Some(PATIENCE)).expect("a time");
        stream
    }

    /// Sends bytes as they are, and reads until the server closes.
    pub fn send(&self, request: &[u8]) -> Option<Answer> {
        let mut stream = self.connect();
        // The server may have answered and closed before it heard it all.
        let _ = stream.write_all(request);
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        answer(&bytes)
    }

    /// Asks with a head of this test's own making.
    pub fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        let mut head = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\n");
        for (name, value) in headers {
            head.push_str(&format!("{name}: {value}\r\n"));
        }
        if method == "POST" {
            head.push_str(&format!("Content-Length: {}\r\n", body.len()));
        }
        head.push_str("\r\n");
        self.send(&[head.as_bytes(), body].concat()).unwrap_or_else(|| panic!("no answer to {method} {path}"))
    }

    /// As the page asks, below `/TOKEN/api/`.
    pub fn get(&self, path: &str) -> Answer {
        self.ask("GET", &format!("{}/api/{path}", self.token), &[("Host", &self.host)], b"")
    }

    /// As the page posts.
    pub fn post(&self, path: &str, body: &Value) -> Answer {
        self.post_bytes(path, "application/json", body.to_string().as_bytes())
    }

    /// As the page posts a body of this type.
    pub fn post_bytes(&self, path: &str, kind: &str, body: &[u8]) -> Answer {
        let origin = format!("http://{}", self.host);
        let headers = [("Host", self.host.as_str()), ("Origin", &origin), ("Content-Type", kind)];
        self.ask("POST", &format!("{}/api/{path}", self.token), &headers, body)
    }

    /// The stream of events, from its first line on.
    pub fn events(&self) -> BufReader<TcpStream> {
        let mut stream = self.connect();
        let head = format!("GET {}/api/events HTTP/1.1\r\nHost: {}\r\n\r\n", self.token, self.host);
        stream.write_all(head.as_bytes()).expect("it is sent");
        let mut reader = BufReader::new(stream);
        let mut line = String::new();
        while !line.starts_with("retry:") {
            line.clear();
            assert!(reader.read_line(&mut line).expect("a line") > 0, "the events end");
        }
        reader
    }
}

/// The next event of a kind.
pub fn next_event(events: &mut BufReader<TcpStream>, kind: &str) -> Value {
    loop {
        let mut line = String::new();
        assert!(events.read_line(&mut line).expect("a line") > 0, "the events end");
        if let Some(data) = line.strip_prefix("data: ") {
            let event: Value = serde_json::from_str(data).expect("JSON");
            if event["kind"] == kind {
                return event;
            }
        }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn answer(bytes: &[u8]) -> Option<Answer> {
    let end = bytes.windows(4).position(|w| w == b"\r\n\r\n")?;
    let head = std::str::from_utf8(&bytes[..end]).ok()?;
    let mut lines = head.split("\r\n");
    let status = lines.next()?.split(' ').nth(1)?.parse().ok()?;
    let header = |line: &str| line.split_once(": ").map(|(n, v)| (n.to_ascii_lowercase(), v.to_owned()));
    Some(Answer { status, headers: lines.filter_map(header).collect(), body: bytes[end + 4..].to_vec() })
}
