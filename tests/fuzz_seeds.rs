//! The seeds of the fuzz targets, and any input that ever broke one, as ordinary tests; and some thousands of
//! damaged copies of them, the same ones every time.

use crate::seeded::Seeded;
use crate::{entry, logs};
use boundwalk::survey::{Depth, Input, Request, measure};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

/// Damaged copies of the seeds of one target.
const COPIES: usize = 1_500;
/// Copies that are measured as well, which takes longer.
const MEASURED: usize = 150;

/// Bits of text that matter to one reader or another.
const TOKENS: [&[u8]; 24] = [
    b"$",
    b"*",
    b",",
    b";",
    b"\r\n",
    b"\t",
    b"\0",
    b"\xff\xfe",
    b"\x1f\x8b",
    b"-",
    b"1e999",
    b"NaN",
    b"99999999999999999999",
    b"235960",
    b"<",
    b"</trkpt>",
    b"<!DOCTYPE a [<!ENTITY b 'c'>]>",
    b"&b;",
    b"\"",
    b"[[",
    b"=",
    b"((",
    b"{\"type\":",
    b"$GPGGA,",
];

fn seeds(target: &str) -> Vec<(String, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fuzz/seeds")
        .join(target);
    let mut seeds: Vec<(String, Vec<u8>)> = std::fs::read_dir(&folder)
        .unwrap_or_else(|e| panic!("{}: {e}", folder.display()))
        .map(|entry| {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, std::fs::read(&path).unwrap())
        })
        .collect();
    // A folder lists its files in any order.
    seeds.sort();
    assert!(seeds.len() >= 5, "the seeds of {target} are missing");
    seeds
}

/// One to eight hurts, each anywhere.
fn damaged(dice: &mut Seeded, seeds: &[(String, Vec<u8>)]) -> Vec<u8> {
    let mut bytes = seeds[dice.below(seeds.len())].1.clone();
    for _ in 0..=dice.below(8) {
        let from = dice.below(bytes.len() + 1);
        let to = (from + dice.below(40)).min(bytes.len());
        match dice.below(7) {
            0 if from < bytes.len() => bytes[from] ^= 1 << dice.below(8),
            1 if from < bytes.len() => bytes[from] = dice.below(256) as u8,
            2 => {
                bytes.drain(from..to);
            }
            3 => {
                let again = bytes[from..to].to_vec();
                bytes.splice(from..from, again);
            }
            4 => {
                bytes.splice(from..to, TOKENS[dice.below(TOKENS.len())].iter().copied());
            }
            5 => {
                let other = &seeds[dice.below(seeds.len())].1;
                let cut = dice.below(other.len() + 1);
                bytes.truncate(from);
                bytes.extend_from_slice(&other[cut..]);
            }
            _ if dice.below(4) == 0 => bytes.truncate(from),
            _ => {}
        }
    }
    bytes
}

/// Says which bytes broke it, so that they can be kept as a seed.
fn through(door: fn(&[u8]), what: &str, bytes: &[u8]) {
    if catch_unwind(AssertUnwindSafe(|| door(bytes))).is_err() {
        panic!("{what} broke it: {:?}", String::from_utf8_lossy(bytes));
    }
}

/// Copies of the seeds that are measured, which takes longer than reading them.
const COPIES_MEASURED: usize = 300;

fn replay(target: &str, door: fn(&[u8])) {
    let seeds = seeds(target);
    for (name, bytes) in &seeds {
        through(door, name, bytes);
        // Broken off anywhere.
        let step = bytes.len() / 40 + 1;
        for end in (0..bytes.len()).step_by(step) {
            through(door, &format!("{name} up to {end}"), &bytes[..end]);
        }
    }
    let mut dice = Seeded(2026);
    let copies = match target {
        "measure" => COPIES_MEASURED,
        _ => COPIES,
    };
    for number in 0..copies {
        let bytes = damaged(&mut dice, &seeds);
        through(door, &format!("damaged copy {number}"), &bytes);
    }
}

#[test]
fn nmea() {
    replay("nmea", entry::log);
}

#[test]
fn gpx() {
    replay("gpx", entry::log);
}

#[test]
fn points() {
    replay("points", entry::log);
}

#[test]
fn forms() {
    replay("forms", entry::form);
}

#[test]
fn job() {
    replay("job", entry::job);
}

#[test]
fn measured() {
    replay("measure", entry::measured);
}

#[test]
fn marks() {
    replay("marks", entry::mark);
}

/// Two small lawns walked round, which are damaged and measured: an area or a reason, never a panic, and never an
/// area that isn't a number.
#[test]
fn damaged_walks_are_measured_or_refused() {
    let door = |bytes: &[u8]| {
        let request = Request {
            logs: vec![Input::Bytes {
                name: "log".into(),
                bytes: bytes.to_vec(),
            }],
            depth: Depth::Numbers,
            ..Request::default()
        };
        if let Ok(measured) = measure(&request)
            && let Some(area) = &measured.area
        {
            for number in [area.net_m2, area.sigma_m2, area.low_m2, area.high_m2] {
                assert!(number.is_finite() && number >= 0.0, "{area:?}");
            }
            assert!(area.low_m2 <= area.net_m2 && area.net_m2 <= area.high_m2);
        }
    };
    let walks = [
        ("walk.nmea".to_string(), logs::positions(180_000).bytes),
        ("walk.gpx".to_string(), logs::gpx(120_000).bytes),
    ];
    let mut dice = Seeded(417);
    for number in 0..MEASURED {
        let bytes = damaged(&mut dice, &walks);
        through(door, &format!("damaged walk {number}"), &bytes);
    }
}

/// What the generator of logs claims, a reader finds.
#[test]
fn made_logs_hold_what_they_say() {
    for made in [
        logs::positions(20_000),
        logs::satellites(20_000),
        logs::gpx(20_000),
    ] {
        let input = Input::Bytes {
            name: "log".into(),
            bytes: made.bytes,
        };
        let log = boundwalk::read::read(&[input]).unwrap();
        assert_eq!(log.fixes.len() as u64, made.fixes);
        assert!(log.dropped.is_empty());
    }
}
