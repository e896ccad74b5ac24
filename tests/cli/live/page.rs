//! The page for the phone in the other hand, asked over plain HTTP.

use super::super::call;
use super::lines::{Live, kept_bytes, wait_for};
use super::{fixture, only, same_as_measured};
use rustix::process::Signal;
use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{ChildStdin, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

/// A live survey with a page, and where that is.
struct Paged {
    live: Live,
    input: ChildStdin,
    /// `127.0.0.1:4000`.
    host: String,
    /// `/` and the word that nobody guesses.
    path: String,
}

impl Paged {
    fn start(out: &Path, more: &[&str]) -> Paged {
        let mut args = vec!["-", "--out", out.to_str().unwrap(), "--page"];
        args.extend(more);
        let mut live = Live::start(&args, Stdio::piped());
        live.says("The page: http://127.0.0.1:");
        let url = live.all.last().unwrap().rsplit_once("//").unwrap().1;
        let (host, word) = url.split_once('/').unwrap();
        Paged {
            host: host.to_owned(),
            path: format!("/{word}"),
            input: live.child.stdin.take().unwrap(),
            live,
        }
    }

    /// Status, headers and body of the answer to a first line.
    fn ask(&self, first: &str) -> (u32, String, String) {
        let host = &self.host;
        asked(host, &format!("{first} HTTP/1.1\r\nHost: {host}\r\n\r\n"))
    }

    fn now(&self) -> String {
        self.ask(&format!("GET {}?now", self.path)).2
    }

    fn shows(&self, words: &str) {
        wait_for(words, || self.now().contains(words));
    }
}

fn asked(host: &str, request: &str) -> (u32, String, String) {
    let mut stream = TcpStream::connect(host).unwrap();
    stream.write_all(request.as_bytes()).unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    let (head, body) = answer.split_once("\r\n\r\n").unwrap();
    let status = head.split(' ').nth(1).unwrap().parse().unwrap();
    (status, head.to_owned(), body.to_owned())
}

#[test]
fn it_is_read_by_who_knows_its_address_and_by_nobody_else() {
    let out = tempfile::tempdir().unwrap();
    let marks = out.path().join("marks.txt");
    fs::write(&marks, "08:33:34 bed 90cm <script>alert(1)</script>\n").unwrap();
    let kept = out.path().join("kept");
    let mut page = Paged::start(&kept, &["--marks", marks.to_str().unwrap()]);
    page.shows("no area yet");
    let log = fs::read(fixture("garden/lawn.nmea")).unwrap();
    page.input.write_all(&log).unwrap();
    page.shows("<p class=\"figure short\">217.5</p>");
    page.shows("fixed, ");
    page.shows("2 laps, ");
    page.shows(" open, to 08:33:5");
    page.shows("!! SILENT for ");
    let now = page.now();
    assert!(now.contains("bed &lt;script&gt;alert(1)"), "{now}");
    assert!(now.contains("<path d=\"M"), "{now}");
    assert!(!now.contains("<script"), "{now}");

    let (path, word) = (&page.path, &page.path[1..]);
    let (status, head, body) = page.ask(&format!("GET {path}"));
    assert_eq!(status, 200);
    assert!(body.contains("not a survey of legal boundaries"), "{body}");
    // Nothing but what stands in the document, and that only by its own word.
    let nonce = body
        .split("nonce=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    for rule in [
        "default-src 'none'",
        &format!("script-src 'nonce-{nonce}';"),
        "connect-src 'self'",
    ] {
        assert!(head.contains(rule), "{head}");
    }
    assert!(!body.contains("http"), "{body}");
    let head_only = page.ask(&format!("HEAD {path}"));
    assert_eq!((head_only.0, &head_only.1, &*head_only.2), (200, &head, ""));
    for method in ["POST", "PUT", "DELETE", "OPTIONS", "get", "TRACE"] {
        let (status, head, body) = page.ask(&format!("{method} {path}"));
        assert_eq!((status, &*body), (405, ""), "{method}");
        assert!(head.contains("\r\nAllow: GET, HEAD\r\n"), "{head}");
    }
    let other = word.replace(|c: char| c != '-', "a");
    for target in [
        "/",
        "/now",
        "/favicon.ico",
        "",
        "*",
        "/?now",
        &format!("/{other}"),
        &format!("/{}", &word[1..]),
        &format!("/x/../{word}"),
        &format!("http://{}{path}", page.host),
        &format!("/?{word}"),
        &word.to_uppercase(),
    ] {
        for method in ["GET", "POST"] {
            let (status, _, body) = page.ask(&format!("{method} {target}"));
            assert_eq!((status, &*body), (404, ""), "{method} {target}");
        }
    }
    // By a name that somebody had lead here, by two names, by none, and by no HTTP at all.
    for request in [
        format!("GET {path} HTTP/1.1\r\nHost: lawn.example\r\n\r\n"),
        format!(
            "GET {path} HTTP/1.1\r\nHost: {}\r\nHost: lawn.example\r\n\r\n",
            page.host
        ),
        format!("GET {path} HTTP/1.1\r\n\r\n"),
        "\r\n\r\n".to_owned(),
        "\u{1}\u{2}é\r\n\r\n".to_owned(),
    ] {
        let (status, _, body) = asked(&page.host, &request);
        assert_eq!((status, &*body), (404, ""), "{request}");
    }
    page.live.signal(Signal::INT);
    let (printed, code) = page.live.end();
    same_as_measured(&kept, &only(&kept, "toml"), &printed, code);
}

/// A hundred that ask, a hundred that say nothing, some that never read: the log is whole, and its answer the same.
#[test]
fn whoever_asks_the_log_is_kept() {
    let out = tempfile::tempdir().unwrap();
    let mut page = Paged::start(out.path(), &[]);
    let log = fs::read(fixture("garden/lawn.nmea")).unwrap();
    let (host, path) = (page.host.clone(), page.path.clone());
    let connect = || TcpStream::connect(&host).unwrap();
    let silent: Vec<_> = (0..100).map(|_| connect()).collect();
    let deaf: Vec<_> = (0..20)
        .map(|_| {
            let mut stream = connect();
            let request = format!("GET {path} HTTP/1.1\r\nHost: {host}\r\n\r\n");
            // Some are hung up on, as there are so many.
            let _ = stream.write_all(request.as_bytes());
            stream
        })
        .collect();
    let (over, seen) = (AtomicBool::new(false), AtomicBool::new(false));
    thread::scope(|scope| {
        for _ in 0..100 {
            scope.spawn(|| {
                let request = format!("GET {path}?now HTTP/1.1\r\nHost: {host}\r\n\r\n");
                let mut stream_seen = false;
                while !(over.load(Ordering::Relaxed) && stream_seen) {
                    let mut answer = String::new();
                    let mut stream = connect();
                    let told = stream.write_all(request.as_bytes());
                    if told
                        .and_then(|()| stream.read_to_string(&mut answer))
                        .is_ok()
                    {
                        stream_seen |= answer.contains(">218.2<");
                    }
                    seen.fetch_or(stream_seen, Ordering::Relaxed);
                    thread::sleep(std::time::Duration::from_millis(100));
                }
            });
        }
        for piece in log.chunks(2000) {
            page.input.write_all(piece).unwrap();
        }
        kept_bytes(out.path(), log.len());
        wait_for("the area", || seen.load(Ordering::Relaxed));
        over.store(true, Ordering::Relaxed);
    });
    let threads = threads(&page.live);
    assert!(threads.is_none_or(|threads| threads < 150), "{threads:?}");
    page.live.signal(Signal::INT);
    let (printed, code) = page.live.end();
    let kept = only(out.path(), "log");
    assert_eq!(fs::read(&kept).unwrap(), log);
    same_as_measured(out.path(), &kept, &printed, code);
    drop((silent, deaf));
}

/// However many hang on, there is room for the next one soon: each is heard for a few seconds.
#[test]
fn who_hangs_on_is_hung_up_on() {
    let out = tempfile::tempdir().unwrap();
    let page = Paged::start(out.path(), &[]);
    let mut hanging: Vec<_> = (0..400)
        .map(|_| TcpStream::connect(&page.host).unwrap())
        .collect();
    let threads = threads(&page.live);
    assert!(threads.is_none_or(|threads| threads < 150), "{threads:?}");
    // A line that never ends is no request.
    for stream in &mut hanging {
        let _ = stream.write_all(&[b'x'; 9000]);
    }
    let request = format!("GET {} HTTP/1.1\r\nHost: {}\r\n\r\n", page.path, page.host);
    wait_for("there is no room", || {
        let mut answer = String::new();
        let mut stream = TcpStream::connect(&page.host).unwrap();
        let told = stream.write_all(request.as_bytes());
        told.and_then(|()| stream.read_to_string(&mut answer))
            .is_ok()
            && answer.starts_with("HTTP/1.1 200")
    });
    for mut stream in hanging {
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        assert!(answer.is_empty());
    }
    drop(page.input);
    page.live.end();
}

/// How many threads it has, where the system says.
fn threads(live: &Live) -> Option<u32> {
    let status = fs::read_to_string(format!("/proc/{}/status", live.child.id())).ok()?;
    let line = status.lines().find(|line| line.starts_with("Threads:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

#[test]
fn an_address_that_cannot_be_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let log = fixture("garden/lawn.nmea");
    // An address kept for examples (RFC 5737) is nobody's.
    for (address, wanted, word) in [
        (
            "203.0.113.1:80",
            1,
            "the page cannot be served at 203.0.113.1:80",
        ),
        ("0.0.0.0:8080", 2, "all addresses of this machine"),
        ("/dev/ttyUSB0", 2, "write --page last"),
    ] {
        let args = [
            "live",
            "--out",
            out,
            "--page",
            address,
            "--replay",
            log.to_str().unwrap(),
        ];
        let (printed, said, code) = call(&args);
        assert_eq!(code, wanted, "{said}");
        assert!(said.contains(word), "{said}");
        assert_eq!(printed, "");
        assert_eq!(fs::read_dir(out).unwrap().count(), 0, "{address}");
    }
}
