//! `[order]` of the job sheet: what is ordered for the lawn (turf, soil, edging, seed and so on), and by which rules it is worked out.
//!
//! Every default is a figure of the trade that a sheet may overrule. Where the trade's own sources disagree, the default is in the middle. The
//! result says which figure was used.

mod profile;

pub use profile::{PROFILES, Profile};

use super::keys::{Keys, Limits};
use crate::process::hand::SLOPE_SIGMA_PERCENT;

/// Everything `[order]` says. A part that is `None` is not ordered.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderSettings {
    /// The chance with which the order is enough, given the error of the area, 0.5 to 0.9999.
    pub chance_enough: f64,
    /// How steeply the lawn falls as a whole, metres in 100 m along the plan. Where it is `None`, the lawn is level, or as its measured
    /// heights say.
    pub slope_percent: Option<f64>,
    /// Its standard error, in the same unit.
    pub slope_sigma_percent: f64,
    /// Which way it falls, degrees clockwise from grid north.
    pub fall_deg: Option<f64>,
    /// `[order.turf]`.
    pub turf: Option<Turf>,
    /// `[order.soil]`.
    pub soil: Option<Soil>,
    /// `[order.edging]`.
    pub edging: Option<Edging>,
    /// `[order.seed]`.
    pub seed: Option<Seed>,
    /// `[order.fertiliser]`.
    pub fertiliser: Option<Spread>,
    /// First watering, millimetres (litres per square metre).
    pub water_mm: Option<f64>,
    /// `[order.old_turf]`.
    pub old_turf: Option<OldTurf>,
    /// `[order.mulch]`.
    pub mulch: Option<Mulch>,
    /// `[order.crew]`.
    pub crew: Option<Crew>,
    /// `[delivery]`, which stands beside `[order]`.
    pub delivery: Option<Delivery>,
}

/// When turf is to come, and what one vehicle brings at once.
#[derive(Debug, Clone, PartialEq)]
pub struct Delivery {
    /// The day it is wanted.
    pub date: Option<jiff::civil::Date>,
    /// Between what hours, in words.
    pub hours: Option<String>,
    /// What the vehicle may carry, tonnes.
    pub vehicle_t: Option<f64>,
    /// How many pallets it takes.
    pub pallets_per_drop: Option<u32>,
}

/// How turf is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Laid out row by row.
    Rows,
    /// One strip is laid round the edge first, and rows inside it.
    Perimeter,
    /// The area and a percentage of it, without laying it out.
    Percent,
}

/// Turf, and how it is laid.
#[derive(Debug, Clone, PartialEq)]
pub struct Turf {
    /// What a piece is called, such as "roll".
    pub noun: String,
    /// What is asked of the grower, in words.
    pub kind: Option<String>,
    /// Width of a piece, across the row, metres.
    pub piece_width_m: f64,
    /// Length of a piece, along the row, metres.
    pub piece_length_m: f64,
    /// Weight of moist turf, kilograms a square metre.
    pub kg_per_m2: f64,
    /// How many pieces are on a full pallet.
    pub pieces_per_pallet: u32,
    /// Whether pallets that are not full are sold.
    pub part_pallets: bool,
    /// How pieces are counted.
    pub method: Method,
    /// What is added to the area for cutting, percent, where turf is counted by percent.
    pub cutting_percent: f64,
    /// How much smaller than its nominal size a delivered piece may be, percent of its area.
    pub size_tolerance_percent: f64,
    /// The shortest cut piece that is laid, metres.
    pub min_piece_m: f64,
    /// The least distance along the row between a joint and the joints of the row before, metres.
    pub stagger_m: f64,
    /// Bearing of the rows, degrees clockwise from grid north; `None` where the program chooses it.
    pub direction_deg: Option<f64>,
}

/// Soil below the turf.
#[derive(Debug, Clone, PartialEq)]
pub struct Soil {
    /// Its depth after settling, metres.
    pub depth_m: f64,
    /// Density of the loose soil as it is sold, tonnes per cubic metre.
    pub density_t_m3: f64,
    /// How much loose soil goes down as it settles, percent of its depth.
    pub settlement_percent: f64,
    /// Volume of loose soil in a bulk bag, cubic metres.
    pub bag_m3: f64,
    /// Loose loads are sold in steps of this, tonnes.
    pub round_t: f64,
}

/// Edging in pieces.
#[derive(Debug, Clone, PartialEq)]
pub struct Edging {
    /// Length of a piece, metres.
    pub piece_m: f64,
    /// By how much pieces overlap, metres.
    pub overlap_m: f64,
    /// "lawn" for the lawns' own edge, "beds" for beds and what was walked round, "paths", or the label of one of these.
    pub around: Vec<String>,
}

/// Grass seed, by the weight of live seed of the kind wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seed {
    /// Grams a square metre.
    pub g_per_m2: f64,
    /// Percent of the weight that is seed of the kind wanted, as printed on the bag; 100 where the rate already allows for it.
    pub purity_percent: f64,
    /// Percent of the seed that comes up, as printed on the bag; 100 where the rate already allows for it.
    pub germination_percent: f64,
}

/// Something spread by weight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Grams a square metre.
    pub g_per_m2: f64,
}

/// Old turf stripped and taken away.
#[derive(Debug, Clone, PartialEq)]
pub struct OldTurf {
    /// How deep it is stripped, metres.
    pub depth_m: f64,
    /// Density in the ground, tonnes per cubic metre.
    pub density_t_m3: f64,
    /// By how much its volume grows when it is lifted, percent.
    pub swell_percent: f64,
    /// What one skip holds, cubic metres.
    pub skip_m3: f64,
    /// What one skip may carry, tonnes.
    pub skip_t: f64,
}

/// Mulch on round beds, clear of the trunk.
#[derive(Debug, Clone, PartialEq)]
pub struct Mulch {
    /// Metres.
    pub depth_m: f64,
    /// Radius that is kept free round the trunk, metres.
    pub clear_radius_m: f64,
}

/// Who lays, and how long turf keeps.
#[derive(Debug, Clone, PartialEq)]
pub struct Crew {
    /// How fast the whole crew lays turf, square metres an hour.
    pub lay_m2_per_hour: f64,
    /// Hours worked a day.
    pub hours_per_day: f64,
    /// Hours from delivery within which turf must be laid.
    pub lay_within_h: f64,
}

impl Default for OrderSettings {
    fn default() -> OrderSettings {
        OrderSettings {
            chance_enough: 0.95,
            slope_percent: None,
            slope_sigma_percent: SLOPE_SIGMA_PERCENT,
            fall_deg: None,
            turf: Some(PROFILES[0].turf()),
            soil: None,
            edging: None,
            seed: None,
            fertiliser: None,
            water_mm: None,
            old_turf: None,
            mulch: None,
            crew: None,
            delivery: None,
        }
    }
}

/// Reads `[order]` and its tables. Without any of its tables the order is for turf.
pub(super) fn read(mut keys: Keys<'_>) -> OrderSettings {
    let chance_enough = keys.number_or("chance_enough", Limits::between(0.5, 0.9999), 0.95);
    // Turf is not laid on banks steeper than 1 in 1 without netting.
    let slope_percent = keys.number("slope_percent", Limits::percent(100.0));
    let slope_sigma_percent = keys.number_or(
        "slope_sigma_percent",
        Limits::NOT_NEGATIVE.up_to(50.0),
        SLOPE_SIGMA_PERCENT,
    );
    let fall_deg = keys.number("fall_deg", Limits::between(-360.0, 360.0));
    for key in ["fall_deg", "slope_sigma_percent"] {
        if keys.has(key) && !keys.has("slope_percent") {
            keys.fault(
                Some(key),
                format!("{key} is about a slope, but nothing says how steep it is."),
                "Add slope_percent.",
            );
        }
    }
    let mut order = OrderSettings {
        chance_enough,
        slope_percent,
        slope_sigma_percent,
        fall_deg,
        turf: keys.table("turf").map(turf),
        soil: keys.table("soil").map(soil),
        edging: keys.table("edging").and_then(edging),
        seed: keys.table("seed").map(seed),
        fertiliser: keys.table("fertiliser").map(|keys| spread(keys, 35.0)),
        water_mm: keys.table("water").map(|mut keys| {
            let mm = keys.number_or("mm", Limits::POSITIVE.up_to(100.0), 25.0);
            keys.done();
            mm
        }),
        old_turf: keys.table("old_turf").map(old_turf),
        mulch: keys.table("mulch").map(|mut keys| {
            let mulch = Mulch {
                depth_m: keys.length_m_or("depth_m", Limits::POSITIVE.up_to(0.5), 0.075),
                clear_radius_m: keys.length_m_or("clear_radius_m", Limits::NOT_NEGATIVE, 0.1),
            };
            keys.done();
            mulch
        }),
        crew: keys.table("crew").and_then(crew),
        delivery: None,
    };
    let asked = order.soil.is_some()
        || order.edging.is_some()
        || order.seed.is_some()
        || order.fertiliser.is_some()
        || order.water_mm.is_some()
        || order.old_turf.is_some()
        || order.mulch.is_some();
    if order.turf.is_none() && !keys.has("turf") && !asked {
        order.turf = Some(PROFILES[0].turf());
    }
    keys.done();
    order
}

fn turf(mut keys: Keys<'_>) -> Turf {
    let names: Vec<(&str, Profile)> = PROFILES.iter().map(|p| (p.name, *p)).collect();
    keys.default_is("size", format!("\"{}\"", PROFILES[0].name));
    let mut profile = keys.choice("size", &names).unwrap_or(PROFILES[0]);
    // The limits are those of the largest rolls, which are laid by machine.
    profile.width_m = keys.length_m_or("piece_width_m", Limits::between(0.1, 5.0), profile.width_m);
    profile.length_m = keys.length_m_or(
        "piece_length_m",
        Limits::between(0.2, 60.0),
        profile.length_m,
    );
    let plain = profile.turf();
    let turf = Turf {
        noun: keys.text_or("noun", profile.noun),
        kind: keys.text("kind"),
        kg_per_m2: keys.number_or("kg_per_m2", Limits::between(1.0, 200.0), profile.kg_per_m2),
        pieces_per_pallet: keys.integer_or(
            "pieces_per_pallet",
            1..=100_000,
            i64::from(profile.pieces_per_pallet),
        ) as u32,
        part_pallets: keys.flag_or("part_pallets", profile.part_pallets),
        method: {
            keys.default_is("method", "\"rows\"");
            keys.choice(
                "method",
                &[
                    ("rows", Method::Rows),
                    ("perimeter", Method::Perimeter),
                    ("percent", Method::Percent),
                ],
            )
            .unwrap_or(Method::Rows)
        },
        cutting_percent: keys.number_or("cutting_percent", Limits::percent(200.0), 10.0),
        size_tolerance_percent: keys.number_or(
            "size_tolerance_percent",
            Limits::NOT_NEGATIVE.up_to(30.0),
            0.0,
        ),
        min_piece_m: keys.length_m_or("min_piece_m", Limits::NOT_NEGATIVE, plain.min_piece_m),
        stagger_m: keys.length_m_or("stagger_m", Limits::NOT_NEGATIVE, plain.stagger_m),
        direction_deg: keys.number("direction_deg", Limits::between(-360.0, 360.0)),
        ..plain
    };
    bond(&turf, &mut keys);
    keys.done();
    turf
}

/// Records a fault where the bond (how joints of one row are kept away from those of the next, as in brickwork) cannot be laid: neither the
/// shortest piece nor the distance between joints may be more than half a piece.
fn bond(turf: &Turf, keys: &mut Keys<'_>) {
    for (key, value) in [
        ("min_piece_m", turf.min_piece_m),
        ("stagger_m", turf.stagger_m),
    ] {
        if value > 0.5 * turf.piece_length_m {
            keys.fault(
                keys.has(key).then_some(key),
                format!(
                    "{key} is {value} m, more than half a piece of {} m: no bond can be laid so.",
                    turf.piece_length_m
                ),
                "Half a piece is the most.",
            );
        }
    }
}

fn soil(mut keys: Keys<'_>) -> Soil {
    let soil = Soil {
        depth_m: keys.length_m_or("depth_m", Limits::POSITIVE.up_to(2.0), 0.1),
        density_t_m3: keys.number_or("density_t_m3", Limits::between(0.3, 3.0), 1.4),
        settlement_percent: keys.number_or("settlement_percent", Limits::percent(100.0), 20.0),
        bag_m3: keys.number_or("bag_m3", Limits::POSITIVE.up_to(10.0), 0.75),
        round_t: keys.number_or("round_t", Limits::POSITIVE.up_to(50.0), 0.5),
    };
    keys.done();
    soil
}

fn edging(mut keys: Keys<'_>) -> Option<Edging> {
    let piece_m = keys.length_m_or("piece_m", Limits::between(0.05, 100.0), 2.5);
    let overlap_m = keys.length_m_or("overlap_m", Limits::NOT_NEGATIVE, 0.0);
    if overlap_m >= piece_m {
        keys.fault(
            Some("overlap_m"),
            format!("overlap_m is {overlap_m} m, but a piece is only {piece_m} m long."),
            "The overlap is what each piece loses at a joint.",
        );
    }
    const USUAL: [&str; 3] = ["lawn", "beds", "paths"];
    keys.default_is("around", format!("{USUAL:?}"));
    let around = keys
        .texts("around")
        .unwrap_or_else(|| USUAL.map(str::to_owned).to_vec());
    let edging = Edging {
        piece_m,
        overlap_m,
        around,
    };
    keys.done();
    (overlap_m < piece_m).then_some(edging)
}

fn seed(mut keys: Keys<'_>) -> Seed {
    let seed = Seed {
        g_per_m2: keys.number_or("g_per_m2", SPREAD_G_PER_M2, 35.0),
        purity_percent: keys.number_or("purity_percent", Limits::between(1.0, 100.0), 100.0),
        germination_percent: keys.number_or(
            "germination_percent",
            Limits::between(1.0, 100.0),
            100.0,
        ),
    };
    keys.done();
    seed
}

/// What may be spread of seed or fertiliser, g/m². One page prints 5 g/m² of seed, and nobody sows 500, so that rates outside 1 to 200 are
/// slips of a unit.
const SPREAD_G_PER_M2: Limits = Limits::between(1.0, 200.0);

fn spread(mut keys: Keys<'_>, usual: f64) -> Spread {
    let g_per_m2 = keys.number_or("g_per_m2", SPREAD_G_PER_M2, usual);
    keys.done();
    Spread { g_per_m2 }
}

fn old_turf(mut keys: Keys<'_>) -> OldTurf {
    let old = OldTurf {
        depth_m: keys.length_m_or("depth_m", Limits::POSITIVE.up_to(0.5), 0.03),
        density_t_m3: keys.number_or("density_t_m3", Limits::between(0.5, 3.0), 1.5),
        swell_percent: keys.number_or("swell_percent", Limits::percent(200.0), 25.0),
        // A level 6 yd³ skip, which may carry 6 t.
        skip_m3: keys.number_or("skip_m3", Limits::POSITIVE.up_to(60.0), 4.59),
        skip_t: keys.number_or("skip_t", Limits::POSITIVE.up_to(60.0), 6.0),
    };
    keys.done();
    old
}

/// `[delivery]`.
pub(super) fn delivery(mut keys: Keys<'_>) -> Delivery {
    let delivery = Delivery {
        date: keys.date("date"),
        hours: keys.text("hours"),
        vehicle_t: keys.number("vehicle_t", Limits::POSITIVE.up_to(100.0)),
        pallets_per_drop: keys.integer("pallets_per_drop", 1..=1000).map(|n| n as u32),
    };
    keys.default_is("vehicle_t", "no limit");
    keys.default_is("pallets_per_drop", "no limit");
    keys.done();
    delivery
}

fn crew(mut keys: Keys<'_>) -> Option<Crew> {
    let rate = keys.number("lay_m2_per_hour", Limits::POSITIVE);
    let rate = keys.need(
        "lay_m2_per_hour",
        rate,
        "rates differ too much from crew to crew for a default",
    );
    let hours_per_day = keys.number_or("hours_per_day", Limits::POSITIVE.up_to(24.0), 8.0);
    let lay_within_h = keys.number_or("lay_within_h", Limits::POSITIVE.up_to(96.0), 24.0);
    keys.done();
    Some(Crew {
        lay_m2_per_hour: rate?,
        hours_per_day,
        lay_within_h,
    })
}
