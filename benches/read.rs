//! How fast logs are read: 100 MB of each kind from a file, to fixes in the order of the clock. The hash of the
//! file is part of it, on another thread. Divan reports bytes a second.

#[path = "../tests/made/logs.rs"]
mod logs;

use boundwalk::read::{Input, read};
use divan::counter::BytesCount;
use logs::Made;
use std::io::Write;

const SIZE: usize = 100_000_000;

fn main() {
    divan::main();
}

/// Reads it again and again, and refuses a reader that loses or invents a fix: fast and wrong is worth nothing.
fn time(bencher: divan::Bencher, made: &Made) {
    let mut file = tempfile::NamedTempFile::new().expect("a temporary file");
    file.write_all(&made.bytes).expect("room for the log");
    let input = [Input::File(file.path().to_path_buf())];
    bencher
        .counter(BytesCount::new(made.bytes.len()))
        .bench_local(|| {
            let log = read(&input).expect("a log");
            assert_eq!(log.fixes.len() as u64, made.fixes);
            assert!(log.dropped.is_empty(), "{:?}", log.dropped);
            log
        });
}

/// GGA, RMC and GST: the target is 800 MB/s.
#[divan::bench(sample_count = 10, sample_size = 1)]
fn positions(bencher: divan::Bencher) {
    time(bencher, &logs::positions(SIZE));
}

/// 60 % GSA and GSV: the target is 1000 MB/s.
#[divan::bench(sample_count = 10, sample_size = 1)]
fn satellites(bencher: divan::Bencher) {
    time(bencher, &logs::satellites(SIZE));
}

/// GPX 1.1: the target is 240 MB/s.
#[divan::bench(sample_count = 10, sample_size = 1)]
fn gpx(bencher: divan::Bencher) {
    time(bencher, &logs::gpx(SIZE));
}
