//! Ways that are no walk round a lawn are not ok, and walks that come round are not refused as open. All of them are invented.
//! `BOUNDWALK_WAYS=30 cargo test --test walks ways -- --nocapture` takes more of each and prints the figures of docs/accuracy.md.

#[path = "made/ways.rs"]
mod made;

use crate::trial::chance::Chance;
use crate::trial::receiver::{Claim, Class};
use crate::trial::shape::Shape;
use boundwalk::job::Job;
use boundwalk::survey::measured::Status;
use boundwalk::survey::{Depth, Input, Measured, Request, measure};
use made::*;
use std::path::Path;

const RECEIVERS: [Says; 4] = [
    Says::Nothing,
    Says::Nmea(Class::Autonomous, Claim::Dilution),
    Says::Nmea(Class::RtkFloat, Claim::Dilution),
    Says::Nmea(Class::RtkFixed, Claim::Sigma),
];

/// How many of each kind and receiver.
fn seeds() -> u64 {
    let asked = std::env::var("BOUNDWALK_WAYS").ok();
    asked.and_then(|count| count.parse().ok()).unwrap_or(4)
}

fn measured(log: Vec<u8>) -> Measured {
    let name = if log.starts_with(b"<?xml") {
        "way.gpx"
    } else {
        "way.nmea"
    };
    let request = Request {
        logs: vec![Input::Bytes {
            name: name.into(),
            bytes: log,
        }],
        depth: Depth::Numbers,
        ..Request::default()
    };
    measure(&request).expect("a result")
}

/// Each result of a kind of way, by every receiver, at a fix a second and every four.
fn each(kind: &str, make: impl Fn(&mut Chance) -> Way) -> Vec<Measured> {
    let log = |says, seed: u64| {
        let mut chance = Chance::stream(seed, kind);
        let way = make(&mut chance);
        let step_s = if seed % 3 == 2 { 4.0 } else { 1.0 };
        made::log(&way, step_s, says, &mut chance)
    };
    let results: Vec<Measured> = RECEIVERS
        .into_iter()
        .flat_map(|says| (0..seeds()).map(move |seed| (says, seed)))
        .map(|(says, seed)| measured(log(says, seed)))
        .collect();
    let count = |status| results.iter().filter(|m| m.status == status).count();
    println!(
        "| {kind} | {} | {} | {} | {} |",
        results.len(),
        count(Status::Ok),
        count(Status::Check),
        count(Status::Withheld)
    );
    if std::env::var("BOUNDWALK_WAYS").is_ok() {
        for m in results.iter().filter(|m| m.status != Status::Withheld) {
            let codes: Vec<&str> = m.warnings.iter().map(|warning| warning.code()).collect();
            println!(
                "  {:?} {:?} {codes:?}",
                m.status,
                m.area.as_ref().map(|a| [a.net_m2, a.band_m2])
            );
        }
    }
    results
}

fn told(measured: &Measured, code: &str) -> bool {
    measured
        .warnings
        .iter()
        .any(|warning| warning.code() == code)
}

fn of(results: &[Measured], status: Status) -> usize {
    results.iter().filter(|m| m.status == status).count()
}

#[test]
fn what_is_no_walk_round_a_lawn_is_not_ok_and_mostly_has_no_area() {
    type Make = fn(&mut Chance) -> Way;
    let kinds: [(&str, Make); 11] = [
        ("out and back", out_and_back),
        ("both sides of a road", both_sides),
        ("from one place to another", one_way),
        ("a path to a round and back", round_at_the_end),
        ("streets, walked", |c| streets(1.3, 80.0, c)),
        ("streets, driven", |c| streets(11.0, 120.0, c)),
        ("a star", star),
        ("mowing", mowing),
        ("a figure of eight", |c| eight(1, 0.9, c)),
        ("three figures of eight", |c| eight(3, 0.9, c)),
        ("roads, then a running track", |c| roads_then_track(8, c)),
    ];
    for (kind, make) in kinds {
        let results = each(kind, make);
        // A receiver that errs by metres tells lanes and lobes a few metres wide from an edge only so often.
        assert!(16 * of(&results, Status::Ok) <= results.len(), "{kind}");
        // A long path crosses itself here and there and goes round what lies between: that is told.
        assert!(
            2 * of(&results, Status::Withheld) >= results.len(),
            "{kind}"
        );
    }
    // The lesser lobe holds a quarter of the other, and spirals come in from a metre to ten a round.
    for (kind, make) in [
        ("a lame figure of eight", (|c| eight(1, 0.5, c)) as Make),
        ("three lame figures of eight", |c| eight(3, 0.5, c)),
        ("a spiral", spiral),
    ] {
        let results = each(kind, make);
        assert!(20 * of(&results, Status::Ok) <= results.len(), "{kind}");
    }
}

/// The oval inside its kerb, and 0.5 m outside it with bends of sixteen chords: 10 459 m² by the shoelace formula.
#[test]
fn one_wide_lap_among_ten_is_left_out_and_named() {
    for m in each("ten laps of a track and one outside", |c| {
        track_and_wide(10, c)
    }) {
        let area = m.area.as_ref().expect("an area");
        assert!((area.net_m2 - 10_459.0).abs() < 250.0, "{area:?}");
        assert_eq!(
            (m.status, m.ring.as_ref().map(|ring| ring.laps)),
            (Status::Check, Some(10))
        );
        assert!(told(&m, "lap-disagrees"), "{:?}", m.warnings);
    }
}

/// To find beds by where one stood is what the README advises; the way to two of them comes round a good part of the lawn.
#[test]
fn the_way_to_two_beds_is_no_other_place() {
    let mut chance = Chance::stream(1, "two beds");
    let says = Says::Nmea(Class::RtkFixed, Claim::Sigma);
    let log = made::log(&laps_and_two_beds(), 1.0, says, &mut chance);
    let with = |beds: &str| {
        let log = Input::Bytes {
            name: "way.nmea".into(),
            bytes: log.clone(),
        };
        let mut request = Request::of([log]);
        request.job = Job::from_text(beds, "job.toml", Path::new(".")).expect("a sheet");
        measure(&request).expect("a result")
    };
    let bed =
        |pause: u32| format!("[[bed]]\nlabel = \"{pause}\"\npause = {pause}\ndiameter_m = 1.2\n");
    let found = with(&format!("{}{}", bed(1), bed(2)));
    assert!(!told(&found, "other-round"), "{:?}", found.warnings);
    assert_eq!(found.deductions.len(), 2);
    // Where no bed is asked for, nobody knows what was walked round there.
    assert!(told(&with(""), "other-round"));
}

/// Once such a walk was taken for a lap round lawn and house and one round the house, the other way: no area by RTK, one twice too large and no
/// word by poorer receivers.
#[test]
fn a_lawn_about_a_house_is_its_own_area() {
    for says in RECEIVERS {
        let precise = says == Says::Nmea(Class::RtkFixed, Claim::Sigma);
        let (mut ok, count) = (0, 3 * seeds());
        for seed in 0..count {
            let mut chance = Chance::stream(seed, "about a house");
            let (way, area_m2) = about_a_house(1 + seed as usize % 3, &mut chance);
            let m = measured(made::log(&way, 1.0, says, &mut chance));
            let area = m.area.as_ref().filter(|_| m.status == Status::Ok);
            let Some(area) = area else { continue };
            ok += 1;
            let bands = (area.net_m2 - area_m2).abs() / area.band_m2;
            assert!(bands < 1.5, "{seed}: {bands} of {area:?} for {area_m2}");
        }
        println!("about a house: {ok} ok of {count}");
        assert!(!precise || 3 * ok > count, "{ok} of {count}");
    }
}

#[test]
fn twelve_laps_are_twelve() {
    for m in each("twelve laps of a track", |c| track_laps(12, c)) {
        assert_eq!(
            m.ring.as_ref().map(|ring| ring.laps),
            Some(12),
            "{:?}",
            m.warnings
        );
    }
}

/// At 9 m/s a driver keeps to the edge within some metres: two sigmas of 0.3 s of way all round are in the band.
#[test]
fn what_was_driven_says_so_and_is_not_believed_to_two_centimetres() {
    let results = each("a round drive home", |c| loop_home(9.0, 300.0, c));
    assert!(results.iter().any(|m| m.area.is_some()));
    for m in results {
        let says = |word: &str| {
            m.warnings
                .iter()
                .any(|warning| warning.to_string().contains(word))
        };
        assert!(
            m.status != Status::Ok && says("driven or ridden"),
            "{:?}",
            m.warnings
        );
        if let (Some(area), Some(perimeter_m)) = (&m.area, m.perimeter_m) {
            assert!(area.band_m2 > 1.8 * 0.3 * 9.0 * perimeter_m, "{area:?}");
        }
    }
    for m in each("a round walk home", |c| loop_home(1.3, 300.0, c)) {
        assert!(m.area.is_some() && !told(&m, "driven"), "{:?}", m.warnings);
    }
}

/// Lawns of a few metres, walked in half a minute: the receiver's error alone puts the ends of the walk four metres apart.
#[test]
fn small_lawns_that_are_walked_round_are_not_refused_as_open() {
    let says = [Says::Nothing, Says::Nmea(Class::RtkFloat, Claim::Dilution)];
    let (mut walks, mut refused) = (0, Vec::new());
    for (area_m2, laps) in [(30.0, 1), (30.0, 2), (60.0, 1)] {
        for (receiver, says) in says.into_iter().enumerate() {
            for seed in 0..10 * seeds() {
                let mut chance = Chance::stream(seed, "lawn");
                let (log, _) = lawn(Shape::Blob, area_m2, laps, says, &mut chance);
                let m = measured(log);
                walks += 1;
                if told(&m, "open-walk") || told(&m, "too-open") {
                    refused.push((area_m2, laps, receiver, seed));
                }
            }
        }
    }
    println!("refused as open: {} of {walks}", refused.len());
    assert!(refused.len() * 100 <= walks, "{refused:?}");
}
