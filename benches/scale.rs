//! How the cost of measuring grows with the size of what is measured: GPX without times and NMEA of 10³ to 10⁷ fixes, 10 to 1500
//! beds, 10 to 3000 files.
//!
//! It prints the time that this thread had on a processor and the most memory that the process had. For each case it also prints how
//! steeply the time grows, as a power of the size: at 1 the time grows as the size does, and at 2 as its square.
//! `cargo bench --bench scale -- 5` ends at 10⁵ fixes, and `-- 7 laps` does only the cases whose names have that word.
//!
//! Every area is compared with the true one: fast and wrong is worth nothing.

use boundwalk::survey::{Depth, Input, Request, measure};
use std::f64::consts::PI;
use std::fmt::Write as _;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Where the walks lie, in degrees, and how many metres a degree has there on a sphere. This is good to a percent, and no more is asked.
const LAT_DEG: f64 = 51.0;
const LON_DEG: f64 = 7.0;
const NORTH_M: f64 = 111_250.0;
const EAST_M: f64 = 70_200.0;

fn main() {
    // `cargo test --benches` passes `--test`. It only wants to see this run, so the smallest sizes will do.
    let most = std::env::args().skip(1).find_map(|arg| match arg.as_str() {
        "--test" => Some(3),
        other => other.parse().ok(),
    });
    let powers = 3..=most.unwrap_or(7);
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    let fixes: Vec<usize> = powers.clone().map(|k| 10usize.pow(k)).collect();
    case("untimed GPX, one lap", "fixes", &fixes, |n| {
        let (path, area_m2) = (at("lap.gpx"), gpx(&at("lap.gpx"), n, 0));
        (vec![path], area_m2)
    });
    // With more fixes than this in one lap, even the largest field would be walked at a snail's pace.
    let one_lap: Vec<usize> = fixes.iter().copied().filter(|n| *n <= 1_000_000).collect();
    case("NMEA, one lap", "fixes", &one_lap, |n| {
        let (path, area_m2) = (at("lap.nmea"), nmea(&at("lap.nmea"), n, n));
        (vec![path], area_m2)
    });
    case("NMEA, laps of 100 fixes", "fixes", &fixes, |n| {
        let (path, area_m2) = (at("laps.nmea"), nmea(&at("laps.nmea"), n, 100));
        (vec![path], area_m2)
    });
    let upto = |most: usize| move |n: &usize| *n <= most || powers.end() > &3;
    let beds: Vec<usize> = [10, 50, 150, 500, 1500]
        .into_iter()
        .filter(upto(50))
        .collect();
    case("GPX with beds", "beds", &beds, |n| {
        let (path, area_m2) = (at("beds.gpx"), gpx(&at("beds.gpx"), 2000, n));
        (vec![path], area_m2)
    });
    let upto = |most: usize| move |n: &usize| *n <= most || fixes.len() > 1;
    let files: Vec<usize> = [10, 100, 1000, 3000].into_iter().filter(upto(10)).collect();
    case("NMEA in files of 20 fixes", "files", &files, |n| {
        let whole = at("pieces.nmea");
        let area_m2 = nmea(&whole, 20 * n, 20 * n);
        (pieces(&whole, n), area_m2)
    });
}

/// Measures each size of one case, and prints what it costs and how that grows. `make` writes the logs of a size, and gives their paths
/// and the true area.
fn case(name: &str, unit: &str, sizes: &[usize], make: impl Fn(usize) -> (Vec<PathBuf>, f64)) {
    let asked = std::env::args().nth(2).unwrap_or_default();
    if !name.contains(&asked) {
        return;
    }
    println!("{name}");
    let mut seen: Vec<(f64, f64)> = Vec::new();
    for &size in sizes {
        let (files, area_m2) = make(size);
        let request = Request {
            logs: files.into_iter().map(Input::File).collect(),
            depth: Depth::Document,
            ..Request::default()
        };
        forget_most_memory();
        let before_s = on_processor_s();
        let measured = measure(&request).expect("a lawn");
        let took_s = on_processor_s() - before_s;
        let net_m2 = measured.area.expect("an area").net_m2;
        assert!(
            (net_m2 / area_m2 - 1.0).abs() < 0.02,
            "{net_m2} for {area_m2}"
        );
        seen.push((size as f64, took_s));
        let each = 1e6 * took_s / size as f64;
        let memory_mb = most_memory_mb();
        println!("  {size:>9} {unit}  {took_s:>8.3} s  {each:>8.2} µs each  {memory_mb:>6.0} MB");
    }
    if let [.., (size, took_s)] = seen[..]
        && let Some(&(from, from_s)) = seen.iter().rev().find(|(n, _)| *n * 9.0 < size)
    {
        let slope = (took_s / from_s).ln() / (size / from).ln();
        println!("  slope from {from:.0} on: {slope:.2}");
    }
}

/// Length and width, in metres, of a rectangle that is three by two, for a lap of so many fixes. They lie half a metre apart, and nearer
/// where the rectangle would else be larger than any field.
fn rectangle(fixes: usize) -> (f64, f64) {
    let round_m = (0.5 * fixes as f64).min(15_000.0);
    (0.3 * round_m, 0.2 * round_m)
}

/// Latitude and longitude of the place that is reached after a part of the way round, from 0 to 1.
fn place((wide, high): (f64, f64), part: f64) -> (f64, f64) {
    let way = part * 2.0 * (wide + high);
    let (x, y) = match way {
        w if w < wide => (w, 0.0),
        w if w < wide + high => (wide, w - wide),
        w if w < 2.0 * wide + high => (2.0 * wide + high - w, high),
        w => (0.0, 2.0 * (wide + high) - w),
    };
    let north = LAT_DEG + (y - 0.5 * high) / NORTH_M;
    // The middle of the rectangle lies at the latitude at which a degree has so many metres.
    (north, LON_DEG + x / EAST_M)
}

/// Writes a GPX walk without times round a rectangle, with so many round beds of 0.2 m radius in it, and gives its net area.
fn gpx(path: &Path, fixes: usize, beds: usize) -> f64 {
    let size = rectangle(fixes);
    let mut to = BufWriter::new(File::create(path).expect("room"));
    writeln!(to, "<gpx version=\"1.1\" creator=\"made\">").expect("room");
    let across = (beds as f64).sqrt().ceil();
    for bed in 0..beds {
        let (column, row) = (
            bed as f64 % across + 0.5,
            (bed as f64 / across).floor() + 0.5,
        );
        let lat = LAT_DEG + size.1 * (row / (across + 1.0) - 0.5) / NORTH_M;
        let lon = LON_DEG + size.0 * column / (across + 1.0) / EAST_M;
        writeln!(
            to,
            "<wpt lat=\"{lat:.9}\" lon=\"{lon:.9}\"><name>bed r=0.2 m</name></wpt>"
        )
        .expect("room");
    }
    writeln!(to, "<trk><trkseg>").expect("room");
    for fix in 0..=fixes {
        let (lat, lon) = place(size, fix as f64 / fixes as f64);
        writeln!(to, "<trkpt lat=\"{lat:.9}\" lon=\"{lon:.9}\"/>").expect("room");
    }
    writeln!(to, "</trkseg></trk></gpx>").expect("room");
    size.0 * size.1 - beds as f64 * PI * 0.04
}

/// Writes an NMEA walk at about a metre a second, in laps of `lap` fixes each, and gives the area.
fn nmea(path: &Path, fixes: usize, lap: usize) -> f64 {
    let size = rectangle(lap);
    let mut to = BufWriter::new(File::create(path).expect("room"));
    // This is how many fixes there are in a second.
    let rate = (lap as f64 / (2.0 * (size.0 + size.1))).round().max(1.0) as usize;
    let mut line = String::new();
    for fix in 0..=fixes {
        let (lat, lon) = place(size, (fix % lap) as f64 / lap as f64);
        let hundredths = fix * 100 / rate;
        let (s, part) = (hundredths / 100 % 86_400, hundredths % 100);
        line.clear();
        let _ = write!(
            line,
            "GPGGA,{:02}{:02}{:02}.{part:02},{:02}{:010.7},N,{:03}{:010.7},E,4,12,0.8,100.0,M,47.0,M,,",
            s / 3600,
            s / 60 % 60,
            s % 60,
            lat as u32,
            lat.fract() * 60.0,
            lon as u32,
            lon.fract() * 60.0
        );
        let sum = line.bytes().fold(0, |sum, byte| sum ^ byte);
        writeln!(to, "${line}*{sum:02X}\r").expect("room");
    }
    size.0 * size.1
}

/// Splits a log into so many files with about as many lines each, and gives their paths.
fn pieces(log: &Path, count: usize) -> Vec<PathBuf> {
    let text = std::fs::read_to_string(log).expect("a log");
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let of_each = lines.chunks(lines.len().div_ceil(count));
    let write = |(number, lines): (usize, &[&str])| {
        let path = log.with_file_name(format!("piece-{number:05}.nmea"));
        std::fs::write(&path, lines.concat()).expect("room");
        path
    };
    of_each.enumerate().map(write).collect()
}

/// How many seconds this thread has been on a processor, where the kernel tells (Linux): the first number of its schedstat, in
/// nanoseconds. Elsewhere, how many seconds have passed on the clock.
fn on_processor_s() -> f64 {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    let told = text
        .split_whitespace()
        .next()
        .and_then(|ns| ns.parse::<f64>().ok());
    told.map_or_else(on_the_wall_s, |ns| ns / 1e9)
}

/// How many seconds have passed since this was first asked.
fn on_the_wall_s() -> f64 {
    static START: std::sync::OnceLock<std::time::Instant> = std::sync::OnceLock::new();
    START
        .get_or_init(std::time::Instant::now)
        .elapsed()
        .as_secs_f64()
}

/// Has the kernel count the most memory anew, from what is in use now.
fn forget_most_memory() {
    // This is the kernel's own way to ask for it. Where there is none (not Linux), nothing happens.
    let _ = std::fs::write("/proc/self/clear_refs", "5");
}

/// The most memory that this process has had in use, in megabytes, where the kernel tells (Linux).
fn most_memory_mb() -> f64 {
    let text = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kb = line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok());
    kb.map_or(f64::NAN, |kb| kb / 1024.0)
}
