//! How fast each form of log is read, beside how fast its bytes can be gone through at all.
//!
//! Some 50 MB of one and the same walk are written to a file in each form. In turns, the file is split into lines with `memchr` (a
//! fast search for one byte) and read to fixes, and looked through as `inspect` does. Each time is the best of the turns. Where
//! the system tells (Linux), it is the time that this program had on a processor, so that other work on the machine does not
//! count.

#[allow(dead_code)]
#[path = "../tests/made/logs.rs"]
mod logs;
#[path = "../tests/made/seeded.rs"]
mod seeded;
// Not every form is timed, and the compiler would warn of the rest.
#[allow(dead_code)]
#[path = "../tests/made/forms.rs"]
mod written;

use boundwalk::fix::Fix;
use boundwalk::read::{Input, Options, read, read_with};
use std::fs::File;
use std::io::{Read, Write};
use std::path::Path;

const FIXES: u64 = 170_000;
const TURNS: usize = 5;
/// The zone of UTM (a grid of metres laid over the earth) in which the walk lies.
const ZONE: &str = "EPSG:32631";

fn main() {
    // `cargo test --benches` passes `--test`. It only wants to know that this builds and starts.
    if std::env::args().any(|arg| arg == "--test") {
        return;
    }
    let mut made = logs::positions(40_000_000);
    let input = Input::Bytes {
        name: "log".into(),
        bytes: std::mem::take(&mut made.bytes),
    };
    let mut log = read(std::slice::from_ref(&input)).expect("a log");
    log.fixes.truncate(FIXES as usize);
    let Input::Bytes { bytes: nmea, .. } = input else {
        return;
    };
    println!(
        "| one walk as | read, MB/s | `inspect`, MB/s | lines alone, MB/s | reading takes so many times as long |"
    );
    println!("|---|---|---|---|---|");
    let walk = &log.fixes;
    time("NMEA (GGA, RMC, GST)", &nmea, made.fixes, None);
    time("UBX", &written::ubx(walk), FIXES, None);
    for (form, text) in [
        ("GPX", written::gpx as fn(&[Fix]) -> String),
        ("KML, `gx:Track`", written::kml_track),
        ("KML, `LineString`", written::kml_line),
        ("TCX", written::tcx),
        ("`.pos`, degrees", written::pos),
        ("gpsd's TPV", written::gpsd),
        ("Android's `Fix` lines", written::android),
        ("GeoJSON, line with times", written::timed_line),
        ("table of degrees", written::csv),
        ("table of minutes and seconds", written::csv_minutes),
    ] {
        time(form, text(walk).as_bytes(), FIXES, None);
    }
    time("WKT", written::wkt(walk).as_bytes(), FIXES, None);
    time(
        "table of eastings and northings",
        written::csv_grid(walk, ZONE).as_bytes(),
        FIXES,
        Some(ZONE),
    );
}

/// Times one form of the log and prints its row of the table. A reader that loses or invents a fix fails the benchmark: fast and
/// wrong is worth nothing.
fn time(form: &str, bytes: &[u8], fixes: u64, grid: Option<&str>) {
    let mut file = tempfile::NamedTempFile::new().expect("a temporary file");
    file.write_all(bytes).expect("room for the log");
    let inputs = [Input::File(file.path().to_path_buf())];
    let options = Options {
        grid: grid.map(str::to_owned),
        ..Options::default()
    };
    let mut best_s = [f64::INFINITY; 3];
    for _ in 0..TURNS {
        let took_s = [
            timed_s(|| assert!(std::hint::black_box(lines(file.path())) < bytes.len())),
            timed_s(|| {
                let log = read_with(&inputs, &options).expect("a log");
                assert_eq!(log.fixes.len() as u64, fixes, "{form}");
            }),
            timed_s(|| drop(boundwalk::read::inspect::inspect(&inputs[0], &options))),
        ];
        for (best, took) in best_s.iter_mut().zip(took_s) {
            *best = best.min(took);
        }
    }
    let mb = bytes.len() as f64 / 1e6;
    let [lines_s, read_s, inspect_s] = best_s;
    println!(
        "| {form} | {:.0} | {:.0} | {:.0} | {:.1} |",
        mb / read_s,
        mb / inspect_s,
        mb / lines_s,
        read_s / lines_s
    );
}

/// Goes through the file and counts its lines, which is the least that any reader does.
fn lines(path: &Path) -> usize {
    let mut file = File::open(path).expect("the log");
    let mut block = vec![0; 256 * 1024];
    let mut count = 0;
    loop {
        match file.read(&mut block).expect("the log") {
            0 => return count,
            n => count += memchr::memchr_iter(b'\n', &block[..n]).count(),
        }
    }
}

/// How many seconds some work takes this thread on a processor, as the kernel of Linux counts them (the first number of its
/// schedstat, in nanoseconds); elsewhere, how many pass on the clock.
fn timed_s(work: impl FnOnce()) -> f64 {
    let on_processor_s = || {
        let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
        let nanoseconds: f64 = text.split_whitespace().next()?.parse().ok()?;
        Some(nanoseconds / 1e9)
    };
    let (begun, before_s) = (std::time::Instant::now(), on_processor_s());
    work();
    match (before_s, on_processor_s()) {
        // The kernel counts in steps. Work shorter than one may seem to take no time; the clock tells then.
        (Some(before_s), Some(after_s)) if after_s > before_s => after_s - before_s,
        _ => begun.elapsed().as_secs_f64(),
    }
}
