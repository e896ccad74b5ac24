//! `boundwalk live`: measures a walk while it goes on. Threads wait for the receiver, for keys, for marks and for the answers of the survey;
//! all send their events to one loop here, which keeps, shows and measures. At the end the log is measured as `measure` does.

mod keys;
mod page;
mod plain;
mod screen;
mod sheet;
mod walk;

use super::ask::{self, Options, StandardInput};
use super::measure::Output;
use super::{Stop, say};
use boundwalk::fault::Fault;
use boundwalk::live::Event;
use boundwalk::live::keep::Keep;
use boundwalk::live::serve;
use boundwalk::live::source::Source;
use page::Page;
use sheet::Sheet;
use std::io::{BufRead, BufReader, IsTerminal};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{RecvTimeoutError, SyncSender, sync_channel};
use std::thread;
use std::time::Duration;
use walk::Live;

/// How many events may wait to be taken; a thread that has a further one waits itself.
const WAITING: usize = 256;
/// How long the loop waits for an event before it looks whether anything has gone silent.
const TICK: Duration = Duration::from_millis(100);

const MORE: &str = "\
Marks, by key on the terminal or a line each on --marks:
  bed 70cm [NAME]   a round bed: stand at its middle       key b, then its diameter
  corner [NAME]     a corner of the lawn: stand at it      key c
  start, end        of the walk along the edge             keys s and x
  lawn [NAME]       another lawn begins here               key l
  edge [NAME]       a bed is walked round from here, to the next end   key e
  note TEXT         words for the sheet                    key n
  undo              the last mark is taken back            key u
  finish            the walk is over                       key q, or Ctrl-C
A line may say its time first, UTC: 10:42:30 corner B

The stream is kept as it comes in YYYYMMDD-HHMMSS.log (UTC), in --out or here; marks, and what --job says,
in a job sheet beside it, which `boundwalk measure` takes. Exit codes are those of `measure`.";

#[derive(Debug, clap::Args)]
#[command(after_help = MORE)]
pub struct Args {
    /// Where the receiver's NMEA, UBX or gpsd stream comes from: a serial device, tcp://HOST:PORT, udp://HOST:PORT (an address
    /// of this machine), or "-" for standard input
    #[arg(required_unless_present = "replay", conflicts_with = "replay")]
    source: Option<String>,

    /// Walk a log of before again, for practice
    #[arg(long, value_name = "LOG")]
    replay: Option<PathBuf>,

    /// So many times as fast as it was walked
    #[arg(long, value_name = "TIMES", default_value_t = 1.0, value_parser = times, requires = "replay")]
    speed: f64,

    /// Bits a second of a serial device
    #[arg(long, value_name = "BAUD", default_value_t = 115_200, value_parser = clap::value_parser!(u32).range(1..))]
    baud: u32,

    /// A job sheet to begin with: what is ordered, how the antenna is carried. It stays as it is
    #[arg(long, value_name = "FILE")]
    job: Option<PathBuf>,

    /// Read marks from this file or named pipe, a line each; "-" is standard input
    #[arg(long, value_name = "FILE")]
    marks: Option<PathBuf>,

    /// Lines, also on a terminal
    #[arg(long)]
    plain: bool,

    /// Also serve what is shown as a page, to be read by whoever is told its address: on this machine, or on the network of the
    /// address named, such as 192.168.1.5:8080
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1, default_missing_value = "127.0.0.1", value_parser = serve::address)]
    page: Option<SocketAddr>,

    #[command(flatten)]
    options: Options,

    #[command(flatten)]
    output: Output,
}

fn times(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(times) if (0.01..=1e6).contains(&times) => Ok(times),
        _ => Err("it must be a number from 0.01 to 1000000, such as 20".into()),
    }
}

impl Args {
    fn source(&self) -> Result<Source, Fault> {
        match (&self.replay, &self.source) {
            (Some(log), _) => Ok(Source::Replay {
                log: log.clone(),
                speed: self.speed,
            }),
            (None, Some(word)) => Source::named(word, self.baud),
            // This does not come up: the parser of arguments asks for one of the two.
            (None, None) => Ok(Source::Stdin),
        }
    }

    /// Whether the walk is shown as one screen of a terminal.
    fn on_screen(&self) -> bool {
        !self.plain && !self.output.is_quiet() && std::io::stderr().is_terminal()
    }
}

pub fn run(args: Args) -> Result<ExitCode, Stop> {
    let source = args.source()?;
    let standard_input = Path::new("-");
    if source == Source::Stdin && args.marks.as_deref() == Some(standard_input) {
        return Err(Fault::usage(
            "twice",
            "\"-\" is named twice.",
            "Standard input can be read once: take a named pipe for the marks.",
        )
        .into());
    }
    let folder = args.output.out().unwrap_or(Path::new("."));
    let keep = Keep::new(folder, jiff::Timestamp::now())?;
    let log = keep.path().to_owned();
    let begun = begin(&args, source, keep);
    let (path, whole) = match begun.map(|live| attend(&args, live)) {
        Ok((Some(path), whole)) => (path, whole),
        Ok((None, _)) => {
            return Err(Fault::unreadable(
                "empty",
                "nothing came from the receiver.",
                "Check that it is on, its cable, and for a serial device --baud.",
            )
            .into());
        }
        Err(stop) => {
            // The log was made by this run and nothing is in it yet.
            let _ = std::fs::remove_file(&log);
            return Err(stop);
        }
    };
    let asked = ask::sort(&[path], None, StandardInput::Whole)?;
    // The folder holds the log, so the sheets get a folder of their own in it.
    let beside = |out: &Path| out.join(format!("{}-sheets", stem(&log)));
    let output = args.output.with_out(beside);
    let code = output.measure(args.options.request(asked, Vec::new()))?;
    Ok(if whole { code } else { ExitCode::FAILURE })
}

fn stem(log: &Path) -> String {
    let stem = log.file_stem().unwrap_or_default();
    stem.to_string_lossy().into_owned()
}

/// A live survey that has begun, and what its loop needs.
struct Begun {
    live: Live,
    events: std::sync::mpsc::Receiver<Event>,
    stop: Arc<AtomicBool>,
    /// Puts the terminal back as it was when it is dropped.
    _terminal: Option<keys::Terminal>,
}

/// Starts every thread.
fn begin(args: &Args, source: Source, keep: Keep) -> Result<Begun, Stop> {
    let (to, events) = sync_channel(WAITING);
    let stop = stop_on_signals();
    let page = args.page.map(Page::start).transpose()?;
    if let (Some(page), false) = (&page, args.on_screen()) {
        // The address is told even with `--quiet`, since nobody could find the page otherwise.
        say::note(&format!("The page: {}", page.url()));
    }
    let sheet = Sheet::beside(keep.path(), args.job.as_deref())?;
    let replayed = matches!(source, Source::Replay { .. });
    let mut live = Live::new(args, keep, sheet, page, replayed, to.clone());
    match args.marks.as_deref() {
        // All lines of a file are there already, so those without a time are marks at the beginning of the walk.
        Some(file) if file.is_file() => {
            for line in lines(file)?.lines().map_while(Result::ok) {
                live.mark(&line);
            }
        }
        Some(file) => read_marks(file.to_owned(), to.clone()),
        None => {}
    }
    let keys = args.on_screen() && args.marks.as_deref() != Some(Path::new("-"));
    let terminal = keys.then(|| keys::start(to.clone())).flatten();
    source.start(to)?;
    Ok(Begun {
        live,
        events,
        stop,
        _terminal: terminal,
    })
}

fn lines(file: &Path) -> Result<BufReader<std::fs::File>, Fault> {
    match std::fs::File::open(file) {
        Ok(file) => Ok(BufReader::new(file)),
        Err(error) => Err(Fault::unreadable(
            "unreadable",
            format!("it cannot be opened ({error})."),
            "Check its name.",
        )
        .in_file(file.display().to_string())),
    }
}

/// Starts a thread that passes on marks, line by line, from a pipe or standard input. It is a thread since opening a pipe waits for its
/// writer.
fn read_marks(file: PathBuf, to: SyncSender<Event>) {
    thread::spawn(move || {
        let from: Box<dyn BufRead> = match file.as_os_str() == "-" {
            true => Box::new(BufReader::new(std::io::stdin())),
            false => Box::new(lines(&file)?),
        };
        for line in from.lines().map_while(Result::ok) {
            if to.send(Event::Mark(line)).is_err() {
                break;
            }
        }
        Ok::<(), Fault>(())
    });
}

/// A flag that is set by Ctrl-C, by a terminal that goes away, and where the system asks the program to end. A second such signal ends the
/// program at once.
fn stop_on_signals() -> Arc<AtomicBool> {
    use signal_hook::consts::{SIGINT, SIGTERM};
    use signal_hook::flag::{register, register_conditional_default};
    let stop = Arc::new(AtomicBool::new(false));
    #[cfg(unix)]
    let signals = [SIGINT, SIGTERM, signal_hook::consts::SIGHUP];
    #[cfg(not(unix))]
    let signals = [SIGINT, SIGTERM];
    for signal in signals {
        // A signal that cannot be caught ends the program as usual.
        let _ = register_conditional_default(signal, Arc::clone(&stop));
        let _ = register(signal, Arc::clone(&stop));
    }
    stop
}

/// The loop: takes events until the walk is over. Gives back what is to be measured (the job sheet, or the log where there is none; `None`
/// where nothing came), and whether all that came was kept.
fn attend(args: &Args, begun: Begun) -> (Option<PathBuf>, bool) {
    let Begun {
        mut live,
        events,
        stop,
        _terminal,
    } = begun;
    while !live.is_over() && !stop.load(Ordering::Relaxed) {
        match events.recv_timeout(live.patience()) {
            Ok(event) => {
                live.take(event);
                // All events that wait are taken before anything is drawn, so that drawing cannot fall behind.
                while !live.is_paced()
                    && !live.is_over()
                    && let Ok(event) = events.try_recv()
                {
                    live.take(event);
                }
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => break,
        }
        live.show();
    }
    let (path, told) = live.end();
    drop(_terminal);
    if let Err(fault) = &told {
        say::faults(std::slice::from_ref(fault));
    } else if let (Some(path), false) = (&path, args.output.is_quiet()) {
        say::note(&format!("The walk is kept in {}", path.display()));
    }
    (path, told.is_ok())
}
