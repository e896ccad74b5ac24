//! How many pieces of turf, why so many, and how sure that is.

use super::chance;
use super::perimeter::{self, Strip};
use super::rows::{self, Rows};
use super::rule::Rule;
use super::slope::Slope;
use super::{Take, whole_up};
use crate::fault::Fault;
use crate::job::order::{Method, Turf as Settings};
use crate::notice::Notice;
use geo::{Area, BoundingRect};
use serde::Serialize;

/// `order.turf` of the result.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Turf {
    pub noun: String,
    /// What is asked of the grower.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<String>,
    pub piece_width_m: f64,
    pub piece_length_m: f64,
    pub method: &'static str,
    /// Enough for the cover area: laid out or by percentage, scaled for the area's error and for undersized pieces.
    pub pieces: u64,
    /// The same, filled up to whole pallets where part pallets are not sold: what is bought, and what every sheet calls ordered.
    pub ordered_pieces: u64,
    /// What the lawn as measured takes, cutting included: what is laid, and what labour is counted for.
    pub laid_pieces: u64,
    pub pallets: u64,
    pub pieces_per_pallet: u64,
    pub part_pallets: bool,
    /// Of what is ordered.
    pub kg: f64,
    pub kg_per_piece: f64,
    pub pallet_kg: f64,
    pub kg_per_m2: f64,
    /// Area times a rule of thumb over the area of a piece.
    pub by_percent: ByPercent,
    /// Where `ordered_pieces` go beyond the lawn.
    pub waste: Waste,
    pub chance_short: ChanceShort,
    pub size_tolerance_percent: f64,
    /// Of the method "percent".
    pub cutting_percent: Option<f64>,
    pub rows: Option<Rows>,
    /// Of the method "perimeter".
    pub strip: Option<Strip>,
}

/// Pieces by area alone, with so much percent added.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ByPercent {
    #[serde(rename = "0")]
    pub by_0: u64,
    #[serde(rename = "5")]
    pub by_5: u64,
    #[serde(rename = "10")]
    pub by_10: u64,
}

/// Square metres of turf ordered beyond the measured lawn, by reason, and in all as percent of the lawn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Waste {
    /// Trimmed off at edges and left over as offcuts.
    pub cutting_m2: f64,
    /// In case the lawn is larger than measured.
    pub error_m2: f64,
    /// In case pieces are smaller than their size.
    pub tolerance_m2: f64,
    /// To whole pieces.
    pub rounding_m2: f64,
    /// To whole pallets.
    pub pallets_m2: f64,
    pub percent: f64,
}

/// The chance that so many pieces do not cover the true lawn, given its error and what cutting takes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ChanceShort {
    pub ordered: f64,
    pub one_pallet_less: f64,
    pub by_5_percent: f64,
    pub by_10_percent: f64,
}

/// What turf must lie on: on a slope, the sloping area.
pub(super) struct Ground {
    pub m2: f64,
    pub sigma_m2: f64,
    /// How much more is covered for its error, 1 or more.
    pub cover: f64,
}

pub(super) fn plan(
    take: &Take<'_>,
    settings: &Settings,
    ground: &Ground,
    warnings: &mut Vec<Notice>,
) -> Result<Turf, Fault> {
    let (lawn_m2, cover) = (ground.m2, ground.cover);
    let rule = Rule {
        length_m: settings.piece_length_m,
        min_piece_m: settings.min_piece_m,
        stagger_m: settings.stagger_m,
    };
    check(settings)?;
    let piece_m2 = settings.piece_width_m * settings.piece_length_m;
    let stretch = take.slope.as_ref().and_then(Slope::stretch);

    let mut strip = None;
    let lay_out = settings.method != Method::Percent && can_be_laid(take, settings, warnings);
    let rows = match settings.method {
        _ if !lay_out => None,
        Method::Percent => None,
        Method::Rows | Method::Perimeter => {
            let lawns: Vec<_> = if settings.method == Method::Perimeter {
                let mut round = Strip::default();
                let insides = take
                    .lawns
                    .iter()
                    .map(|lawn| {
                        let width_m = settings.piece_width_m;
                        perimeter::lay(
                            &mut round,
                            &lawn.label,
                            &lawn.outer,
                            width_m,
                            &rule,
                            stretch,
                        );
                        let left = perimeter::inside(&lawn.net, &lawn.outer, width_m, stretch);
                        (lawn, left)
                    })
                    .collect();
                strip = Some(round);
                insides
            } else {
                take.lawns
                    .iter()
                    .map(|lawn| (lawn, lawn.net.clone()))
                    .collect()
            };
            rows::lay(
                &lawns,
                settings.piece_width_m,
                &rule,
                settings.direction_deg,
                stretch,
            )
        }
    };
    let laid = rows.as_ref().map_or(0, |r| r.pieces) + strip.as_ref().map_or(0, |s| s.pieces);

    // Pieces the measured lawn itself takes, cutting included.
    let (method, needed, cutting_percent) = if laid > 0 {
        let plan_m2: f64 = take.lawns.iter().map(|l| l.net.unsigned_area()).sum();
        let scale = lawn_drawn_small(take.net_m2, plan_m2, warnings)
            // A slope whose fall is not known: the same rows, each of them longer.
            * if stretch.is_none() { lawn_m2 / take.net_m2 } else { 1.0 };
        let method = if strip.is_some() { "perimeter" } else { "rows" };
        (method, laid as f64 * scale, None)
    } else {
        if lay_out {
            warnings.push(Notice::NoPlan {
                cutting_percent: settings.cutting_percent,
            });
        }
        let factor = 1.0 + settings.cutting_percent / 100.0;
        (
            "percent",
            lawn_m2 * factor / piece_m2,
            Some(settings.cutting_percent),
        )
    };
    let size = 1.0 - settings.size_tolerance_percent / 100.0;
    let exact = needed * cover / size;
    let pieces = whole_up(exact);
    let per_pallet = u64::from(settings.pieces_per_pallet.max(1));
    let pallets = pieces.div_ceil(per_pallet);
    let ordered = if settings.part_pallets {
        pieces
    } else {
        pallets * per_pallet
    };

    let short = |pieces: u64| {
        let covered_m2 = lawn_m2 * pieces as f64 * size / needed;
        chance::short(covered_m2, lawn_m2, ground.sigma_m2)
    };
    let by = |percent: f64| whole_up(lawn_m2 * (1.0 + percent / 100.0) / piece_m2);
    let by_percent = ByPercent {
        by_0: by(0.0),
        by_5: by(5.0),
        by_10: by(10.0),
    };
    if let Some(rows) = &rows
        && rows.close_joints > 0
    {
        warnings.push(Notice::CloseJoints {
            joints: rows.close_joints,
            stagger_m: settings.stagger_m,
        });
    }
    Ok(Turf {
        noun: settings.noun.clone(),
        kind: settings.kind.clone(),
        piece_width_m: settings.piece_width_m,
        piece_length_m: settings.piece_length_m,
        method,
        pieces,
        ordered_pieces: ordered,
        laid_pieces: whole_up(needed),
        pallets,
        pieces_per_pallet: per_pallet,
        part_pallets: settings.part_pallets,
        kg: ordered as f64 * piece_m2 * settings.kg_per_m2,
        kg_per_piece: piece_m2 * settings.kg_per_m2,
        pallet_kg: per_pallet as f64 * piece_m2 * settings.kg_per_m2,
        kg_per_m2: settings.kg_per_m2,
        by_percent,
        waste: Waste {
            cutting_m2: needed * piece_m2 - lawn_m2,
            error_m2: needed * (cover - 1.0) * piece_m2,
            tolerance_m2: (exact - needed * cover) * piece_m2,
            rounding_m2: (pieces as f64 - exact) * piece_m2,
            pallets_m2: (ordered - pieces) as f64 * piece_m2,
            percent: 100.0 * (ordered as f64 * piece_m2 - lawn_m2) / lawn_m2,
        },
        chance_short: ChanceShort {
            ordered: short(ordered),
            one_pallet_less: short(ordered.saturating_sub(per_pallet)),
            by_5_percent: short(by_percent.by_5),
            by_10_percent: short(by_percent.by_10),
        },
        size_tolerance_percent: settings.size_tolerance_percent,
        cutting_percent,
        rows,
        strip,
    })
}

/// More pieces than this are not laid out one by one: ten hectares in pieces of 1 m² make a document of ten megabytes.
const MOST_PIECES: f64 = 100_000.0;

/// Whether rows on this lawn make a list anyone could use; if not, says so.
fn can_be_laid(take: &Take<'_>, settings: &Settings, warnings: &mut Vec<Notice>) -> bool {
    let piece_m2 = settings.piece_width_m * settings.piece_length_m;
    let drawn_m2: f64 = take.lawns.iter().map(|l| l.net.unsigned_area()).sum();
    let across_m = take
        .lawns
        .iter()
        .filter_map(|l| l.net.bounding_rect())
        .map(|bounds| bounds.width().hypot(bounds.height()))
        .fold(0.0, f64::max);
    let fits =
        drawn_m2 / piece_m2 <= MOST_PIECES && across_m / settings.piece_width_m <= MOST_PIECES;
    if !fits {
        warnings.push(Notice::TooLargeForRows {
            most_pieces: MOST_PIECES,
            cutting_percent: settings.cutting_percent,
        });
    }
    fits
}

/// A drawn lawn smaller than the measured one by more than this part would take too few rows.
const DRAWN_SMALL: f64 = 0.005;

/// What rows on the drawn lawn must be scaled by to cover the measured one.
fn lawn_drawn_small(net_m2: f64, drawn_m2: f64, warnings: &mut Vec<Notice>) -> f64 {
    if drawn_m2 <= 0.0 || drawn_m2 >= net_m2 * (1.0 - DRAWN_SMALL) {
        return 1.0;
    }
    warnings.push(Notice::DrawnSmall { drawn_m2, net_m2 });
    net_m2 / drawn_m2
}

fn check(settings: &Settings) -> Result<(), Fault> {
    let positive = [
        ("piece_width_m", settings.piece_width_m),
        ("piece_length_m", settings.piece_length_m),
    ];
    for (key, value) in positive {
        if !(value.is_finite() && value > 0.0) {
            return Err(Fault::usage(
                "order-turf",
                format!("{key} is {value}; a piece of turf has a size."),
                "Give it in metres, above 0.",
            ));
        }
    }
    let half = 0.5 * settings.piece_length_m + 1e-9;
    for (key, value) in [
        ("min_piece_m", settings.min_piece_m),
        ("stagger_m", settings.stagger_m),
    ] {
        if !(0.0..=half).contains(&value) {
            return Err(Fault::usage(
                "order-turf",
                format!("{key} is {value} m: no bond can be laid so."),
                "It is 0 to half the length of a piece.",
            ));
        }
    }
    if !(0.0..100.0).contains(&settings.size_tolerance_percent)
        || !settings.cutting_percent.is_finite()
        || settings.direction_deg.is_some_and(|d| !d.is_finite())
    {
        return Err(Fault::usage(
            "order-turf",
            "a percentage or the direction in [order.turf] is not a usable number.",
            "Check size_tolerance_percent, cutting_percent and direction_deg.",
        ));
    }
    Ok(())
}
