//! Serves one page over HTTP/1.1 (RFC 9112) to a browser near by. The page can be read and nothing else. Its address has a word in it that
//! nobody can guess. Each browser has a thread and little time, so that slow ones, or a hundred at once, hold up nothing but each
//! other.

use crate::fault::Fault;
use std::io::{self, ErrorKind, Read, Write};
use std::net::{IpAddr, Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

/// How many connections are attended at once; further ones are closed, and the browser asks again. A system lets a program have 256 open
/// files or more.
const MOST: usize = 128;
/// How long one connection is attended in all.
const PATIENCE: Duration = Duration::from_secs(3);
/// The most bytes of a request; those of browsers have about one thousand.
const LONGEST: usize = 8 * 1024;
/// What was shown longer ago than this is not passed on; a page that hears nothing says so by itself.
const FRESH: Duration = Duration::from_secs(1);
/// How long to wait where the system has no room for another connection.
const REST: Duration = Duration::from_millis(50);
/// Size of a thread's stack, bytes. It can be small, since requests and answers do not lie on it.
const STACK: usize = 128 * 1024;
/// 32 letters and digits of which none looks like another.
const LETTERS: &[u8; 32] = b"abcdefghijkmnpqrstuvwxyz23456789";
/// So many of these letters make 80 bits, which at a thousand guesses a second nobody finds in a lifetime.
const TOKEN: usize = 16;

/// The page that is served.
#[derive(Debug)]
pub struct Server {
    address: SocketAddr,
    shared: Arc<Shared>,
}

/// What the threads that attend connections share.
#[derive(Debug)]
struct Shared {
    /// The word in the page's address.
    token: String,
    /// A random word that the page's style and script carry. The browser is told it and uses no others.
    nonce: String,
    page: String,
    /// What the page shows now, and since when; `None` before the first.
    now: Mutex<Option<(Arc<str>, Instant)>>,
}

/// A word that nobody can guess: random letters from the system, in groups of four.
fn unguessable() -> Result<String, Fault> {
    let mut bytes = [0; TOKEN];
    getrandom::fill(&mut bytes).map_err(|error| {
        Fault::unreadable(
            "page",
            format!("the system gives no random numbers ({error})."),
            "Go on without --page.",
        )
    })?;
    let letters = bytes.map(|byte| LETTERS[usize::from(byte) % LETTERS.len()]);
    let groups = letters.chunks(4).map(String::from_utf8_lossy);
    Ok(groups.collect::<Vec<_>>().join("-"))
}

/// The address that a word of the command line names: one of this machine, with a port, or with port 0, which stands for any free one.
///
/// # Errors
/// A word that is no address, or one that stands for every address of the machine.
pub fn address(word: &str) -> Result<SocketAddr, String> {
    let address = word.parse().or_else(|_| {
        let ip: Result<IpAddr, _> = word.parse();
        ip.map(|ip| SocketAddr::new(ip, 0))
    });
    match address {
        Ok(address) if address.ip().is_unspecified() => Err(
            "it stands for all addresses of this machine; name the one on the network that the phone is on, such as 192.168.1.5:8080"
                .into(),
        ),
        Ok(address) => Ok(address),
        Err(_) => Err("it must be an address of this machine, such as 192.168.1.5:8080; for its loopback address write --page last".into()),
    }
}

impl Server {
    /// Begins to listen. `page` makes the page once, from the word that its style and script must carry.
    ///
    /// # Errors
    /// Where the address is none of this machine's, or its port is taken.
    pub fn start(address: SocketAddr, page: impl FnOnce(&str) -> String) -> Result<Server, Fault> {
        let listener = TcpListener::bind(address);
        let bound = listener.and_then(|listener| Ok((listener.local_addr()?, listener)));
        let (address, listener) = bound.map_err(|error| {
            Fault::unreadable(
                "page",
                format!("the page cannot be served at {address} ({error})."),
                "Name an address of this machine, or another port; --page alone takes a free one that only this machine reaches.",
            )
        })?;
        let nonce = unguessable()?;
        let shared = Arc::new(Shared {
            token: unguessable()?,
            page: page(&nonce),
            nonce,
            now: Mutex::default(),
        });
        let server = Server {
            address,
            shared: Arc::clone(&shared),
        };
        thread::spawn(move || accept(&listener, &shared));
        Ok(server)
    }

    /// The page's address, with the word in it.
    #[must_use]
    pub fn url(&self) -> String {
        format!("http://{}/{}", self.address, self.shared.token)
    }

    /// Sets what is shown from now on.
    pub fn show(&self, now: String) {
        let mut shown = self
            .shared
            .now
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        *shown = Some((now.into(), Instant::now()));
    }
}

/// Attends each connection on a thread of its own, until the program ends.
fn accept(listener: &TcpListener, shared: &Arc<Shared>) {
    // Each thread holds a counted pointer to this, so the count says how many threads there are.
    let seats = Arc::new(());
    loop {
        let Ok((stream, _)) = listener.accept() else {
            thread::sleep(REST);
            continue;
        };
        if Arc::strong_count(&seats) > MOST {
            continue;
        }
        let (shared, seat) = (Arc::clone(shared), Arc::clone(&seats));
        let attend = move || {
            // A browser that has gone away needs no answer.
            let _ = attend(stream, &shared);
            drop(seat);
        };
        // Where the system has no thread left, this connection is closed as well.
        let _ = thread::Builder::new().stack_size(STACK).spawn(attend);
    }
}

/// The time that is left; an error where there is none.
fn left(until: Instant) -> io::Result<Duration> {
    match until.saturating_duration_since(Instant::now()) {
        Duration::ZERO => Err(ErrorKind::TimedOut.into()),
        left => Ok(left),
    }
}

/// Reads one request and answers it, all within [`PATIENCE`].
fn attend(mut stream: TcpStream, shared: &Shared) -> io::Result<()> {
    let until = Instant::now() + PATIENCE;
    let mut block = [0; 1024];
    let mut asked = Vec::new();
    while !asked.windows(4).any(|end| end == b"\r\n\r\n") {
        stream.set_read_timeout(Some(left(until)?))?;
        match stream.read(&mut block)? {
            0 => return Ok(()),
            got => asked.extend_from_slice(&block[..got]),
        }
        if asked.len() > LONGEST {
            return Ok(());
        }
    }
    let answer = shared.answer(&String::from_utf8_lossy(&asked));
    let mut rest = &answer[..];
    while !rest.is_empty() {
        stream.set_write_timeout(Some(left(until)?))?;
        match stream.write(rest)? {
            0 => return Ok(()),
            written => rest = &rest[written..],
        }
    }
    // Whatever else was sent is still read: a connection that is closed with bytes unread may lose the answer that is under way.
    stream.shutdown(Shutdown::Write)?;
    loop {
        stream.set_read_timeout(Some(left(until)?))?;
        if stream.read(&mut block)? == 0 {
            return Ok(());
        }
    }
}

impl Shared {
    /// The answer to a request: the page, what it shows now, or nothing to whoever does not know its address.
    fn answer(&self, asked: &str) -> Vec<u8> {
        let mut lines = asked.split("\r\n");
        let mut first = lines.next().unwrap_or_default().split(' ');
        let (method, target) = (
            first.next().unwrap_or_default(),
            first.next().unwrap_or_default(),
        );
        let mut hosts = lines
            .filter_map(|line| line.split_once(':'))
            .filter(|(name, _)| name.eq_ignore_ascii_case("host"))
            .map(|(_, host)| host.trim())
            .peekable();
        let (path, query) = target.split_once('?').unwrap_or((target, ""));
        let known = same(path.trim_matches('/'), &self.token);
        // A stranger's web page could have a name of its own lead to this machine and so read the page. A request is therefore answered only
        // if it names the machine by its number or as localhost.
        if !known || hosts.peek().is_none() || !hosts.all(is_number) {
            return self.written("404 Not Found", method, "");
        }
        match (method, query) {
            ("GET" | "HEAD", "now") => self.written("200 OK", method, &self.fresh()),
            ("GET" | "HEAD", _) => self.written("200 OK", method, &self.page),
            _ => self.written("405 Method Not Allowed\r\nAllow: GET, HEAD", method, ""),
        }
    }

    /// What is shown now; empty where it is too old.
    fn fresh(&self) -> Arc<str> {
        let shown = self.now.lock().unwrap_or_else(PoisonError::into_inner);
        match &*shown {
            Some((now, since)) if since.elapsed() <= FRESH => Arc::clone(now),
            _ => Arc::default(),
        }
    }

    /// An answer with its headers, which let the browser load nothing but the page's own style and script.
    fn written(&self, status: &str, method: &str, body: &str) -> Vec<u8> {
        let nonce = &self.nonce;
        let length = body.len();
        let mut answer = format!(
            "HTTP/1.1 {status}\r\nContent-Type: text/html; charset=utf-8\r\nContent-Length: {length}\r\nConnection: close\r\n\
             Cache-Control: no-store\r\nReferrer-Policy: no-referrer\r\nX-Content-Type-Options: nosniff\r\n\
             Cross-Origin-Resource-Policy: same-origin\r\nContent-Security-Policy: default-src 'none'; \
             script-src 'nonce-{nonce}'; style-src 'nonce-{nonce}'; connect-src 'self'; img-src data:; base-uri 'none'; \
             form-action 'none'; frame-ancestors 'none'\r\n\r\n"
        );
        if method != "HEAD" {
            answer.push_str(body);
        }
        answer.into_bytes()
    }
}

/// Whether two words are the same. It takes the same time wherever they differ, so that the time does not help to guess a word.
fn same(a: &str, b: &str) -> bool {
    let differ = |(a, b): (u8, u8)| a ^ b;
    a.len() == b.len()
        && a.bytes()
            .zip(b.bytes())
            .map(differ)
            .fold(0, |all, d| all | d)
            == 0
}

/// Whether a host is an address in numbers or `localhost`, with a port or without.
fn is_number(host: &str) -> bool {
    let ip = |host: &str| host.parse::<IpAddr>().is_ok();
    let bracketed = host
        .strip_prefix('[')
        .and_then(|host| host.strip_suffix(']'));
    host.parse::<SocketAddr>().is_ok()
        || ip(bracketed.unwrap_or(host))
        || host == "localhost"
        || host.starts_with("localhost:")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_name_addresses() {
        assert_eq!(address("192.168.1.5:8080").unwrap().port(), 8080);
        assert_eq!(address("192.168.1.5").unwrap().port(), 0);
        assert_eq!(address("[fe80::1]:8080").unwrap().port(), 8080);
        for wrong in [
            "",
            "8080",
            "lawn.example:80",
            "0.0.0.0:80",
            "[::]:80",
            "1.2.3.4:x",
        ] {
            assert!(address(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn names_that_lead_here_are_not_numbers() {
        for host in [
            "127.0.0.1:80",
            "192.168.1.5",
            "[::1]:80",
            "[::1]",
            "localhost:4",
            "localhost",
        ] {
            assert!(is_number(host), "{host}");
        }
        for host in [
            "",
            "lawn.example",
            "lawn.example:80",
            "localhost.lawn.example:80",
            "127.0.0.1.lawn.example",
        ] {
            assert!(!is_number(host), "{host}");
        }
    }

    #[test]
    fn words_nobody_guesses_differ() {
        let words = [unguessable().unwrap(), unguessable().unwrap()];
        assert_ne!(words[0], words[1]);
        for word in words {
            assert_eq!(word.len(), TOKEN + 3);
            assert!(
                word.bytes().all(|b| b == b'-' || LETTERS.contains(&b)),
                "{word}"
            );
        }
    }

    #[test]
    fn what_is_old_is_not_passed_on() {
        let shared = Shared {
            token: "abcd".into(),
            nonce: "x".into(),
            page: "page".into(),
            now: Mutex::default(),
        };
        let body = |target: &str| {
            let asked = format!("GET {target} HTTP/1.1\r\nHost: 127.0.0.1:80\r\n\r\n");
            let answer = String::from_utf8(shared.answer(&asked)).unwrap();
            answer.split_once("\r\n\r\n").unwrap().1.to_owned()
        };
        assert_eq!(body("/abcd?now"), "");
        let now = Instant::now();
        *shared.now.lock().unwrap() = Some(("net".into(), now));
        assert_eq!(body("/abcd?now"), "net");
        *shared.now.lock().unwrap() = now.checked_sub(2 * FRESH).map(|then| ("net".into(), then));
        assert_eq!(body("/abcd?now"), "");
        assert_eq!(body("/abcd"), "page");
    }
}
