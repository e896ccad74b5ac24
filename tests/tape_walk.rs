//! A walked lawn pulled together with tape readings, end to end. The walks are simulated (no outside data); what is
//! checked against the outside is the tape's own accuracy: a rectangle of 9 m by 12 m with diagonals of 15 m (3-4-5).

use crate::trial::chance::Chance;
use crate::trial::place::AT_SEA;
use crate::trial::receiver::{Claim, Class, Ground, Receiver, receive};
use crate::trial::shape::{Outline, Shape};
use crate::trial::walker::{Habits, walk};
use crate::trial::write::nmea;
use boundwalk::job::taped::Square;
use boundwalk::job::{Corner, Job, Place, Tape};
use boundwalk::survey::measured::Status;
use boundwalk::survey::{Input, Measured, Request, measure};
use boundwalk::tape::settle::Report;

const CORNERS: [(f64, f64); 4] = [(0.0, 0.0), (9.0, 0.0), (9.0, 12.0), (0.0, 12.0)];
/// How far the middle of a kept edge is off the line between its corners, metres, one sigma. Common practice, no source.
const BULGE_SIGMA_M: f64 = 0.02;

/// One walk round a lawn of 9 m by 12 m, a quarter of a minute at each corner.
struct Walked {
    log: Vec<u8>,
    true_m2: f64,
    /// For each corner, when it was stood at: seconds of the day.
    stood_s: [f64; 4],
    /// Where the walk began.
    began: (f64, f64),
}

/// Nine o'clock.
const BEGINS_S: f64 = 9.0 * 3600.0;

fn walked(class: Class, seed: u64, tau_s: Option<f64>) -> Walked {
    let mut chance = Chance::new(seed);
    let bulges_m: Vec<f64> = CORNERS
        .iter()
        .map(|_| BULGE_SIGMA_M * chance.normal())
        .collect();
    let outline = Outline::drawn(Shape::Rectangle, &CORNERS, &bulges_m);
    let mut habits = Habits::random(&outline, 1, &mut chance);
    habits.pause_s = Some((15.0, 20.0));
    let moments = walk(&outline, &habits, 1.0, &mut chance);
    let mut receiver = Receiver::random(class, Claim::Sigma, &mut chance);
    receiver.tau_s = tau_s.unwrap_or(receiver.tau_s);
    let epochs = receive(
        &moments,
        &receiver,
        &AT_SEA[0],
        Ground::default(),
        &mut chance,
    );
    let stood_s = CORNERS.map(|(x, y)| {
        let near: Vec<f64> = moments
            .iter()
            .filter(|m| m.lap == Some(0) && (m.at.x - x).hypot(m.at.y - y) < 0.3)
            .map(|m| m.time_s)
            .collect();
        BEGINS_S + near[near.len() / 2]
    });
    let began = moments
        .iter()
        .find(|m| m.lap == Some(0))
        .map_or((0.0, 0.0), |m| (m.at.x, m.at.y));
    Walked {
        log: nmea(&epochs, jiff::civil::date(2026, 5, 14).at(9, 0, 0, 0)),
        true_m2: outline.area_m2,
        stood_s,
        began,
    }
}

fn measured(log: &[u8], job: Job) -> Measured {
    let request = Request {
        name: "tape".into(),
        logs: vec![Input::Bytes {
            name: "tape.nmea".into(),
            bytes: log.to_vec(),
        }],
        job,
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
        straight: None,
    }
}

/// The true corners in the order a surveyor letters them: clockwise from the one nearest the start.
fn in_order(walked: &Walked) -> [usize; 4] {
    let away = |i: usize| (CORNERS[i].0 - walked.began.0).hypot(CORNERS[i].1 - walked.began.1);
    let first = (0..4)
        .min_by(|&a, &b| away(a).total_cmp(&away(b)))
        .unwrap_or(0);
    [first, (first + 3) % 4, (first + 2) % 4, (first + 1) % 4]
}

const LETTERS: [&str; 4] = ["A", "B", "C", "D"];

/// Readings of a tape with an error of 20 mm, one sigma, between the true corners.
fn tapes(walked: &Walked, pairs: &[(usize, usize)], chance: &mut Chance) -> Vec<Tape> {
    let corner = in_order(walked).map(|i| CORNERS[i]);
    pairs
        .iter()
        .map(|&(i, j)| {
            let (p, q) = (corner[i], corner[j]);
            let true_m = (p.0 - q.0).hypot(p.1 - q.1);
            tape(LETTERS[i], LETTERS[j], true_m + 0.02 * chance.normal())
        })
        .collect()
}

const ROUND_AND_ACROSS: [(usize, usize); 5] = [(0, 1), (1, 2), (2, 3), (3, 0), (0, 2)];
const TWO: [(usize, usize); 2] = [(0, 1), (1, 2)];

/// The corners by the times the surveyor wrote down.
fn by_time(walked: &Walked) -> Vec<Corner> {
    in_order(walked)
        .iter()
        .zip(LETTERS)
        .map(|(&i, name)| Corner {
            name: name.into(),
            place: Place::Time {
                tod_s: walked.stood_s[i],
            },
        })
        .collect()
}

fn report(measured: &Measured) -> &Report {
    let tape = measured.taped.tape.as_ref().expect("tapes");
    tape.adjustment.as_ref().expect("an adjustment")
}

/// How many of `total` results held the truth within their band, each a band of 95 %.
#[derive(Default, Clone, Copy)]
struct Tally {
    total: u32,
    held: u32,
    band_m2: f64,
}

impl Tally {
    fn add(&mut self, measured: &Measured, true_m2: f64) {
        let Some(area) = &measured.area else { return };
        self.total += 1;
        self.held += u32::from((area.net_m2 - true_m2).abs() <= area.band_m2);
        self.band_m2 += area.band_m2;
    }
    fn and(self, other: Tally) -> Tally {
        Tally {
            total: self.total + other.total,
            held: self.held + other.held,
            band_m2: self.band_m2 + other.band_m2,
        }
    }
    fn percent(&self) -> f64 {
        100.0 * f64::from(self.held) / f64::from(self.total.max(1))
    }
    fn mean_m2(&self) -> f64 {
        self.band_m2 / f64::from(self.total.max(1))
    }
    fn said(&self) -> String {
        format!("{:.1} % (± {:.2} m2)", self.percent(), self.mean_m2())
    }
}

/// Every walk there is, none chosen, with the corners named in the job sheet by the time they were stood at; receivers of
/// every class and of every memory. BOUNDWALK_WALKS sets how many of each class.
#[test]
fn the_adjusted_band_holds_the_truth_as_often_as_it_says() {
    let walks: u64 = std::env::var("BOUNDWALK_WALKS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(30);
    let (mut of_two, mut of_all) = (Tally::default(), Tally::default());
    for class in Class::ALL {
        let (mut alone, mut two, mut all) = (Tally::default(), Tally::default(), Tally::default());
        let (mut taken, mut flagged, mut refused, mut sharp) = (0, 0, 0, 0);
        for seed in 0..walks {
            let walked = walked(class, 1000 + seed, None);
            let mut chance = Chance::new(seed);
            let with = |tapes: Vec<Tape>| {
                let job = Job {
                    corners: by_time(&walked),
                    tapes,
                    ..Job::default()
                };
                measured(&walked.log, job)
            };
            let whole = with(tapes(&walked, &ROUND_AND_ACROSS, &mut chance));
            if whole.area.is_none() {
                refused += 1;
                continue;
            }
            taken += u32::from(report(&whole).accepted);
            flagged += u32::from(whole.status != Status::Ok);
            all.add(&whole, walked.true_m2);
            // By the tape alone, with its sides as straight as they are kept, the figure has some 0.35 m² of sigma.
            let as_taped = whole.area.as_ref().is_some_and(|a| a.band_m2 < 1.5);
            sharp += u32::from(as_taped);
            assert!(
                as_taped || whole.status != Status::Ok,
                "{} {seed}: wide, and no flag",
                class.name()
            );
            if let Some(area) = &whole.area
                && (area.net_m2 - walked.true_m2).abs() > 1.3 * area.band_m2
            {
                println!(
                    "{} {seed} {:?}: {:.2} is {:.2} ± {:.2}, {:?}: {}",
                    class.name(),
                    whole.status,
                    walked.true_m2,
                    area.net_m2,
                    area.band_m2,
                    report(&whole).areas[0].from,
                    report(&whole).message
                );
            }
            alone.add(&with(Vec::new()), walked.true_m2);
            two.add(&with(tapes(&walked, &TWO, &mut chance)), walked.true_m2);
        }
        println!(
            "{}: {walks} walks, {refused} withheld; held alone {}, with two tapes {}, with four sides and a diagonal {}; \
             {taken} taken over, {sharp} within 1.5 m2, {flagged} flagged",
            class.name(),
            alone.said(),
            two.said(),
            all.said(),
        );
        // Tape accuracy whatever the receiver; two tapes visibly tighter.
        assert!(
            u64::from(10 * sharp) >= 9 * walks,
            "{}: {sharp}",
            class.name()
        );
        assert!(two.mean_m2() < 0.9 * alone.mean_m2(), "{}", class.name());
        of_two = of_two.and(two);
        of_all = of_all.and(all);
    }
    println!(
        "all: two tapes {}, four sides and a diagonal {}, of {}",
        of_two.said(),
        of_all.said(),
        of_all.total
    );
    // Three standard errors of the count about 93 to 97 %.
    let slack = 300.0 * (0.95 * 0.05 / f64::from(of_all.total)).sqrt();
    for tally in [of_two, of_all] {
        assert!(
            tally.percent() > 93.0 - slack && tally.percent() < 97.0 + slack,
            "{}",
            tally.said()
        );
    }
}

/// A phone's walk on which a corner cannot be told from another: what is taped as a diagonal must not pass for a side.
#[test]
fn corners_out_of_order_take_no_tape() {
    let (told, walked) = (1000..4000)
        .map(|seed| walked(Class::Autonomous, seed, None))
        .find_map(|walked| {
            let job = Job {
                corners: by_time(&walked),
                tapes: tapes(&walked, &ROUND_AND_ACROSS, &mut Chance::new(1)),
                ..Job::default()
            };
            let whole = measured(&walked.log, job);
            let told = |code| whole.warnings.iter().any(|w| w.code() == code);
            told("corners-out-of-order").then_some((whole, walked))
        })
        .expect("one in a thousand");
    assert_ne!(told.status, Status::Ok);
    if let Some(area) = &told.area {
        assert!(!report(&told).accepted, "{}", report(&told).message);
        assert!((area.net_m2 - walked.true_m2).abs() < 1.5 * area.band_m2);
    }
}

/// A phone's walk that does not come round, but stood at the corners: its tapes are the lawn.
#[test]
fn a_walk_too_open_to_close_is_drawn_between_its_taped_corners() {
    let alone = |walked: &Walked| {
        let named = Job {
            corners: by_time(walked),
            ..Job::default()
        };
        measured(&walked.log, named)
    };
    let walked = (1000..1400)
        .map(|seed| walked(Class::Autonomous, seed, None))
        .find(|walked| {
            alone(walked)
                .warnings
                .iter()
                .any(|w| w.code() == "too-open")
        })
        .expect("one in a hundred");
    assert_eq!(alone(&walked).status, Status::Withheld);
    let job = |tapes: Vec<Tape>| Job {
        corners: by_time(&walked),
        tapes,
        ..Job::default()
    };
    let taped = |pairs: &[(usize, usize)]| tapes(&walked, pairs, &mut Chance::new(1));

    let whole = measured(&walked.log, job(taped(&ROUND_AND_ACROSS)));
    assert_eq!(whole.status, Status::Check);
    assert!(
        whole.warnings.iter().any(
            |w| w.code() == "drawn-from-corners" && w.to_string().contains("too open to close")
        ),
        "{:?}",
        whole.warnings
    );
    let area = whole.area.expect("an area");
    assert!(area.band_m2 < 1.5, "{area:?}");
    assert!(
        (area.net_m2 - walked.true_m2).abs() < 1.5 * area.band_m2,
        "{area:?}"
    );
    assert_eq!(whole.ring.expect("a ring").corners, 4);

    // With both diagonals taped, tapes go round in any order; the walk's is the lawn's.
    let mut crossed = job(taped(&[(0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3)]));
    crossed.corners.swap(1, 2);
    let crossed = measured(&walked.log, crossed).area.expect("an area");
    assert!(
        (crossed.net_m2 - area.net_m2).abs() < area.band_m2,
        "{crossed:?}"
    );

    // A side that nobody taped, or that bulges, is still to be walked.
    let mut bulging = taped(&ROUND_AND_ACROSS);
    bulging[1].straight = Some(false);
    for tapes in [taped(&TWO), taped(&ROUND_AND_ACROSS[..3]), bulging] {
        let part = measured(&walked.log, job(tapes));
        assert_eq!(part.status, Status::Withheld, "{:?}", part.warnings);
    }
}

/// What the surveyor has looked at and calls straight is drawn so, however the walk has it.
#[test]
fn a_side_called_straight_is_straight() {
    let bent = |m: &Measured| {
        let of = |w: &&boundwalk::notice::Notice| w.code() == "taped-straight-but-walked-bent";
        m.warnings.iter().find(of).map(|w| w.to_string())
    };
    let with = |walked: &Walked, straight: Option<bool>| {
        let mut tapes = tapes(walked, &ROUND_AND_ACROSS, &mut Chance::new(271));
        for tape in &mut tapes {
            tape.straight = straight;
        }
        measured(
            &walked.log,
            Job {
                corners: by_time(walked),
                tapes,
                ..Job::default()
            },
        )
    };
    // The first walk that a poor receiver has bent.
    let (walked, unsaid) = (1271..3271)
        .map(|seed| walked(Class::Differential, seed, None))
        .map(|walked| {
            let unsaid = with(&walked, None);
            (walked, unsaid)
        })
        .find(|(_, unsaid)| bent(unsaid).is_some_and(|asks| asks.contains("taken as walked")))
        .expect("a walk that is bent");
    let said = with(&walked, Some(true));
    let asks = bent(&unsaid).expect("a doubt");
    assert!(asks.contains("taken as walked"), "{asks}");
    let (wide, sharp) = (
        unsaid.area.expect("an area"),
        said.area.clone().expect("an area"),
    );
    assert!(
        wide.band_m2 > 1.5 && sharp.band_m2 < 1.5,
        "{wide:?} {sharp:?}"
    );
    assert!((sharp.net_m2 - walked.true_m2).abs() < 1.5 * sharp.band_m2);
}

/// The same without [[corner]]: a surveyor who trusts that A, B, C, D are the corners clockwise from the start.
#[test]
fn letters_that_stand_wrong_are_never_silent() {
    for class in [Class::RtkFixed, Class::Differential, Class::Autonomous] {
        let (mut right, mut flagged, mut wrong, mut done) = (0, 0, 0, 0);
        for seed in 0..30 {
            // A slow receiver keeps a small lawn in shape, so that it is not refused.
            let walked = walked(class, seed, Some(300.0));
            let mut chance = Chance::new(seed);
            for pairs in [&ROUND_AND_ACROSS[..], &TWO[..]] {
                let result = measured(
                    &walked.log,
                    Job {
                        tapes: tapes(&walked, pairs, &mut chance),
                        ..Job::default()
                    },
                );
                done += 1;
                match (&result.area, result.status) {
                    // Three sigmas: one in four hundred lies outside by chance.
                    (Some(area), Status::Ok)
                        if (area.net_m2 - walked.true_m2).abs() <= 1.5 * area.band_m2 =>
                    {
                        right += 1;
                    }
                    (Some(area), Status::Ok) => {
                        println!(
                            "{} {seed} {}: {:.2} ± {:.2}, {} corners, {}",
                            class.name(),
                            pairs.len(),
                            area.net_m2,
                            area.band_m2,
                            result.ring.as_ref().map_or(0, |r| r.corners),
                            report(&result).message
                        );
                        wrong += 1;
                    }
                    _ => flagged += 1,
                }
            }
        }
        println!(
            "{}: {done} measured, {right} right, {flagged} flagged or withheld, {wrong} silently wrong",
            class.name()
        );
        assert_eq!(wrong, 0, "{}", class.name());
        // A phone's walk often hides a corner or shows one too many; then it says so.
        assert!(right >= 12, "{}", class.name());
    }
}

/// Four sides, a diagonal and right angles tell which side was misread by a metre, whatever the receiver.
#[test]
fn a_side_misread_by_a_metre_is_named() {
    for class in [Class::RtkFixed, Class::Differential, Class::Autonomous] {
        let (mut named, mut done) = (0, 0);
        for seed in 0..12 {
            let walked = walked(class, 500 + seed, Some(300.0));
            let mut tapes = tapes(&walked, &ROUND_AND_ACROSS, &mut Chance::new(seed));
            tapes[1].length_m += 1.0;
            let squares = LETTERS
                .map(|corner| Square {
                    corner: corner.into(),
                    angle_deg: 90.0,
                    sigma_deg: 0.5,
                })
                .to_vec();
            let result = measured(
                &walked.log,
                Job {
                    corners: by_time(&walked),
                    tapes,
                    squares,
                    ..Job::default()
                },
            );
            if result.area.is_none() {
                continue;
            }
            done += 1;
            assert_eq!(result.status, Status::Check);
            let report = report(&result);
            let left: Vec<&str> = report
                .readings
                .iter()
                .filter(|r| r.left_out)
                .map(|r| r.line.as_str())
                .collect();
            if left == ["B-C"]
                && report
                    .message
                    .to_string()
                    .contains("B-C doesn't fit: about")
            {
                named += 1;
                let area = result.area.as_ref().expect("an area");
                assert!((area.net_m2 - walked.true_m2).abs() < 2.0 * area.band_m2);
            } else {
                println!("{} {seed}: {left:?} {}", class.name(), report.message);
                for point in &result.points {
                    println!("{} {:.2} {:.2}", point.name, point.x_m, point.y_m);
                }
                println!("{:?} {:?}", walked.stood_s, in_order(&walked));
            }
        }
        println!("{}: named in {named} of {done}", class.name());
        assert!(done >= 9 && named + 1 >= done, "{}", class.name());
    }
}

/// Six lengths fix four corners with one to spare: a misreading shows, but not which it is.
#[test]
fn with_both_diagonals_one_of_these_is_wrong() {
    for (class, seed) in [(Class::Differential, 3), (Class::Differential, 5)] {
        let walked = walked(class, seed, Some(300.0));
        let mut pairs = ROUND_AND_ACROSS.to_vec();
        pairs.push((1, 3));
        let mut tapes = tapes(&walked, &pairs, &mut Chance::new(seed));
        tapes[5].length_m += 1.0;
        let result = measured(
            &walked.log,
            Job {
                corners: by_time(&walked),
                tapes,
                ..Job::default()
            },
        );
        let report = report(&result);
        assert_eq!((report.finding, report.accepted), ("one-of", false));
        assert!(
            report
                .message
                .to_string()
                .starts_with("One of these is wrong, and the figure can't tell which: "),
            "{}",
            report.message
        );
        for line in ["A-C", "B-D"] {
            assert!(
                report.message.to_string().contains(line),
                "{}",
                report.message
            );
        }
        assert_eq!(result.status, Status::Check);
        let said = format!(
            "{} If the tape reads the same again, it is the walk that is out",
            report.message
        );
        assert!(
            result
                .warnings
                .iter()
                .any(|w| w.to_string().starts_with(&said))
        );
    }
}

#[test]
fn a_point_that_is_not_there_is_told() {
    let walked = walked(Class::RtkFixed, 1, None);
    let result = measured(
        &walked.log,
        Job {
            tapes: vec![tape("A", "Q", 9.0)],
            ..Job::default()
        },
    );
    assert_eq!(result.status, Status::Check);
    assert!(
        result.warnings.iter().any(|w| w.code() == "no-such-point"),
        "{:?}",
        result.warnings
    );
}
