//! Lines that break: a process killed, a service that goes and comes back, a serial device unplugged, a disk that is full.

use super::super::boundwalk;
use super::{fixture, only, same_as_measured};
use rustix::process::{Pid, Signal, kill_process};
use std::fs::{self, File, OpenOptions};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, UdpSocket};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread;
use std::time::{Duration, Instant};

/// Nothing here takes longer, on however slow a machine.
const LONG: Duration = Duration::from_secs(60);

/// A live survey in another process, and what it says.
pub struct Live {
    pub child: Child,
    said: Receiver<String>,
    pub all: Vec<String>,
}

impl Live {
    pub fn start(args: &[&str], input: Stdio) -> Live {
        let mut command = Command::new(boundwalk().get_program());
        command.arg("live").args(args);
        Live::of(command, input)
    }

    fn of(mut command: Command, input: Stdio) -> Live {
        command.stdin(input);
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().unwrap();
        let from = BufReader::new(child.stderr.take().unwrap());
        let (to, said) = channel();
        thread::spawn(move || {
            for line in from.lines().map_while(Result::ok) {
                let _ = to.send(line);
            }
        });
        Live {
            child,
            said,
            all: Vec::new(),
        }
    }

    /// Waits until a line has these words.
    pub fn says(&mut self, words: &str) {
        let until = Instant::now() + LONG;
        while let Ok(line) = self.said.recv_timeout(until - Instant::now()) {
            let found = line.contains(words);
            self.all.push(line);
            if found {
                return;
            }
        }
        panic!("never said “{words}”: {:#?}", self.all);
    }

    pub fn signal(&self, signal: Signal) {
        let pid = Pid::from_raw(self.child.id() as i32).unwrap();
        kill_process(pid, signal).unwrap();
    }

    pub fn end(mut self) -> (String, i32) {
        let mut printed = String::new();
        let mut out = self.child.stdout.take().unwrap();
        out.read_to_string(&mut printed).unwrap();
        let code = self.child.wait().unwrap().code().unwrap_or(-1);
        (printed, code)
    }
}

pub fn wait_for(what: &str, mut there: impl FnMut() -> bool) {
    let until = Instant::now() + LONG;
    while !there() {
        assert!(Instant::now() < until, "{what}");
        thread::sleep(Duration::from_millis(20));
    }
}

/// Waits until the kept log has so many bytes.
pub fn kept_bytes(out: &Path, bytes: usize) {
    let has = || {
        let entries = fs::read_dir(out).into_iter().flatten().flatten();
        let logs = entries.filter(|e| e.path().extension().is_some_and(|e| e == "log"));
        logs.map(|log| log.metadata().unwrap().len()).sum::<u64>() as usize
    };
    wait_for("the log does not grow", || has() >= bytes);
    assert_eq!(has(), bytes);
}

#[test]
fn killed_it_has_what_came() {
    let out = tempfile::tempdir().unwrap();
    let log = fs::read(fixture("garden/lawn.nmea")).unwrap();
    let folder = out.path().to_str().unwrap();
    let mut live = Live::start(&["-", "--out", folder], Stdio::piped());
    let mut input = live.child.stdin.take().unwrap();
    let half = log.len() / 2;
    input.write_all(&log[..half]).unwrap();
    kept_bytes(out.path(), half);
    live.signal(Signal::KILL);
    live.child.wait().unwrap();
    let kept = only(out.path(), "log");
    assert_eq!(fs::read(&kept).unwrap(), log[..half]);
}

#[test]
fn asked_to_end_it_measures() {
    let log = fs::read(fixture("garden/lawn.nmea")).unwrap();
    for signal in [Signal::INT, Signal::HUP, Signal::TERM] {
        let out = tempfile::tempdir().unwrap();
        let folder = out.path().to_str().unwrap();
        let mut live = Live::start(&["-", "--out", folder], Stdio::piped());
        // Held open: the end comes by the signal.
        let mut input = live.child.stdin.take().unwrap();
        input.write_all(&log).unwrap();
        kept_bytes(out.path(), log.len());
        live.signal(signal);
        let (printed, code) = live.end();
        same_as_measured(out.path(), &only(out.path(), "log"), &printed, code);
        drop(input);
    }
}

#[test]
fn silence_and_marks_by_a_pipe_are_said() {
    let out = tempfile::tempdir().unwrap();
    let pipe = out.path().join("marks");
    let made = Command::new("mkfifo").arg(&pipe).status().unwrap();
    assert!(made.success());
    let log = fs::read(fixture("garden/lawn.nmea")).unwrap();
    let kept = out.path().join("kept");
    let args = [
        "-",
        "--out",
        kept.to_str().unwrap(),
        "--marks",
        pipe.to_str().unwrap(),
    ];
    let mut live = Live::start(&args, Stdio::piped());
    let mut input = live.child.stdin.take().unwrap();
    input.write_all(&log).unwrap();
    let mut marks = OpenOptions::new().write(true).open(&pipe).unwrap();
    kept_bytes(&kept, log.len());
    live.says("!! SILENT for ");
    marks.write_all(b"bed 2ft maple\n").unwrap();
    live.says("marked: bed maple, 0.61 m across");
    // A mark whose time is yet to come.
    marks.write_all(b"20:00:00 bed 1ft rose\nundo\n").unwrap();
    live.says("taken back: bed rose, 0.30 m across");
    marks.write_all(b"finish\n").unwrap();
    let (printed, code) = live.end();
    assert!(printed.contains("maple"), "{printed}");
    same_as_measured(&kept, &only(&kept, "toml"), &printed, code);
}

#[test]
fn a_service_that_goes_is_called_again() {
    let out = tempfile::tempdir().unwrap();
    let log = fs::read(fixture("garden/lawn.nmea")).unwrap();
    let service = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("tcp://{}", service.local_addr().unwrap());
    let folder = out.path().to_str().unwrap();
    let mut live = Live::start(&[&address, "--out", folder], Stdio::null());
    let half = log.len() / 2;
    service.accept().unwrap().0.write_all(&log[..half]).unwrap();
    live.says("the line is lost");
    let mut second = service.accept().unwrap().0;
    second.write_all(&log[half..]).unwrap();
    kept_bytes(out.path(), log.len());
    live.says("all well again");
    live.signal(Signal::INT);
    let (printed, code) = live.end();
    let kept = only(out.path(), "log");
    assert_eq!(fs::read(&kept).unwrap(), log);
    same_as_measured(out.path(), &kept, &printed, code);
}

/// gpsd greets and waits to be asked (its protocol's VERSION and WATCH, from memory).
#[test]
fn gpsd_is_asked_for_its_reports() {
    let out = tempfile::tempdir().unwrap();
    let service = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("tcp://{}", service.local_addr().unwrap());
    let folder = out.path().to_str().unwrap();
    let mut live = Live::start(&[&address, "--out", folder], Stdio::null());
    let mut line = service.accept().unwrap().0;
    line.write_all(b"{\"class\":\"VERSION\",\"release\":\"3\"}\n")
        .unwrap();
    let mut asked = String::new();
    BufReader::new(line.try_clone().unwrap())
        .read_line(&mut asked)
        .unwrap();
    assert!(
        asked.starts_with("?WATCH={\"enable\":true,\"json\":true}"),
        "{asked}"
    );
    for second in 0..25 {
        let report = format!(
            "{{\"class\":\"TPV\",\"mode\":3,\"status\":3,\"time\":\"2026-05-14T08:30:{second:02}.000Z\",\"lat\":{},\"lon\":-30.0}}\n",
            45.0 + f64::from(second) * 1e-5
        );
        line.write_all(report.as_bytes()).unwrap();
    }
    live.says("; fixed; 1 a second");
    live.signal(Signal::INT);
    let (_, code) = live.end();
    // A straight line is no lawn.
    assert_eq!(code, 3);
}

#[test]
fn packets_are_taken() {
    let out = tempfile::tempdir().unwrap();
    let free = UdpSocket::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap();
    let log = fs::read_to_string(fixture("garden/lawn.nmea")).unwrap();
    let (address, folder) = (format!("udp://{free}"), out.path().to_str().unwrap());
    let mut live = Live::start(&[&address, "--out", folder], Stdio::null());
    let from = UdpSocket::bind("127.0.0.1:0").unwrap();
    from.connect(free).unwrap();
    // Until it listens, packets are lost.
    wait_for("it does not listen", || {
        let _ = from.send(b"$PTEST,*00\n");
        only_if_any(out.path()) > 0
    });
    for lines in log.lines().collect::<Vec<_>>().chunks(3).take(30) {
        from.send(format!("{}\n", lines.join("\n")).as_bytes())
            .unwrap();
        thread::sleep(Duration::from_millis(2));
    }
    live.says("; fixed; 1 a second");
    live.signal(Signal::INT);
    live.end();
}

fn only_if_any(out: &Path) -> u64 {
    let entries = fs::read_dir(out).into_iter().flatten().flatten();
    entries.map(|e| e.metadata().map_or(0, |m| m.len())).sum()
}

/// A pseudo-terminal whose other end is taken for a serial device.
fn serial(link: &Path) -> File {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    grantpt(&master).unwrap();
    unlockpt(&master).unwrap();
    let name = ptsname(&master, Vec::new()).unwrap();
    let _ = fs::remove_file(link);
    std::os::unix::fs::symlink(name.to_str().unwrap(), link).unwrap();
    File::from(master)
}

#[test]
fn a_serial_device_may_be_unplugged() {
    let out = tempfile::tempdir().unwrap();
    let device = out.path().join("receiver");
    let log = fs::read(fixture("garden/lawn.nmea")).unwrap();
    let kept = out.path().join("kept");
    let (word, folder) = (device.to_str().unwrap(), kept.to_str().unwrap());
    let args = [word, "--baud", "38400", "--out", folder];
    let mut live = Live::start(&args, Stdio::null());
    // It is not there yet.
    live.says("the line is lost");
    let half = log.len() / 2;
    let feed = |mut to: File, bytes: &[u8], so_far: usize| {
        // Until it is opened in raw mode the line discipline would change bytes: it is fed once it has been.
        thread::sleep(Duration::from_millis(1500));
        let mut sent = so_far;
        for piece in bytes.chunks(1000) {
            to.write_all(piece).unwrap();
            sent += piece.len();
            kept_bytes(&kept, sent);
        }
    };
    feed(serial(&device), &log[..half], 0);
    live.says("the line is lost");
    feed(serial(&device), &log[half..], half);
    live.signal(Signal::INT);
    let (printed, code) = live.end();
    let log_kept = only(&kept, "log");
    assert_eq!(fs::read(&log_kept).unwrap(), log);
    same_as_measured(&kept, &log_kept, &printed, code);
}

/// A limit on the size of files is a full disk: what came until then is kept, and it is said.
#[test]
fn a_full_disk_is_said() {
    let out = tempfile::tempdir().unwrap();
    let log = fs::read(fixture("garden/lawn.nmea")).unwrap();
    let mut command = Command::new("sh");
    let program = boundwalk().get_program().to_owned();
    // Blocks of 512 bytes or of 1024, by the shell.
    let script = "ulimit -f 20; trap '' XFSZ; exec \"$0\" live - --out \"$1\"";
    command.arg("-c").arg(script).arg(program).arg(out.path());
    let mut live = Live::of(command, Stdio::piped());
    let mut input = live.child.stdin.take().unwrap();
    input.write_all(&log).unwrap();
    live.says("the log is not kept any more");
    live.says("!! NOT KEPT");
    drop(input);
    let (_, code) = live.end();
    assert_eq!(code, 1);
    let kept = fs::read(only(out.path(), "log")).unwrap();
    assert!([10_240, 20_480].contains(&kept.len()), "{}", kept.len());
    assert_eq!(kept, log[..kept.len()]);
}
