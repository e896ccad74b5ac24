//! The screen and its keys, on a pseudo-terminal.

use super::super::boundwalk;
use super::{fixture, only};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, Winsize, tcgetattr, tcsetwinsize};
use std::fs::{self, File, OpenOptions};
use std::io::{Read, Write};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

const LONG: Duration = Duration::from_secs(60);

struct Terminal {
    master: File,
    slave: File,
    shown: Arc<Mutex<String>>,
}

impl Terminal {
    fn new() -> Terminal {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let name = ptsname(&master, Vec::new()).unwrap();
        let slave = OpenOptions::new()
            .read(true)
            .write(true)
            .open(name.to_str().unwrap())
            .unwrap();
        let size = Winsize {
            ws_row: 30,
            ws_col: 90,
            ws_xpixel: 0,
            ws_ypixel: 0,
        };
        tcsetwinsize(&slave, size).unwrap();
        let master = File::from(master);
        let shown = Arc::new(Mutex::new(String::new()));
        let (mut from, to) = (master.try_clone().unwrap(), Arc::clone(&shown));
        thread::spawn(move || {
            let mut block = [0; 4096];
            while let Ok(got) = from.read(&mut block) {
                let text = String::from_utf8_lossy(&block[..got]).into_owned();
                to.lock().unwrap().push_str(&text);
            }
        });
        Terminal {
            master,
            slave,
            shown,
        }
    }

    fn run(&self, args: &[&str]) -> Child {
        let end = || Stdio::from(self.slave.try_clone().unwrap());
        Command::new(boundwalk().get_program())
            .arg("live")
            .args(args)
            .stdin(end())
            .stderr(end())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap()
    }

    fn shows(&self, words: &str) {
        let until = Instant::now() + LONG;
        while !self.shown.lock().unwrap().contains(words) {
            let shown = self.shown.lock().unwrap();
            assert!(Instant::now() < until, "never showed “{words}”: {shown}");
            drop(shown);
            thread::sleep(Duration::from_millis(20));
        }
    }

    fn press(&mut self, keys: &str) {
        for key in keys.bytes() {
            self.master.write_all(&[key]).unwrap();
            // One at a time, as a hand does.
            thread::sleep(Duration::from_millis(30));
        }
    }
}

#[test]
fn keys_mark_on_one_screen() {
    let out = tempfile::tempdir().unwrap();
    let mut terminal = Terminal::new();
    // A receiver that stays on: the log comes through a pipe that is held open.
    let pipe = out.path().join("receiver");
    assert!(
        Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap()
            .success()
    );
    let kept = out.path().join("kept");
    let mut child = terminal.run(&[pipe.to_str().unwrap(), "--out", kept.to_str().unwrap()]);
    let mut receiver = OpenOptions::new().write(true).open(&pipe).unwrap();
    let log = fs::read(fixture("garden/lawn.nmea")).unwrap();
    receiver.write_all(&log).unwrap();
    terminal.shows("net 218.2 ± 2.");
    terminal.shows("██");
    terminal.shows("Measured    2 laps");
    terminal.shows("\x07");
    terminal.shows("!! SILENT");
    terminal.press("b0.7 rose\r");
    terminal.shows("marked: bed rose, 0.70 m across");
    terminal.press("cu");
    terminal.shows("taken back: corner");
    terminal.press("ngate\r");
    terminal.shows("marked: note: gate");
    terminal.press("q");
    let mut printed = String::new();
    let mut stdout = child.stdout.take().unwrap();
    stdout.read_to_string(&mut printed).unwrap();
    child.wait().unwrap();
    assert!(printed.contains("rose"), "{printed}");
    let sheet = fs::read_to_string(only(&kept, "toml")).unwrap();
    assert!(sheet.contains("diameter_m = 0.7\n"), "{sheet}");
    assert!(sheet.contains(": gate"), "{sheet}");
    assert!(!sheet.contains("[[corner]]"), "{sheet}");
    // Letters are seen again when they are typed.
    let modes = tcgetattr(&terminal.slave).unwrap().local_modes;
    assert!(modes.contains(LocalModes::ECHO | LocalModes::ICANON));
    // Colours are never needed, and the screen has none: letters are reversed, or plain again. The word `warning` below
    // the screen has one, as it has with every command.
    let shown = terminal.shown.lock().unwrap();
    let shown = shown.replace("\x1b[33m\x1b[1mwarning\x1b[0m", "warning");
    for sequence in shown.split("\x1b[").skip(1) {
        let end = sequence.find(|c: char| c.is_ascii_alphabetic());
        let sequence = &sequence[..=end.unwrap()];
        let is_style = sequence.ends_with('m');
        assert!(!is_style || ["7m", "0m"].contains(&sequence), "{sequence}");
    }
}

/// Ctrl-C ends the walk as a key does.
#[test]
fn ctrl_c_ends_well() {
    let out = tempfile::tempdir().unwrap();
    let mut terminal = Terminal::new();
    let log = fixture("garden/lawn.nmea");
    let args = ["--replay", log.to_str().unwrap(), "--speed", "30"];
    let mut child = terminal.run(&[&args[..], &["--out", out.path().to_str().unwrap()]].concat());
    terminal.shows("Solution    fixed");
    terminal.press("\x03");
    let code = child.wait().unwrap().code();
    assert!(code.is_some(), "ended by the signal itself");
    let kept = fs::read(only(out.path(), "log")).unwrap();
    assert!(!kept.is_empty() && fs::read(&log).unwrap().starts_with(&kept));
}
