//! Streams as receivers give them: other bytes among the sentences, clocks that jump, days and weeks that roll over. Each is kept to
//! its last byte and ends with what `measure` makes of it.

use super::super::call;
use super::{fixture, only, replay, same_as_measured};
use crate::seeded::Seeded;
use crate::written::message;
use std::fs;

/// What is said while a log is walked again, and the net area that `measure` gives of what was kept.
fn walked(log: &[u8]) -> (String, Option<f64>) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.nmea");
    fs::write(&path, log).unwrap();
    let out = folder.path().join("out");
    let (printed, said, code) = replay(&path, &out, &[]);
    let kept = only(&out, "log");
    assert_eq!(fs::read(&kept).unwrap(), log);
    same_as_measured(&out, &kept, &printed, code);
    let (json, _, _) = call(&["measure", kept.to_str().unwrap(), "--format", "json"]);
    let result: serde_json::Value = serde_json::from_str(&json).unwrap();
    (said, result["area"]["net_m2"].as_f64())
}

fn garden() -> String {
    fs::read_to_string(fixture("garden/lawn.nmea")).unwrap()
}

/// A sentence with some of its fields changed, its checksum made anew.
fn changed(line: &str, change: impl Fn(&mut [String])) -> String {
    let body = &line[1..line.find('*').unwrap()];
    let mut fields: Vec<String> = body.split(',').map(str::to_owned).collect();
    change(&mut fields);
    let body = fields.join(",");
    let sum = body.bytes().fold(0u8, |sum, b| sum ^ b);
    format!("${body}*{sum:02X}\n")
}

/// A sentence with its time moved by so many seconds.
fn moved(line: &str, by_s: i64) -> String {
    changed(line, |fields| {
        let tod: f64 = fields[1].parse().unwrap();
        let (h, m, s) = (
            (tod / 10_000.0) as i64,
            (tod / 100.0) as i64 % 100,
            tod as i64 % 100,
        );
        let moved = (h * 3600 + m * 60 + s + by_s).rem_euclid(86_400);
        let (h, m, s) = (moved / 3600, moved / 60 % 60, moved % 60);
        fields[1] = format!("{h:02}{m:02}{s:02}.00");
    })
}

/// The same of another date, where it says one.
fn dated(line: &str, date: &str) -> String {
    changed(line, |fields| {
        if fields[0].ends_with("RMC") {
            date.clone_into(&mut fields[9]);
        }
    })
}

#[test]
fn clocks_that_roll_over_or_jump() {
    let garden = garden();
    // Midnight a minute after the start, between a Saturday and a Sunday: there the weeks of satellites begin.
    let to_midnight = 86_400 - (8 * 3600 + 31 * 60);
    let night: String = garden
        .lines()
        .map(|line| {
            let line = moved(line, to_midnight);
            let date = if line.contains(",23") {
                "160526"
            } else {
                "170526"
            };
            dated(&line, date)
        })
        .collect();
    let (said, net_m2) = walked(night.as_bytes());
    assert!(!said.contains("CLOCK"), "{said}");
    assert!(said.contains("00:00:"), "{said}");
    let (_, whole_m2) = walked(garden.as_bytes());
    assert!((net_m2.unwrap() - whole_m2.unwrap()).abs() < 1e-6);
    // An hour back in the middle.
    let half = garden.lines().count() / 6 * 3;
    let jump = |(nth, line): (usize, &str)| moved(line, if nth < half { 0 } else { -3600 });
    let back: String = garden.lines().enumerate().map(jump).collect();
    let (said, _) = walked(back.as_bytes());
    assert!(said.contains("!! CLOCK ran back by 3599 s"), "{said}");
}

/// Weeks of satellites are counted to 1024 and begin anew (IS-GPS-200, 20.3.3.3.1.1): until a receiver has heard in which count it
/// is, its date may be 1024 weeks off.
#[test]
fn weeks_that_roll_over() {
    let garden = garden();
    let half = garden.lines().count() / 6 * 3;
    let date = |(nth, line): (usize, &str)| {
        // 14 May 2026 less 1024 weeks.
        dated(line, if nth < half { "280906" } else { "140526" })
    };
    let log: String = garden.lines().enumerate().map(date).collect();
    let (said, net_m2) = walked(log.as_bytes());
    assert!(!said.contains("CLOCK"), "{said}");
    let (_, whole_m2) = walked(garden.as_bytes());
    assert!((net_m2.unwrap() - whole_m2.unwrap()).abs() < 1e-6);
}

/// In binary messages the week is told by its milliseconds alone.
#[test]
fn milliseconds_of_a_week_that_roll_over() {
    const WEEK_MS: u32 = 604_800_000;
    let mut log = fs::read(fixture("forms/lawn.ubx")).unwrap();
    let whole = log.clone();
    // Kind and length of NAV-DOP, NAV-PVT and NAV-HPPOSLLH; what is damaged on purpose stays as it is.
    let navigation = [[1, 0x04, 18, 0], [1, 0x07, 92, 0], [1, 0x14, 36, 0]];
    let is_whole = |at: &usize| {
        let after = &log[*at..];
        after.starts_with(&[0xb5, 0x62])
            && navigation.iter().any(|head| after[2..].starts_with(head))
            && after.len() >= 8 + usize::from(after[4])
    };
    let heads: Vec<usize> = (0..log.len()).filter(is_whole).collect();
    let clock = |log: &[u8], at: usize| {
        // NAV-HPPOSLLH has its version first.
        let at = at + 6 + if log[at + 3] == 0x14 { 4 } else { 0 };
        (at, u32::from_le_bytes(log[at..at + 4].try_into().unwrap()))
    };
    let (_, middle_ms) = clock(&log, heads[heads.len() / 2]);
    for &head in &heads {
        let (at, ms) = clock(&log, head);
        let ms = (ms + WEEK_MS - middle_ms) % WEEK_MS;
        log[at..at + 4].copy_from_slice(&ms.to_le_bytes());
        let end = head + 6 + usize::from(log[head + 4]);
        let mut anew = Vec::new();
        message(
            &mut anew,
            [log[head + 2], log[head + 3]],
            &log[head + 6..end],
        );
        log[head..end + 2].copy_from_slice(&anew);
    }
    assert_ne!(log, whole);
    let (said, net_m2) = walked(&log);
    assert!(!said.contains("CLOCK") && !said.contains("TORN"), "{said}");
    let (_, whole_m2) = walked(&whole);
    assert!((net_m2.unwrap() - whole_m2.unwrap()).abs() < 1e-6);
}

/// What a receiver sends beside its sentences on the same line: binary messages, and bytes of no meaning at all.
#[test]
fn other_bytes_among_the_sentences() {
    let garden = garden();
    let mut chance = Seeded(26);
    let mut log = Vec::new();
    let lines: Vec<&str> = garden.lines().collect();
    for epoch in lines.chunks(3) {
        let bytes: Vec<u8> = (0..chance.below(300))
            .map(|_| chance.next() as u8)
            .collect();
        // RXM-RAWX: measurements, which are no position.
        message(&mut log, [0x02, 0x15], &bytes);
        if chance.below(4) == 0 {
            log.extend(&bytes);
            log.extend(b"\r\n");
        }
        log.extend(epoch.join("\r\n").as_bytes());
        log.extend(b"\r\n");
    }
    let (said, net_m2) = walked(&log);
    assert!(said.contains("fixed; 1 a second; lap 2"), "{said}");
    let (_, whole_m2) = walked(garden.as_bytes());
    assert!((net_m2.unwrap() - whole_m2.unwrap()).abs() < 1e-6);
}
