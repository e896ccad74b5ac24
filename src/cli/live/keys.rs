//! Reads keys on the terminal one by one, without waiting for a whole line, and passes them on as events.

use boundwalk::live::{Event, Key};
use std::sync::mpsc::SyncSender;
use std::thread;

/// A terminal in a mode in which each key comes at once and is not shown. When this value is dropped the terminal is as before.
#[derive(Debug)]
pub struct Terminal {
    #[cfg(unix)]
    before: Option<(std::fs::File, rustix::termios::Termios)>,
}

#[cfg(unix)]
impl Terminal {
    fn new() -> Terminal {
        use rustix::termios::{LocalModes, OptionalActions, tcgetattr, tcsetattr};
        let before = || {
            let tty = std::fs::File::open("/dev/tty")
                .or_else(|_| std::fs::File::open("/dev/stdin"))
                .ok()?;
            let before = tcgetattr(&tty).ok()?;
            let mut quiet = before.clone();
            quiet.local_modes -= LocalModes::ICANON | LocalModes::ECHO;
            tcsetattr(&tty, OptionalActions::Now, &quiet).ok()?;
            Some((tty, before))
        };
        Terminal { before: before() }
    }
}

#[cfg(unix)]
impl Drop for Terminal {
    fn drop(&mut self) {
        if let Some((tty, before)) = &self.before {
            // Where the terminal is gone there is nothing to put back.
            let _ = rustix::termios::tcsetattr(tty, rustix::termios::OptionalActions::Now, before);
        }
    }
}

#[cfg(not(unix))]
impl Terminal {
    fn new() -> Terminal {
        Terminal {}
    }
}

/// Starts the thread that waits for keys. `None` where there is no terminal to type on.
#[cfg(unix)]
pub fn start(to: SyncSender<Event>) -> Option<Terminal> {
    use std::io::Read;
    let terminal = Terminal::new();
    // The keys are read here and not by a library that sets the terminal's mode for each key: it could set it once more after it was put
    // back.
    let mut tty = terminal.before.as_ref()?.0.try_clone().ok()?;
    thread::spawn(move || {
        let mut typed = [0; 64];
        // This ends where the terminal is gone. Ctrl-C does not come here, but as a signal.
        while let Ok(got @ 1..) = tty.read(&mut typed) {
            for key in Key::typed(&typed[..got]) {
                if to.send(Event::Key(key)).is_err() {
                    return;
                }
            }
        }
    });
    Some(terminal)
}

/// Starts the thread that waits for keys. `None` where there is no terminal to type on.
#[cfg(not(unix))]
pub fn start(to: SyncSender<Event>) -> Option<Terminal> {
    let terminal = Terminal::new();
    thread::spawn(move || {
        let term = console::Term::stderr();
        while let Ok(key) = term.read_key() {
            let key = match key {
                console::Key::Char(letter) => Key::Letter(letter),
                console::Key::Enter => Key::Enter,
                console::Key::Backspace => Key::Back,
                console::Key::Escape => Key::Escape,
                _ => continue,
            };
            if to.send(Event::Key(key)).is_err() {
                return;
            }
        }
    });
    Some(terminal)
}
