//! How long `boundwalk day` takes for many surveys beyond reading and measuring them, and how that grows with their number.
//!
//! `measuring_alone` is what the others are compared with: it takes the same logs through `survey::measure`, one after the other.
//! What `one_thread` takes more than that, divided by the number of surveys, is what the day itself costs for each.

#[path = "../tests/trial/mod.rs"]
mod trial;

use boundwalk::day::find::{Site, find};
use boundwalk::day::{Done, Plan, Stores, run};
use boundwalk::records::Records;
use boundwalk::records::entry::Entry;
use boundwalk::survey::{Depth, Input, Request, measure};
use divan::counter::ItemsCount;
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::OnceLock;
use trial::yard::log;

const LOG_BYTES: usize = 150_000;
const MOST: usize = 512;

fn main() {
    divan::main();
}

/// The folder of logs that all benchmarks here share. It is written when it is first asked for.
fn yard() -> &'static PathBuf {
    static YARD: OnceLock<(tempfile::TempDir, PathBuf)> = OnceLock::new();
    let (_, path) = YARD.get_or_init(|| {
        let temp = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
        let path = temp.path().join("yard");
        std::fs::create_dir(&path).unwrap_or_else(|error| panic!("{error}"));
        for n in 0..MOST {
            std::fs::write(path.join(format!("{n:06}.nmea")), log(n as u64, LOG_BYTES))
                .unwrap_or_else(|error| panic!("{error}"));
        }
        (temp, path)
    });
    path
}

/// The first `count` surveys that are found in the folder.
fn sites(count: usize) -> Vec<Site> {
    let mut found = find(std::slice::from_ref(yard()), &[]).sites;
    assert_eq!(found.len(), MOST);
    found.truncate(count);
    found
}

/// Goes through a whole day of these surveys, and gives how many came out `ok`. A day that skips one, or gives them in another order
/// than they were found in, fails the benchmark: fast and wrong is worth nothing.
fn day(sites: &[Site], threads: usize, stores: &mut Stores) -> u64 {
    let plan = Plan {
        threads,
        force: true,
        ..Plan::default()
    };
    let mut in_order = sites.iter();
    let mut say = |done: &Done| {
        assert_eq!(
            in_order.next().map(|site| &site.name),
            Some(&done.line.name)
        );
        ControlFlow::Continue(())
    };
    let summary = run(sites, &plan, stores, &mut say).unwrap_or_else(|fault| panic!("{fault}"));
    assert_eq!(summary.surveys(), sites.len() as u64);
    assert_eq!(summary.unread, 0);
    summary.ok
}

/// Reading and measuring alone, one log after the other.
#[divan::bench(args = [64, 512], sample_count = 5)]
fn measuring_alone(bencher: divan::Bencher, count: usize) {
    let paths: Vec<PathBuf> = (0..count)
        .map(|n| yard().join(format!("{n:06}.nmea")))
        .collect();
    bencher.counter(ItemsCount::new(count)).bench(|| {
        let measured = paths.iter().filter(|path| {
            let request = Request {
                logs: vec![Input::File((*path).clone())],
                depth: Depth::Numbers,
                ..Request::default()
            };
            measure(&request).is_ok_and(|m| m.area.is_some())
        });
        assert!(measured.count() > count / 2);
    });
}

/// The whole day on one thread.
#[divan::bench(args = [64, 512], sample_count = 5)]
fn one_thread(bencher: divan::Bencher, count: usize) {
    let sites = sites(count);
    bencher
        .counter(ItemsCount::new(count))
        .bench(|| day(&sites, 1, &mut Stores::default()));
}

/// The whole day on two threads.
#[divan::bench(args = [64, 512], sample_count = 5)]
fn two_threads(bencher: divan::Bencher, count: usize) {
    let sites = sites(count);
    bencher
        .counter(ItemsCount::new(count))
        .bench(|| day(&sites, 2, &mut Stores::default()));
}

/// Looking through the folder: reading the names, and telling which files are logs.
#[divan::bench(sample_count = 5)]
fn finding(bencher: divan::Bencher) {
    yard();
    bencher
        .counter(ItemsCount::new(MOST))
        .bench(|| sites(MOST).len());
}

/// Recording 64 surveys in one transaction (all of them are kept, or none), into a file that grows from sample to sample.
#[divan::bench(sample_count = 20)]
fn recording(bencher: divan::Bencher) {
    let request = Request {
        logs: vec![Input::File(yard().join("000000.nmea"))],
        ..Request::default()
    };
    let measured = measure(&request).unwrap_or_else(|fault| panic!("{fault}"));
    let entry = Entry::of(&measured, &request, None).unwrap_or_else(|fault| panic!("{fault}"));
    let temp = tempfile::tempdir().unwrap_or_else(|error| panic!("{error}"));
    let mut records =
        Records::open(&temp.path().join("bench.gpkg")).unwrap_or_else(|fault| panic!("{fault}"));
    let entries = vec![&entry; 64];
    bencher
        .counter(ItemsCount::new(entries.len()))
        .bench_local(|| {
            let revisions = records
                .add(&entries)
                .unwrap_or_else(|fault| panic!("{fault}"));
            assert_eq!(revisions.len(), 64);
        });
}
