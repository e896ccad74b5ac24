//! An invented result, for the sheets' own tests. Its numbers belong together; the ground behind them does not exist.

// Random lawns are for the drawn sheets.
#![cfg_attr(not(feature = "sheets"), allow(dead_code))]

use crate::cause::Cause;
use crate::fault::Fault;
use crate::lawn::Kind;
use crate::left_out::LeftOut;
use crate::next_step::NextStep;
use crate::notice::{Course, Notice};
use crate::read::{Dropped, LogFile, LogKind};
use crate::survey::Measured;
use crate::survey::checked::{By, Check, Checked, ErrorKind, Unit, Unseen, Would};
use crate::survey::measured::{
    Area, Band, DeductionFacts, Drawing, Identity, LawnArea, LogFacts, PlaneFacts, Point, Receiver,
    Remedy, RingFacts, SigmaSource, Status, TapeFacts, Term,
};

fn unseen(error: ErrorKind, area_m2: Option<f64>) -> Unseen {
    Unseen {
        error,
        area_m2,
        by_m: None,
        walk: String::new(),
    }
}

fn log(name: &str, fixes: u64) -> LogFile {
    LogFile {
        name: name.into(),
        sha256: "0".repeat(64),
        kind: LogKind::Nmea,
        lines: 3 * fixes,
        fixes,
        damaged: 0,
        first_time: "2026-05-14T09:30:00.000Z".into(),
        last_time: "2026-05-14T09:36:12.000Z".into(),
    }
}

fn bed(label: &str, radius_m: f64) -> DeductionFacts {
    let area_m2 = std::f64::consts::PI * radius_m * radius_m;
    DeductionFacts {
        label: label.into(),
        kind: Kind::Bed,
        lat: Some(45.00006749),
        lon: Some(-29.99983259),
        radius_m: Some(radius_m),
        area_m2,
        deducted_m2: area_m2,
    }
}

/// A lawn one could order turf on.
pub fn garden() -> Measured {
    let patio = DeductionFacts {
        label: "patio".into(),
        kind: Kind::Walked,
        lat: Some(45.0),
        lon: Some(-30.0),
        radius_m: None,
        area_m2: 11.52,
        deducted_m2: 11.1183,
    };
    let deductions = vec![patio, bed("birch", 0.35), bed("cherry", 0.45)];
    let deductions_m2: f64 = deductions.iter().map(|d| d.deducted_m2).sum();
    let gross_m2 = 127.4962;
    let net_m2 = gross_m2 - deductions_m2;
    let terms = vec![
        Term {
            term: Cause::Position,
            sigma_m2: 0.21,
            correction_m2: 0.0,
        },
        Term {
            term: Cause::Pole,
            sigma_m2: 0.012,
            correction_m2: 0.0,
        },
        Term {
            term: Cause::Edge,
            sigma_m2: 0.89,
            correction_m2: 0.0,
        },
        Term {
            term: Cause::Beds,
            sigma_m2: 0.07,
            correction_m2: 0.0,
        },
    ];
    let sigma_m2 = terms
        .iter()
        .map(|t| t.sigma_m2 * t.sigma_m2)
        .sum::<f64>()
        .sqrt();
    let band_m2 = 1.97 * sigma_m2;
    Measured {
        schema: "boundwalk/result/1",
        status: Status::Ok,
        survey: Identity {
            name: "garden".into(),
            job: Some("DEMO-1".into()),
            site: Some("An invented garden".into()),
            customer: None,
            date: Some("2026-05-14".into()),
        },
        area: Some(Area {
            gross_m2,
            deductions_m2,
            net_m2,
            sigma_m2,
            confidence: 0.95,
            coverage_factor: 1.97,
            band_m2,
            low_m2: net_m2 - band_m2,
            high_m2: net_m2 + band_m2,
            slope_m2: None,
            slope_sigma_m2: None,
            slope_band_m2: None,
        }),
        lawns: vec![LawnArea {
            label: "lawn".into(),
            net_m2,
            sigma_m2,
        }],
        slope: None,
        perimeter_m: Some(44.61),
        perimeter_sigma_m: Some(0.13),
        band: Some(Band {
            receiver: Receiver::RtkFixed,
            sigma_m: 0.014,
            sigma_source: SigmaSource::Gst,
            correlation_s: None,
            worst_case_m2: 2.1,
            terms,
        }),
        next: Vec::new(),
        points: ["A", "B", "C", "birch"]
            .iter()
            .zip([(0.0, 0.0), (0.0, 11.5), (9.2, 11.4), (4.0, 6.0)])
            .map(|(name, (x_m, y_m))| Point {
                name: (*name).into(),
                lat: Some(45.0 + y_m / 111_000.0),
                lon: Some(-30.0 + x_m / 78_800.0),
                x_m,
                y_m,
                sigma_m: 0.014,
            })
            .collect(),
        ring: Some(RingFacts {
            fixes: 322,
            laps: 2,
            closing_gap_m: 0.03,
            corners: 3,
            drawn: false,
        }),
        deductions,
        order: None,
        checked: Checked {
            by: vec![Check {
                check: By::Laps,
                count: 2,
                walks: 1,
                apart_s: Some(83.0),
                differ: Some(0.31),
                allowed: Some(4.1),
                unit: Unit::M2,
            }],
            unseen: vec![
                unseen(ErrorKind::Drift, Some(2.13)),
                unseen(ErrorKind::Shift, Some(2.21)),
                unseen(ErrorKind::Corner, Some(2.21)),
            ],
            would: Vec::new(),
        },
        log: LogFacts {
            files: vec![log("lawn.nmea", 361), log("patio.nmea", 96)],
            dropped: vec![Dropped {
                reason: LeftOut::LeadIn,
                count: 12,
                first: Vec::new(),
            }],
        },
        plane: Some(PlaneFacts {
            lat: Some(45.0),
            lon: Some(-30.0),
            projection: "+proj=laea +lat_0=45 +lon_0=-30 +ellps=WGS84".into(),
            height_m: 60.0,
            height_factor: 1.0 + 60.0 / 6_378_137.0,
        }),
        grid: None,
        taped: TapeFacts::default(),
        warnings: vec![Notice::SpikesRemoved {
            walk: Course::default(),
            fixes: 3,
        }],
        settings: Vec::new(),
        paperwork: Default::default(),
        drawing: Drawing::default(),
        on: None,
    }
}

/// A lawn measured with a phone: a number, but a wide one, and something to look at.
pub fn phone() -> Measured {
    let mut measured = garden();
    measured.status = Status::Check;
    if let Some(area) = &mut measured.area {
        area.sigma_m2 = 21.3;
        area.coverage_factor = 2.1;
        area.band_m2 = 44.7;
        area.low_m2 = area.net_m2 - area.band_m2;
        area.high_m2 = area.net_m2 + area.band_m2;
    }
    measured.checked = Checked {
        by: vec![Check {
            check: By::Closing,
            count: 1,
            walks: 1,
            apart_s: Some(171.0),
            differ: Some(2.4),
            allowed: Some(10.25),
            unit: Unit::M,
        }],
        unseen: vec![
            unseen(ErrorKind::Drift, None),
            unseen(ErrorKind::Shift, None),
            unseen(ErrorKind::Corner, None),
        ],
        would: vec![Would {
            remedy: NextStep::SecondLap,
            area_m2: 96.0,
        }],
    };
    if let Some(band) = &mut measured.band {
        band.receiver = Receiver::Autonomous;
        band.sigma_m = 2.0;
        band.sigma_source = SigmaSource::Assumed;
        band.worst_case_m2 = 61.0;
        if let Some(position) = band.terms.first_mut() {
            position.sigma_m2 = 21.2;
        }
    }
    measured.next = vec![
        Remedy {
            remedy: NextStep::OneMoreLap,
            band_m2: 33.0,
        },
        Remedy {
            remedy: NextStep::TakeRtk,
            band_m2: 1.6,
        },
    ];
    for place in ["north", "south", "east", "west", "far"] {
        measured.warnings.push(Notice::PositionJumps {
            walk: Course {
                label: place.to_owned(),
                drawn: false,
            },
            times: 1,
            by_m: 3.1,
        });
    }
    measured
}

/// A log that gives no honest number.
pub fn withheld() -> Measured {
    let mut measured = garden();
    measured.status = Status::Withheld;
    measured.area = None;
    measured.checked = Checked::default();
    measured.band = None;
    measured.ring = None;
    measured.perimeter_m = None;
    measured.perimeter_sigma_m = None;
    measured.lawns.clear();
    measured.deductions.clear();
    measured.points.clear();
    measured.warnings = vec![Notice::Refused(
        Fault::withheld(
            "open-walk",
            "The walk does not close: its end is 14.2 m from its start, on a walk of 41 m.",
            "Walk on until you are back where you began.",
        )
        .in_file("lawn.nmea"),
    )];
    measured
}

/// A lawn of any shape and size, with beds, a patio, a band, a walk, corners, rows and a baseline, all drawn.
pub fn random_lawn(chance: &mut crate::trial::chance::Chance, with_rows: bool) -> Measured {
    use crate::trial::shape::{Outline, Shape};
    let m2 = chance.log_between(15.0, if with_rows { 300.0 } else { 25_000.0 });
    let shape = Shape::ALL[chance.below(Shape::ALL.len())];
    let outline = Outline::random(shape, m2, chance);
    let size = m2.sqrt();
    let ring = outline.polygon((size / 60.0).max(0.1));
    let mut corners: Vec<geo::Coord<f64>> = outline
        .corners_m
        .iter()
        .map(|along| outline.point(*along))
        .collect();
    if corners.len() < 2 && chance.happens(0.5) {
        // A round lawn with places where the surveyor stopped.
        corners = (0..2 + chance.below(7))
            .map(|k| outline.point(outline.perimeter_m * k as f64 / 9.0))
            .collect();
    }
    let beds = (0..chance.below(7))
        .map(|k| {
            let at = outline.point(chance.between(0.0, outline.perimeter_m));
            let part = chance.between(0.1, 0.9);
            let name = [
                "birch",
                "yew",
                "Ιτιά",
                "Яблоня",
                "old apple tree by the shed",
                "x",
                "holly",
            ][k];
            (
                name.to_owned(),
                geo::Coord {
                    x: part * at.x,
                    y: part * at.y,
                },
                chance.between(0.15, 0.03 * size + 0.2),
            )
        })
        .collect::<Vec<_>>();
    let patio = chance.happens(0.5).then(|| {
        let (w, h) = (
            chance.between(0.1, 0.4) * size,
            chance.between(0.1, 0.3) * size,
        );
        let turn = chance.between(0.0, 3.0);
        [(-w, -h), (w, -h), (w, h), (-w, h)]
            .map(|(x, y)| geo::Coord {
                x: 0.5 * (x * turn.cos() - y * turn.sin()),
                y: 0.5 * (x * turn.sin() + y * turn.cos()),
            })
            .to_vec()
    });
    let part = chance.log_between(0.004, 0.25);
    let walk = ring
        .iter()
        .map(|c| geo::Coord {
            x: c.x + 0.02 * chance.normal(),
            y: c.y + 0.02 * chance.normal(),
        })
        .collect();
    drawn(ring, &corners, &beds, patio, part, walk, with_rows)
}

/// A whole result about this ring (anticlockwise); `part` is the band's part of the net area.
pub fn drawn(
    ring: Vec<geo::Coord<f64>>,
    corners: &[geo::Coord<f64>],
    beds: &[(String, geo::Coord<f64>, f64)],
    patio: Option<Vec<geo::Coord<f64>>>,
    part: f64,
    walk: Vec<geo::Coord<f64>>,
    with_rows: bool,
) -> Measured {
    use crate::lawn::{Outer, Shape, Taking, drawn::of_area, lay};
    use crate::order::{Take, plan};
    use crate::survey::measured::DrawnSide;
    use crate::tape::setout::{self, Side};
    use crate::units::letter;
    let mut measured = garden();
    let mut takings: Vec<Taking> = patio
        .into_iter()
        .map(|ring| Taking {
            label: "patio".into(),
            shape: Shape::Walked(ring),
        })
        .collect();
    takings.extend(beds.iter().map(|(label, centre, radius_m)| Taking {
        label: label.clone(),
        shape: Shape::Bed {
            centre: *centre,
            radius_m: *radius_m,
        },
    }));
    let outer = Outer {
        label: "lawn".into(),
        ring: ring.clone(),
    };
    let laid = lay(&[outer], &takings).expect("a lawn");
    let gross_m2: f64 = laid.lawns.iter().map(|l| l.gross_m2).sum();
    let net_m2: f64 = laid.lawns.iter().map(|l| l.net_m2).sum();
    let band_m2 = part * net_m2;
    measured.deductions = laid
        .deductions
        .iter()
        .map(|d| DeductionFacts {
            label: d.label.clone(),
            kind: d.kind,
            lat: Some(45.0),
            lon: Some(-30.0),
            radius_m: d.radius_m,
            area_m2: d.area_m2,
            deducted_m2: d.deducted_m2,
        })
        .collect();
    measured.area = Some(Area {
        gross_m2,
        deductions_m2: gross_m2 - net_m2,
        net_m2,
        sigma_m2: band_m2 / 2.0,
        confidence: 0.95,
        coverage_factor: 2.0,
        band_m2,
        low_m2: (net_m2 - band_m2).max(0.0),
        high_m2: net_m2 + band_m2,
        slope_m2: None,
        slope_sigma_m2: None,
        slope_band_m2: None,
    });
    // Clockwise from the first.
    let mut clockwise: Vec<geo::Coord<f64>> = corners.to_vec();
    clockwise.reverse();
    measured.points = clockwise
        .iter()
        .enumerate()
        .map(|(k, at)| Point {
            name: letter(k),
            lat: Some(45.0 + at.y / 111_000.0),
            lon: Some(-30.0 + at.x / 78_800.0),
            x_m: at.x,
            y_m: at.y,
            sigma_m: 0.02,
        })
        .collect();
    let mut backwards = ring.clone();
    backwards.reverse();
    let nearest = |at: geo::Coord<f64>| {
        (0..backwards.len())
            .min_by(|a, b| {
                let far = |i: usize| (backwards[i].x - at.x).hypot(backwards[i].y - at.y);
                far(*a).total_cmp(&far(*b))
            })
            .unwrap_or(0)
    };
    let mut sides = Vec::new();
    if clockwise.len() >= 2 {
        for k in 0..clockwise.len() {
            let next = (k + 1) % clockwise.len();
            let (from, to) = (nearest(clockwise[k]), nearest(clockwise[next]));
            let n = backwards.len();
            let steps = (to + n - from - 1) % n + 1;
            let mut points: Vec<_> = (0..=steps).map(|s| backwards[(from + s) % n]).collect();
            points[0] = clockwise[k];
            if let Some(last) = points.last_mut() {
                *last = clockwise[next];
            }
            sides.push(Side {
                from: k,
                to: next,
                points,
                tolerance_m: 0.05,
            });
        }
    }
    let names: Vec<String> = measured.points.iter().map(|p| p.name.clone()).collect();
    measured.drawing = Drawing {
        corners: Vec::new(),
        sides: sides
            .iter()
            .map(|side| DrawnSide {
                from: names[side.from].clone(),
                to: names[side.to].clone(),
                length_m: side
                    .points
                    .windows(2)
                    .map(|w| crate::ring::distance_m(w[0], w[1]))
                    .sum(),
                straight: side.is_straight(),
                points: side.points.clone(),
            })
            .collect(),
        low: of_area(&net(&laid.lawns), net_m2 - band_m2).ok(),
        high: of_area(&net(&laid.lawns), net_m2 + band_m2).ok(),
        lawns: laid.lawns,
        deductions: laid.deductions,
        walks: vec![walk],
    };
    let places: Vec<setout::Place> = beds
        .iter()
        .map(|(name, at, radius_m)| setout::Place {
            name: name.clone(),
            what: setout::What::BedCentre,
            at: *at,
            radius_m: Some(*radius_m),
        })
        .collect();
    measured.taped.set_out = setout::set_out(&names, &clockwise, &sides, &places, 1.0);
    measured.on = crate::plane::Plane::new(45.0, -30.0, 60.0).ok();
    if !with_rows {
        return measured;
    }
    measured.order = plan(
        &Take {
            net_m2,
            sigma_m2: band_m2 / 2.0,
            slope: None,
            taped: &[],
            lawns: &measured.drawing.lawns,
            deductions: &measured.drawing.deductions,
            perimeter_m: None,
            perimeter_sigma_m: 0.0,
        },
        &settings(),
        None,
    )
    .ok();
    measured
}

/// Turf only.
fn settings() -> crate::job::order::OrderSettings {
    crate::job::order::OrderSettings {
        turf: Some(crate::job::order::PROFILES[0].turf()),
        ..Default::default()
    }
}

fn net(lawns: &[crate::lawn::Lawn]) -> geo::MultiPolygon<f64> {
    geo::MultiPolygon(lawns.iter().flat_map(|lawn| lawn.net.0.clone()).collect())
}
