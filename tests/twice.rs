//! One lap saved twice is one lap: counted as two it would agree with itself and the band would be far too narrow.

use crate::trial::cell::Walk;
use crate::trial::run::walked;
use boundwalk::survey::measured::Status;
use boundwalk::survey::{Depth, Input, Measured, Request, measure};

fn measured(logs: &[(&str, &[u8])]) -> Measured {
    let input = |(name, bytes): &(&str, &[u8])| Input::Bytes {
        name: (*name).into(),
        bytes: bytes.to_vec(),
    };
    let request = Request {
        logs: logs.iter().map(input).collect(),
        depth: Depth::Numbers,
        ..Request::default()
    };
    measure(&request).expect("a result")
}

fn area(measured: &Measured) -> [f64; 2] {
    let area = measured.area.as_ref().expect("an area");
    [area.net_m2, area.band_m2]
}

fn told(measured: &Measured, code: &str) -> bool {
    measured.warnings.iter().any(|w| w.code() == code)
}

/// A copy by another name, the same bytes named twice, another program's file of the same receiver.
#[test]
fn a_lap_saved_twice_is_no_second_lap() {
    let walk = walked(Walk::from_number(1959552147096).expect("a walk").clean());
    let (nmea, gpx) = (walk.nmea(), walk.gpx());
    let alone = measured(&[("lawn.nmea", &nmea)]);
    assert_eq!(alone.status, Status::Ok);
    for second in [("copy.nmea", nmea.as_slice()), ("lawn.gpx", &gpx)] {
        let twice = measured(&[("lawn.nmea", &nmea), second]);
        assert_eq!(area(&twice), area(&alone), "{second:?}", second = second.0);
        assert_eq!(twice.status, Status::Ok);
        assert!(told(&twice, "recorded-twice"), "{:?}", twice.warnings);
        assert!(!told(&twice, "files-order"), "{:?}", twice.warnings);
    }
    // In parts that overlap it is still the same lap.
    let cut = nmea.len() / 2;
    let line = |from: usize| from + nmea[from..].iter().position(|b| *b == b'\n').unwrap_or(0) + 1;
    let (first, second) = (&nmea[..line(cut + 2000)], &nmea[line(cut)..]);
    let parts = measured(&[("1.nmea", first), ("2.nmea", second)]);
    // But for the sigma of the epoch that the cut tore.
    for (part, whole) in area(&parts).into_iter().zip(area(&alone)) {
        assert!((part / whole - 1.0).abs() < 1e-3, "{part} {whole}");
    }
    assert!(told(&parts, "recorded-twice"), "{:?}", parts.warnings);
}

/// The same walk by another receiver at the same time.
#[test]
fn two_receivers_on_one_walker_are_one_lap() {
    let walk = walked(Walk::from_number(1959552147096).expect("a walk").clean());
    let mut other = walked(Walk::from_number(1959552147096).expect("a walk").clean());
    for epoch in &mut other.epochs {
        epoch.lat_deg += 1.0 / 111_000.0;
    }
    let alone = measured(&[("lawn.nmea", &walk.nmea())]);
    let both = measured(&[("lawn.nmea", &walk.nmea()), ("other.nmea", &other.nmea())]);
    assert!(told(&both, "recorded-together"), "{:?}", both.warnings);
    assert_eq!((both.status, area(&both)), (Status::Check, area(&alone)));
}

/// Another lap, later, is one.
#[test]
fn a_later_lap_counts() {
    let walk = walked(Walk::from_number(1959552147096).expect("a walk").clean());
    let mut later = walked(Walk::from_number(1959552147096).expect("a walk").clean());
    later.start = later
        .start
        .saturating_add(jiff::SignedDuration::from_mins(20));
    let both = measured(&[("1.nmea", &walk.nmea()), ("2.nmea", &later.nmea())]);
    let alone = measured(&[("1.nmea", &walk.nmea())]);
    assert!(!told(&both, "recorded-twice") && !told(&both, "recorded-together"));
    let laps = |m: &Measured| m.ring.as_ref().map_or(0, |ring| ring.laps);
    assert_eq!(laps(&both), 2 * laps(&alone));
}
