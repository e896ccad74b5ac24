//! How fast logs are read: 100 MB of each kind from a file, to fixes in the order of time.
//!
//! The hash of the file (a number that tells one file from any other) is part of it, and is taken on another thread. Divan, which
//! runs the benchmarks, reports bytes a second by the clock on the wall. On a machine that is shared, that depends on what others
//! do. So, where the system tells (Linux), the best time that the reading thread itself had on a processor is printed after it.

#[path = "../tests/made/logs.rs"]
mod logs;
#[path = "../tests/made/seeded.rs"]
mod seeded;

use boundwalk::read::{Input, read};
use boundwalk::survey::{Request, measure};
use divan::counter::BytesCount;
use logs::Made;
use std::io::Write;

const SIZE: usize = 100_000_000;

fn main() {
    divan::main();
}

/// Reads a log again and again. A reader that loses or invents a fix fails the benchmark: fast and wrong is worth nothing.
fn time(name: &str, bencher: divan::Bencher, made: &Made) {
    let mut file = tempfile::NamedTempFile::new().expect("a temporary file");
    file.write_all(&made.bytes).expect("room for the log");
    let input = [Input::File(file.path().to_path_buf())];
    let mut best_s = f64::INFINITY;
    bencher
        .counter(BytesCount::new(made.bytes.len()))
        .bench_local(|| {
            let before_s = on_processor_s();
            let log = read(&input).expect("a log");
            if let (Some(before_s), Some(after_s)) = (before_s, on_processor_s()) {
                best_s = best_s.min(after_s - before_s);
            }
            assert_eq!(log.fixes.len() as u64, made.fixes);
            assert!(log.dropped.is_empty(), "{:?}", log.dropped);
            log
        });
    if best_s.is_finite() {
        let mb_s = made.bytes.len() as f64 / 1e6 / best_s;
        println!("   {name}: {mb_s:.0} MB/s of the thread's own time, the best of the runs");
    }
}

/// How many seconds this thread has been on a processor, where the kernel tells (Linux): the first number of its schedstat, in
/// nanoseconds.
fn on_processor_s() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds: f64 = text.split_whitespace().next()?.parse().ok()?;
    Some(nanoseconds / 1e9)
}

/// NMEA with the sentences GGA, RMC and GST. The aim is 800 MB/s.
#[divan::bench(sample_count = 10, sample_size = 1)]
fn positions(bencher: divan::Bencher) {
    time("positions", bencher, &logs::positions(SIZE));
}

/// NMEA of which 60 % are the sentences GSA and GSV, which tell of satellites and are skipped. The aim is 1000 MB/s.
#[divan::bench(sample_count = 10, sample_size = 1)]
fn satellites(bencher: divan::Bencher) {
    time("satellites", bencher, &logs::satellites(SIZE));
}

/// GPX 1.1. The aim is 240 MB/s.
#[divan::bench(sample_count = 10, sample_size = 1)]
fn gpx(bencher: divan::Bencher) {
    time("gpx", bencher, &logs::gpx(SIZE));
}

/// Measuring a log that holds the walk round the example garden again and again. The aim is that measuring takes at most three times as
/// long as reading alone.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn measured(bencher: divan::Bencher) {
    let walk = include_bytes!("../fixtures/garden/lawn.nmea");
    let mut file = tempfile::NamedTempFile::new().expect("a temporary file");
    let count = 1 + SIZE / walk.len();
    for _ in 0..count {
        file.write_all(walk).expect("room for the log");
    }
    let logs = vec![Input::File(file.path().to_path_buf())];
    let request = Request {
        logs: logs.clone(),
        ..Request::default()
    };
    let (mut read_s, mut measure_s) = (f64::INFINITY, f64::INFINITY);
    bencher
        .counter(BytesCount::new(count * walk.len()))
        .bench_local(|| {
            let begin_s = on_processor_s();
            let log = read(&logs).expect("a log");
            let read_by_s = on_processor_s();
            let fixes = log.fixes.len() as u64;
            drop(log);
            let again_s = on_processor_s();
            let measured = measure(&request).expect("a lawn");
            let measured_by_s = on_processor_s();
            if let (Some(begin), Some(end)) = (begin_s, read_by_s) {
                read_s = read_s.min(end - begin);
            }
            if let (Some(begin), Some(end)) = (again_s, measured_by_s) {
                measure_s = measure_s.min(end - begin);
            }
            assert_eq!(
                measured.log.files.first().map(|file| file.fixes),
                Some(fixes)
            );
        });
    if read_s.is_finite() {
        println!(
            "   measured: {measure_s:.3} s of the thread's own time, {:.1} times the {read_s:.3} s of reading it",
            measure_s / read_s
        );
    }
}
