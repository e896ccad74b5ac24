//! One walk, several logs: the area must not depend on how the log was written down.

use crate::trial::chance::Chance;
use crate::trial::place::AT_SEA;
use crate::trial::receiver::{Claim, Class, Ground, Receiver, receive};
use crate::trial::shape::{Outline, Shape};
use crate::trial::walker::{Habits, walk};
use crate::trial::write::{gpx, nmea};
use boundwalk::survey::{Input, Measured, Request, measure};
use jiff::civil::date;

fn measured(name: &str, bytes: Vec<u8>, sigma_m: Option<f64>) -> Measured {
    let request = Request {
        logs: vec![Input::Bytes {
            name: name.into(),
            bytes,
        }],
        sigma_m,
        ..Request::default()
    };
    measure(&request).unwrap_or_else(|fault| panic!("{name}: {fault}"))
}

/// NMEA has 7 decimals of a minute (0.2 mm), GPX 9 of a degree (0.1 mm): the same walk, so the same area. GPX has no
/// word for an RTK fix, so there the sigma is given: what counts as a spike hangs on it.
#[test]
fn a_walk_has_the_same_area_as_nmea_and_as_gpx() {
    let mut compared = 0;
    let kinds = [(Class::Autonomous, None), (Class::RtkFixed, Some(0.02))];
    let cases = kinds
        .into_iter()
        .flat_map(|kind| Shape::ALL.map(|shape| (kind, shape)));
    for (seed, ((class, sigma_m), shape)) in cases.enumerate() {
        let mut chance = Chance::stream(seed as u64, "formats");
        let lawn = Outline::random(shape, 300.0, &mut chance);
        let habits = Habits::random(&lawn, 2, &mut chance);
        let receiver = Receiver::random(class, Claim::Dilution, &mut chance);
        let moments = walk(&lawn, &habits, 1.0, &mut chance);
        let place = AT_SEA[seed % AT_SEA.len()];
        let epochs = receive(&moments, &receiver, &place, Ground::default(), &mut chance);
        let start = date(2026, 5, 14).at(9, 0, 0, 0);
        let as_nmea = measured("walk.nmea", nmea(&epochs, start), sigma_m);
        let as_gpx = measured("walk.gpx", gpx(&epochs, &[], start), sigma_m);
        let (Some(one), Some(other)) = (&as_nmea.area, &as_gpx.area) else {
            panic!("{shape:?}: {:?} {:?}", as_nmea.warnings, as_gpx.warnings);
        };
        approx::assert_relative_eq!(one.net_m2, other.net_m2, max_relative = 1e-4);
        compared += 1;
    }
    assert_eq!(compared, 2 * Shape::ALL.len());
}

/// The same bytes gzipped, and with the other line ends.
#[test]
fn packing_and_line_ends_change_nothing() {
    let log = std::fs::read(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/fixtures/garden/lawn.nmea"
    ));
    let log = log.unwrap_or_else(|error| panic!("{error}"));
    let plain = measured("lawn.nmea", log.clone(), None);
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    std::io::Write::write_all(&mut packed, &log).unwrap_or_else(|error| panic!("{error}"));
    let packed = packed.finish().unwrap_or_else(|error| panic!("{error}"));
    let unix: Vec<u8> = log.iter().copied().filter(|b| *b != b'\r').collect();
    for (name, bytes) in [("lawn.nmea.gz", packed), ("lawn-unix.nmea", unix)] {
        let net = measured(name, bytes, None).area.map(|area| area.net_m2);
        assert_eq!(net, plain.area.as_ref().map(|area| area.net_m2), "{name}");
    }
}

/// The same corners listed twice once came out as twice the area.
#[test]
fn corners_listed_twice_are_refused() {
    let corners: String = [
        (45.0, -30.0),
        (45.0, -29.9998),
        (45.0001, -29.9998),
        (45.0001, -30.0),
    ]
    .map(|(lat, lon)| format!("{lat},{lon}\n"))
    .concat();
    let list = |times: usize| format!("lat,lon\n{}", corners.repeat(times)).into_bytes();
    let once = measured("corners.csv", list(1), Some(0.02));
    assert!((once.area.unwrap().net_m2 - 175.3).abs() < 0.5);
    let twice = measured("corners.csv", list(2), Some(0.02));
    assert!(twice.area.is_none());
    assert!(
        twice
            .warnings
            .iter()
            .any(|w| w.code() == "goes-round-twice")
    );
}
