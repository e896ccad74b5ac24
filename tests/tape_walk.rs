//! A walked lawn pulled together with tape readings, end to end. The walks are simulated (no outside data); what is
//! checked against the outside is the tape's own accuracy: a rectangle of 9 m by 12 m with diagonals of 15 m (3-4-5).

use boundwalk::job::{Job, Tape};
use boundwalk::survey::measured::Status;
use boundwalk::survey::{Input, Measured, Request, measure};
use boundwalk::trial::chance::Chance;
use boundwalk::trial::place::AT_SEA;
use boundwalk::trial::receiver::{Claim, Class, Ground, Receiver, receive};
use boundwalk::trial::shape::{Outline, Shape};
use boundwalk::trial::walker::{Habits, walk};
use boundwalk::trial::write::nmea;

const CORNERS: [(f64, f64); 4] = [(0.0, 0.0), (9.0, 0.0), (9.0, 12.0), (0.0, 12.0)];

/// An autonomous receiver round 9 m by 12 m, a quarter of a minute at each corner.
fn log(seed: u64) -> Vec<u8> {
    let outline = Outline::drawn(Shape::Rectangle, &CORNERS, &[0.0; 4]);
    let mut chance = Chance::new(seed);
    let mut habits = Habits::random(&outline, 1, &mut chance);
    habits.pause_s = Some((15.0, 20.0));
    let moments = walk(&outline, &habits, 1.0, &mut chance);
    let mut receiver = Receiver::random(Class::Autonomous, Claim::Sigma, &mut chance);
    // A slow receiver keeps a small lawn in shape; a quick one is refused, which is tested elsewhere.
    receiver.tau_s = 300.0;
    let epochs = receive(
        &moments,
        &receiver,
        &AT_SEA[0],
        Ground::default(),
        &mut chance,
    );
    nmea(&epochs, jiff::civil::date(2026, 5, 14).at(9, 0, 0, 0))
}

fn measured(log: &[u8], tapes: Vec<Tape>) -> Measured {
    let request = Request {
        name: "tape".into(),
        logs: vec![Input::Bytes {
            name: "tape.nmea".into(),
            bytes: log.to_vec(),
        }],
        job: Job {
            tapes,
            ..Job::default()
        },
        ..Request::default()
    };
    measure(&request).unwrap()
}

fn tape(from: &str, to: &str, length_m: f64) -> Tape {
    Tape {
        from: from.into(),
        to: to.into(),
        length_m,
        sigma_m: Some(0.02),
        straight: true,
    }
}

/// Walks whose edge shows the four corners, with the true lengths of A-B and B-C.
///
/// Chosen by the truth: of 60 walks, 24 letter the four corners and nothing else. On the others a phone's error hides a corner or
/// bends one into a side, and a surveyor with a tape finds no corner where a letter stands; they show nothing here.
fn four_cornered() -> Vec<(Vec<u8>, [f64; 2])> {
    (0..60)
        .filter_map(|seed| {
            let log = log(seed);
            let alone = measured(&log, Vec::new());
            let corners = alone.ring.as_ref()?.corners;
            if corners != 4 || alone.area.is_none() {
                return None;
            }
            // Each letter must stand at a corner of its own, or there is nothing to lay the tape to: the error of a
            // phone may bend a side into a corner that is not there.
            let corner = |letter: usize| {
                let point = &alone.points[letter];
                let at = AT_SEA[0].metres(point.lat, point.lon);
                CORNERS
                    .iter()
                    .position(|c| (at.x - c.0).hypot(at.y - c.1) < 4.0)
            };
            let found = [corner(0)?, corner(1)?, corner(2)?, corner(3)?];
            let round = |step: usize| (0..4).all(|i| found[(i + 1) % 4] == (found[i] + step) % 4);
            if !round(1) && !round(3) {
                return None;
            }
            let side = |i: usize, j: usize| {
                let (p, q) = (CORNERS[found[i]], CORNERS[found[j]]);
                (p.0 - q.0).hypot(p.1 - q.1)
            };
            Some((log, [side(0, 1), side(1, 2)]))
        })
        .take(8)
        .collect()
}

#[test]
fn four_sides_and_a_diagonal_bring_a_phone_to_tape_accuracy() {
    let walks = four_cornered();
    assert!(
        walks.len() >= 4,
        "only {} walks show their corners",
        walks.len()
    );
    for (log, [ab, bc]) in &walks {
        let alone = measured(log, Vec::new()).area.unwrap();
        let two = measured(log, vec![tape("A", "B", *ab), tape("B", "C", *bc)])
            .area
            .unwrap();
        let all = measured(
            log,
            vec![
                tape("A", "B", *ab),
                tape("B", "C", *bc),
                tape("C", "D", *ab),
                tape("D", "A", *bc),
                tape("A", "C", 15.0),
            ],
        );
        let report = all
            .taped
            .tape
            .as_ref()
            .and_then(|t| t.adjustment.as_ref())
            .unwrap();
        assert!(report.accepted, "{}", report.message);
        let area = all.area.unwrap();
        assert!(
            (area.net_m2 - 108.0).abs() < area.band_m2 + 0.2,
            "{} ± {}",
            area.net_m2,
            area.band_m2
        );
        assert!(area.band_m2 < 1.5, "{} {}", area.band_m2, report.message);
        assert!(
            two.band_m2 < 0.9 * alone.band_m2,
            "{} against {}",
            two.band_m2,
            alone.band_m2
        );
    }
}

#[test]
fn a_tape_misread_by_a_metre_does_not_pass() {
    for (log, [ab, bc]) in &four_cornered() {
        let result = measured(
            log,
            vec![
                tape("A", "B", *ab + 1.0),
                tape("B", "C", *bc),
                tape("C", "D", *ab),
                tape("D", "A", *bc),
                tape("A", "C", 15.0),
                tape("B", "D", 15.0),
            ],
        );
        let report = result
            .taped
            .tape
            .as_ref()
            .and_then(|t| t.adjustment.as_ref())
            .unwrap();
        assert_ne!(report.finding, "clean", "{}", report.message);
        let named = report
            .readings
            .iter()
            .filter(|r| r.left_out)
            .map(|r| r.line.as_str())
            .collect::<Vec<_>>();
        assert!(
            named == ["A-B"] || result.status != Status::Ok,
            "{named:?} {}",
            report.message
        );
    }
}

#[test]
fn a_point_that_is_not_there_is_told() {
    let (log, [ab, _]) = four_cornered().remove(0);
    let result = measured(&log, vec![tape("A", "Q", ab)]);
    assert_eq!(result.status, Status::Check);
    assert!(
        result.warnings.iter().any(|w| w.code == "no-such-point"),
        "{:?}",
        result.warnings
    );
}
