//! Where a live stream comes from: a serial line, a pipe, the network, standard input, or an older log that is replayed. Each source has a
//! thread that waits for bytes and passes them on as events. A line that is lost is opened again.

use super::{Event, Link};
use crate::fault::Fault;
use crate::read::piece::Pieces;
use std::fs::File;
use std::io::{self, ErrorKind, Read, Write};
use std::net::{TcpStream, ToSocketAddrs, UdpSocket};
use std::path::{Path, PathBuf};
use std::sync::mpsc::SyncSender;
use std::thread;
use std::time::Duration;

/// How long to wait before a lost line is tried again.
const AGAIN: Duration = Duration::from_millis(500);
/// How long an address may take to answer.
const ANSWERS: Duration = Duration::from_secs(5);
/// How long to wait for bytes on a serial line at a time.
const LOOK: Duration = Duration::from_millis(500);
/// The most bytes that are read at a time.
const BLOCK: usize = 16 * 1024;
/// A replayed log is passed on in pieces of so many bytes, about what a receiver sends in a moment.
const PIECE: usize = 256;
/// A gap in a replayed log is waited for no longer than this, seconds on the log's clock.
const LONGEST_WAIT_S: f64 = 60.0;

/// Where the stream comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Source {
    /// Standard input.
    Stdin,
    /// An older log, passed on at so many times the pace at which it was walked.
    Replay {
        /// The log.
        log: PathBuf,
        /// 1 stands for the pace at which it was walked.
        speed: f64,
    },
    /// A serial line.
    Serial {
        /// Its device.
        device: PathBuf,
        /// Bits a second.
        baud: u32,
    },
    /// A named pipe, opened again whenever its writer closes it.
    Pipe(PathBuf),
    /// A service on the network, `host:port`.
    Tcp(String),
    /// Packets that are sent to this address of this machine, `host:port`.
    Udp(String),
}

impl Source {
    /// The source that a word of the command line names. What is no address, file or pipe is taken for a serial device.
    ///
    /// # Errors
    /// An address without a port, or a file that is there already.
    pub fn named(word: &str, baud: u32) -> Result<Source, Fault> {
        if word == "-" {
            return Ok(Source::Stdin);
        }
        if let Some((scheme, address)) = word.split_once("://") {
            let port = address.rsplit_once(':').map(|(_, port)| port);
            return match (scheme, port.map(str::parse::<u16>)) {
                ("tcp", Some(Ok(_))) => Ok(Source::Tcp(address.to_owned())),
                ("udp", Some(Ok(_))) => Ok(Source::Udp(address.to_owned())),
                _ => Err(Fault::usage(
                    "live-source",
                    format!("“{word}” is no address that a stream comes from."),
                    "Write tcp://HOST:PORT or udp://HOST:PORT, a serial device, or - for standard input.",
                )),
            };
        }
        let path = Path::new(word);
        if path.is_file() {
            return Err(Fault::usage(
                "live-source",
                "this is a file, not a receiver.",
                "Walk it again with --replay, or measure it with `boundwalk measure`.",
            )
            .in_file(word));
        }
        if is_pipe(path) {
            return Ok(Source::Pipe(path.to_owned()));
        }
        Ok(Source::Serial {
            device: path.to_owned(),
            baud,
        })
    }

    /// Starts the thread that reads the source.
    ///
    /// # Errors
    /// Where a log to be replayed cannot be opened. Any other source may still appear and is waited for.
    pub fn start(self, to: SyncSender<Event>) -> Result<(), Fault> {
        match self {
            Source::Stdin => {
                thread::spawn(move || {
                    let told = pass_on(&mut io::stdin().lock(), &to);
                    if told.is_err() {
                        lost(&told, &to)?;
                    }
                    to.send(Event::Ended).map_err(gone)
                });
            }
            Source::Replay { log, speed } => {
                let file = File::open(&log).map_err(|error| {
                    Fault::unreadable(
                        "unreadable",
                        format!("it cannot be opened ({error})."),
                        "Check its name.",
                    )
                    .in_file(log.display().to_string())
                })?;
                thread::spawn(move || replay(file, speed, &to));
            }
            Source::Serial { device, baud } => {
                again_and_again(to, move |to| serial(&device, baud, to));
            }
            Source::Pipe(path) => {
                again_and_again(to, move |to| {
                    let mut pipe = File::open(&path)?;
                    open(to)?;
                    pass_on(&mut pipe, to)
                });
            }
            Source::Tcp(address) => again_and_again(to, move |to| tcp(&address, to)),
            Source::Udp(address) => again_and_again(to, move |to| udp(&address, to)),
        }
        Ok(())
    }
}

#[cfg(unix)]
fn is_pipe(path: &Path) -> bool {
    use std::os::unix::fs::FileTypeExt;
    std::fs::metadata(path).is_ok_and(|meta| meta.file_type().is_fifo())
}

#[cfg(not(unix))]
fn is_pipe(_: &Path) -> bool {
    false
}

/// The error that ends a thread once nobody takes its events any more.
fn gone<T>(_: T) -> io::Error {
    io::Error::from(ErrorKind::NotConnected)
}

/// Tells that the line is open.
fn open(to: &SyncSender<Event>) -> io::Result<()> {
    to.send(Event::Link(Link::Open)).map_err(gone)
}

/// Tells that the line is lost, and why.
fn lost(told: &io::Result<()>, to: &SyncSender<Event>) -> io::Result<()> {
    let why = match told {
        Ok(()) => "the other end closed it".to_owned(),
        Err(error) => error.to_string(),
    };
    to.send(Event::Link(Link::Lost(why))).map_err(gone)
}

/// Starts a thread that runs `once`, which opens the line and passes on what comes, and runs it again whenever the line is lost. The thread
/// ends once nobody takes its events any more.
fn again_and_again(
    to: SyncSender<Event>,
    once: impl Fn(&SyncSender<Event>) -> io::Result<()> + Send + 'static,
) {
    thread::spawn(move || {
        loop {
            if lost(&once(&to), &to).is_err() {
                return;
            }
            thread::sleep(AGAIN);
        }
    });
}

/// Passes on what comes until the source ends.
fn pass_on(from: &mut dyn Read, to: &SyncSender<Event>) -> io::Result<()> {
    let mut block = vec![0; BLOCK];
    loop {
        match from.read(&mut block) {
            Ok(0) => return Ok(()),
            Ok(got) => to.send(Event::Bytes(block[..got].to_vec())).map_err(gone)?,
            Err(error) => match error.kind() {
                // Nothing came for a while. Whether that is too long is judged elsewhere.
                ErrorKind::Interrupted | ErrorKind::TimedOut | ErrorKind::WouldBlock => {}
                _ => return Err(error),
            },
        }
    }
}

fn serial(device: &Path, baud: u32, to: &SyncSender<Event>) -> io::Result<()> {
    let mut port = serial2::SerialPort::open(device, baud)?;
    port.set_read_timeout(LOOK)?;
    open(to)?;
    pass_on(&mut port, to)
}

fn tcp(address: &str, to: &SyncSender<Event>) -> io::Result<()> {
    let mut last = io::Error::from(ErrorKind::AddrNotAvailable);
    for address in address.to_socket_addrs()? {
        match TcpStream::connect_timeout(&address, ANSWERS) {
            Ok(stream) => {
                open(to)?;
                return listen(stream, to);
            }
            Err(error) => last = error,
        }
    }
    Err(last)
}

/// Passes on what comes over a connection. The service gpsd says who it is and then sends nothing until it is asked to, so it is asked.
fn listen(mut stream: TcpStream, to: &SyncSender<Event>) -> io::Result<()> {
    let mut first = [0; BLOCK];
    let got = stream.read(&mut first)?;
    if got == 0 {
        return Ok(());
    }
    let greets = b"{\"class\":\"VERSION\"";
    if first.starts_with(greets) {
        stream.write_all(b"?WATCH={\"enable\":true,\"json\":true};\n")?;
    }
    to.send(Event::Bytes(first[..got].to_vec())).map_err(gone)?;
    pass_on(&mut stream, to)
}

fn udp(address: &str, to: &SyncSender<Event>) -> io::Result<()> {
    let socket = UdpSocket::bind(address)?;
    open(to)?;
    // No UDP packet is larger than this.
    let mut packet = vec![0; 65_536];
    loop {
        match socket.recv(&mut packet) {
            Ok(got) => to
                .send(Event::Bytes(packet[..got].to_vec()))
                .map_err(gone)?,
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

/// Passes a log on at the pace of its own clock.
fn replay(mut log: File, speed: f64, to: &SyncSender<Event>) {
    let mut pieces = Pieces::default();
    let mut clock_s: Option<f64> = None;
    let mut block = [0; PIECE];
    let mut owed_s = 0.0;
    loop {
        let bytes = match log.read(&mut block) {
            Ok(0) => break,
            Ok(got) => &block[..got],
            Err(error) => {
                let _ = lost(&Err(error), to);
                break;
            }
        };
        for fix in pieces.take(bytes).fixes {
            let Some(now_s) = fix.clock_s else { continue };
            let step_s = clock_s.map_or(0.0, |then| now_s - then);
            clock_s = Some(now_s);
            owed_s += step_s.clamp(0.0, LONGEST_WAIT_S) / speed;
        }
        // A computer cannot wait truly for less than this, so shorter waits are added up first.
        const LEAST_S: f64 = 0.001;
        if owed_s >= LEAST_S {
            thread::sleep(Duration::from_secs_f64(owed_s));
            owed_s = 0.0;
        }
        if to.send(Event::Bytes(bytes.to_vec())).is_err() {
            return;
        }
    }
    let _ = to.send(Event::Ended);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_name_sources() {
        let named = |word| Source::named(word, 9600).unwrap();
        assert_eq!(named("-"), Source::Stdin);
        assert_eq!(
            named("tcp://192.168.0.7:2947"),
            Source::Tcp("192.168.0.7:2947".into())
        );
        assert_eq!(named("udp://[::]:10110"), Source::Udp("[::]:10110".into()));
        assert!(matches!(
            named("/dev/ttyNONE"),
            Source::Serial { baud: 9600, .. }
        ));
        for wrong in [
            "tcp://host",
            "http://host:80",
            "udp://host:port",
            "Cargo.toml",
        ] {
            let fault = Source::named(wrong, 9600).unwrap_err();
            assert_eq!(fault.code(), "live-source", "{wrong}");
        }
    }
}
