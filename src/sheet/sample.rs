//! An invented result, for the sheets' own tests. Its numbers belong together; the ground behind them does not exist.

use crate::fault::Warning;
use crate::lawn::Kind;
use crate::read::{Dropped, LogFile, LogKind};
use crate::survey::Measured;
use crate::survey::measured::{
    Area, Band, DeductionFacts, Drawing, Identity, LawnArea, LogFacts, PlaneFacts, Point, Receiver,
    Remedy, RingFacts, SigmaSource, Status, TapeFacts, Term,
};

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
        lat: 45.00006749,
        lon: -29.99983259,
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
        lat: 45.0,
        lon: -30.0,
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
            term: "position",
            sigma_m2: 0.21,
            correction_m2: 0.0,
        },
        Term {
            term: "pole",
            sigma_m2: 0.012,
            correction_m2: 0.0,
        },
        Term {
            term: "edge",
            sigma_m2: 0.89,
            correction_m2: 0.0,
        },
        Term {
            term: "beds",
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
        }),
        lawns: vec![LawnArea {
            label: "lawn".into(),
            net_m2,
            sigma_m2,
        }],
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
                lat: 45.0 + y_m / 111_000.0,
                lon: -30.0 + x_m / 78_800.0,
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
        }),
        deductions,
        order: None,
        log: LogFacts {
            files: vec![log("lawn.nmea", 361), log("patio.nmea", 96)],
            dropped: vec![Dropped {
                reason: "before the walk began".into(),
                count: 12,
                first: Vec::new(),
            }],
        },
        plane: Some(PlaneFacts {
            lat: 45.0,
            lon: -30.0,
            projection: "+proj=laea +lat_0=45 +lon_0=-30 +ellps=WGS84".into(),
            height_m: 60.0,
            height_factor: 1.0 + 60.0 / 6_378_137.0,
        }),
        grid: None,
        taped: TapeFacts::default(),
        warnings: vec![Warning::note(
            "lead-in",
            "The walk up to the edge and away from it was left out.",
        )],
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
            remedy: "one more lap".into(),
            band_m2: 33.0,
        },
        Remedy {
            remedy: "an RTK receiver with a fixed solution".into(),
            band_m2: 1.6,
        },
    ];
    for place in ["north", "south", "east", "west", "far"] {
        measured.warnings.push(Warning::doubt(
            "position-jumps",
            format!("The position jumps along the {place} side by 3.1 m, further than walking and noise explain; walk it again."),
        ));
    }
    measured
}

/// A log that gives no honest number.
pub fn withheld() -> Measured {
    let mut measured = garden();
    measured.status = Status::Withheld;
    measured.area = None;
    measured.band = None;
    measured.ring = None;
    measured.perimeter_m = None;
    measured.perimeter_sigma_m = None;
    measured.lawns.clear();
    measured.deductions.clear();
    measured.points.clear();
    measured.warnings = vec![Warning::doubt(
        "not-closed",
        "lawn.nmea: The walk does not close: its end is 14.2 m from its start, on a walk of 41 m. Walk on until you are \
         back where you began.",
    )];
    measured
}
