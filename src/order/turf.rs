//! How many pieces of turf to order, why so many, and how sure that is. Where the lawn can be drawn, its rows are laid out piece by
//! piece; else the area and a percentage for cutting give the number. To that come the allowance for the area's error, for pieces
//! smaller than their stated size, and rounding to whole pieces and pallets; each is kept apart in [`Waste`].

use super::chance;
use super::perimeter::{self, Strip};
use super::rows::{self, Rows};
use super::rule::Rule;
use super::slope::Slope;
use super::{Ground, Take, whole_up};
use crate::fault::Fault;
use crate::job::order::{Method, Turf as Settings};
use crate::lawn::Lawn;
use crate::notice::Notice;
use geo::{Area, BoundingRect};
use serde::Serialize;

/// `order.turf` of the result.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Turf {
    pub noun: String,
    /// The kind of turf asked of the grower, in the job sheet's words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<String>,
    pub piece_width_m: f64,
    pub piece_length_m: f64,
    pub method: &'static str,
    /// Pieces enough for the cover area: laid out or by percentage, scaled for the area's error and for undersized pieces.
    pub pieces: u64,
    /// The same, filled up to whole pallets where part pallets are not sold. This is what is bought, and what every sheet calls ordered.
    pub ordered_pieces: u64,
    /// Pieces that the lawn as measured takes, cutting included. These are laid, and labour is counted for them.
    pub laid_pieces: u64,
    /// Pallets that the turf stands on as it comes; some are part-filled where less than a pallet comes at a time.
    pub pallets: u64,
    pub pieces_per_pallet: u64,
    pub part_pallets: bool,
    /// Weight of all that is ordered.
    pub kg: f64,
    pub kg_per_piece: f64,
    pub pallet_kg: f64,
    pub kg_per_m2: f64,
    /// For comparison: the area with a rule of thumb's percentage on it, over the area of a piece.
    pub by_percent: ByPercent,
    /// What makes `ordered_pieces` more than the lawn's area.
    pub waste: Waste,
    pub chance_short: ChanceShort,
    pub size_tolerance_percent: f64,
    /// The percentage for cutting, where the method is "percent".
    pub cutting_percent: Option<f64>,
    pub rows: Option<Rows>,
    /// The strip round the edge, where the method is "perimeter".
    pub strip: Option<Strip>,
}

/// Pieces by area alone, with 0, 5 and 10 percent added.
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
    /// Added in case the lawn is larger than measured.
    pub error_m2: f64,
    /// Added in case pieces are smaller than their stated size.
    pub tolerance_m2: f64,
    /// Added to come to whole pieces.
    pub rounding_m2: f64,
    /// Added to come to whole pallets.
    pub pallets_m2: f64,
    pub percent: f64,
}

/// The chance, 0 to 1, that a number of pieces does not cover the true lawn, given the area's error and what cutting takes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ChanceShort {
    pub ordered: f64,
    pub one_pallet_less: f64,
    pub by_5_percent: f64,
    pub by_10_percent: f64,
}

impl Turf {
    /// Whether it comes by less than a pallet at a time, on more pallets than it would fill.
    #[must_use]
    pub fn comes_in_parts(&self) -> bool {
        self.pallets > self.ordered_pieces.div_ceil(self.pieces_per_pallet)
    }
}

/// Plans the turf: laid out where the method asks for rows and the lawn can be laid, else by percentage. The warnings about it come back
/// beside it. A fault of kind `Usage` where a setting makes no sense.
pub(super) fn plan(
    take: &Take<'_>,
    settings: &Settings,
    ground: &Ground,
) -> Result<(Turf, Vec<Notice>), Fault> {
    check(settings)?;
    let layout = Layout::of(take, settings);
    let needed = Needed::of(take, settings, ground, &layout);
    let told = layout.doubts(take, settings).collect();
    let piece_m2 = settings.piece_width_m * settings.piece_length_m;
    let size = 1.0 - settings.size_tolerance_percent / 100.0;
    let exact = needed.pieces * ground.cover / size;
    let pieces = whole_up(exact);
    let per_pallet = u64::from(settings.pieces_per_pallet.max(1));
    let pallets = pieces.div_ceil(per_pallet);
    let ordered = if settings.part_pallets {
        pieces
    } else {
        pallets * per_pallet
    };
    let by_percent = ByPercent::of(ground.m2, piece_m2);
    // Cutting takes the same share of a slightly larger lawn, so pieces cover area in proportion.
    let short = |pieces: u64| {
        let covered_m2 = ground.m2 * pieces as f64 * size / needed.pieces;
        chance::short(covered_m2, ground.m2, ground.sigma_m2)
    };
    let turf = Turf {
        noun: settings.noun.clone(),
        kind: settings.kind.clone(),
        piece_width_m: settings.piece_width_m,
        piece_length_m: settings.piece_length_m,
        method: needed.method,
        pieces,
        ordered_pieces: ordered,
        laid_pieces: whole_up(needed.pieces),
        pallets,
        pieces_per_pallet: per_pallet,
        part_pallets: settings.part_pallets,
        kg: ordered as f64 * piece_m2 * settings.kg_per_m2,
        kg_per_piece: piece_m2 * settings.kg_per_m2,
        pallet_kg: per_pallet as f64 * piece_m2 * settings.kg_per_m2,
        kg_per_m2: settings.kg_per_m2,
        by_percent,
        waste: waste(&needed, ground, piece_m2, exact, pieces, ordered),
        chance_short: ChanceShort {
            ordered: short(ordered),
            one_pallet_less: short(one_pallet_less(ordered, per_pallet)),
            by_5_percent: short(by_percent.by_5),
            by_10_percent: short(by_percent.by_10),
        },
        size_tolerance_percent: settings.size_tolerance_percent,
        cutting_percent: needed.cutting_percent,
        rows: layout.rows,
        strip: layout.strip,
    };
    Ok((turf, told))
}

/// The pieces of an order without its last pallet, be that full or part-filled.
#[must_use]
pub fn one_pallet_less(ordered: u64, per_pallet: u64) -> u64 {
    ordered.saturating_sub(1) / per_pallet.max(1) * per_pallet
}

/// The pieces as they come to lie on the drawn lawns, as far as the method asks for that.
#[derive(Default)]
struct Layout {
    /// Whether laying out was tried at all.
    tried: bool,
    rows: Option<Rows>,
    /// The strip round the edge, where the method is "perimeter".
    strip: Option<Strip>,
}

impl Layout {
    fn of(take: &Take<'_>, settings: &Settings) -> Layout {
        if settings.method == Method::Percent || !can_be_laid(take, settings) {
            return Layout::default();
        }
        let width_m = settings.piece_width_m;
        let rule = Rule {
            length_m: settings.piece_length_m,
            min_piece_m: settings.min_piece_m,
            stagger_m: settings.stagger_m,
        };
        let stretch = take.slope.as_ref().and_then(Slope::stretch);
        let mut strip = (settings.method == Method::Perimeter).then(Strip::default);
        let for_rows = |lawn: &Lawn| match &mut strip {
            Some(strip) => {
                perimeter::lay(strip, &lawn.label, &lawn.outer, width_m, &rule, stretch);
                perimeter::inside(&lawn.net, &lawn.outer, width_m, stretch)
            }
            None => lawn.net.clone(),
        };
        let insides: Vec<_> = take.lawns.iter().map(for_rows).collect();
        let lawns: Vec<_> = take.lawns.iter().zip(insides).collect();
        Layout {
            tried: true,
            rows: rows::lay(&lawns, width_m, &rule, settings.direction_deg, stretch),
            strip,
        }
    }

    /// Warnings: why there are no rows although they were asked for, or what is wrong with them.
    fn doubts(&self, take: &Take<'_>, settings: &Settings) -> impl Iterator<Item = Notice> {
        let cutting_percent = settings.cutting_percent;
        let (net_m2, drawn_m2) = (take.net_m2, drawn_m2(take));
        let laid = match (settings.method, self.tried, self.pieces()) {
            (Method::Percent, ..) => None,
            (_, false, _) => Some(Notice::TooLargeForRows {
                most_pieces: MOST_PIECES,
                cutting_percent,
            }),
            (_, true, 0) => Some(Notice::NoPlan { cutting_percent }),
            _ if is_drawn_small(net_m2, drawn_m2) => Some(Notice::DrawnSmall { drawn_m2, net_m2 }),
            _ => None,
        };
        let joints = self.rows.as_ref().map_or(0, |rows| rows.close_joints);
        let close = (joints > 0).then_some(Notice::CloseJoints {
            joints,
            stagger_m: settings.stagger_m,
        });
        laid.into_iter().chain(close)
    }

    fn pieces(&self) -> u64 {
        self.rows.as_ref().map_or(0, |r| r.pieces) + self.strip.as_ref().map_or(0, |s| s.pieces)
    }
}

/// What the measured lawn itself takes, cutting included, and how that was found.
struct Needed {
    method: &'static str,
    pieces: f64,
    /// The percentage for cutting, where the method is "percent".
    cutting_percent: Option<f64>,
}

impl Needed {
    fn of(take: &Take<'_>, settings: &Settings, ground: &Ground, layout: &Layout) -> Needed {
        let laid = layout.pieces();
        if laid > 0 {
            // On a slope whose direction is not known nothing could be stretched: the same rows count, each of them longer.
            let longer = if take.slope.as_ref().and_then(Slope::stretch).is_none() {
                ground.m2 / take.net_m2
            } else {
                1.0
            };
            // Rows on a lawn that is drawn smaller than it was measured would not cover it, so their number is scaled up.
            let drawn_m2 = drawn_m2(take);
            let scale = match is_drawn_small(take.net_m2, drawn_m2) {
                true => take.net_m2 / drawn_m2 * longer,
                false => longer,
            };
            let method = if layout.strip.is_some() {
                "perimeter"
            } else {
                "rows"
            };
            return Needed {
                method,
                pieces: laid as f64 * scale,
                cutting_percent: None,
            };
        }
        let cutting_percent = settings.cutting_percent;
        let factor = 1.0 + cutting_percent / 100.0;
        let piece_m2 = settings.piece_width_m * settings.piece_length_m;
        Needed {
            method: "percent",
            pieces: ground.m2 * factor / piece_m2,
            cutting_percent: Some(cutting_percent),
        }
    }
}

impl ByPercent {
    fn of(lawn_m2: f64, piece_m2: f64) -> ByPercent {
        let by = |percent: f64| whole_up(lawn_m2 * (1.0 + percent / 100.0) / piece_m2);
        ByPercent {
            by_0: by(0.0),
            by_5: by(5.0),
            by_10: by(10.0),
        }
    }
}

/// Splits what is ordered beyond the lawn by reason. It goes from what the lawn needs to `exact` (which covers the area's error and
/// undersized pieces too), from there to whole `pieces`, and from those to what is `ordered`.
fn waste(
    needed: &Needed,
    ground: &Ground,
    piece_m2: f64,
    exact: f64,
    pieces: u64,
    ordered: u64,
) -> Waste {
    let lawn_m2 = ground.m2;
    Waste {
        cutting_m2: needed.pieces * piece_m2 - lawn_m2,
        error_m2: needed.pieces * (ground.cover - 1.0) * piece_m2,
        tolerance_m2: (exact - needed.pieces * ground.cover) * piece_m2,
        rounding_m2: (pieces as f64 - exact) * piece_m2,
        pallets_m2: (ordered - pieces) as f64 * piece_m2,
        percent: 100.0 * (ordered as f64 * piece_m2 - lawn_m2) / lawn_m2,
    }
}

/// More pieces than this are not laid out one by one: ten hectares in pieces of 1 m² make a document of ten megabytes.
const MOST_PIECES: f64 = 100_000.0;

/// Net area of the lawns as they are drawn, on the plan.
fn drawn_m2(take: &Take<'_>) -> f64 {
    take.lawns.iter().map(|l| l.net.unsigned_area()).sum()
}

/// Whether the lawn's rows are few enough to be laid out one by one, in pieces and in the number of rows across.
fn can_be_laid(take: &Take<'_>, settings: &Settings) -> bool {
    let piece_m2 = settings.piece_width_m * settings.piece_length_m;
    let across_m = take
        .lawns
        .iter()
        .filter_map(|l| l.net.bounding_rect())
        .map(|bounds| bounds.width().hypot(bounds.height()))
        .fold(0.0, f64::max);
    drawn_m2(take) / piece_m2 <= MOST_PIECES && across_m / settings.piece_width_m <= MOST_PIECES
}

/// A drawn lawn smaller than the measured one by more than this part would take too few rows.
const DRAWN_SMALL: f64 = 0.005;

/// Whether the lawn is drawn noticeably smaller than it was measured. A lawn without a drawing is not.
fn is_drawn_small(net_m2: f64, drawn_m2: f64) -> bool {
    drawn_m2 > 0.0 && drawn_m2 < net_m2 * (1.0 - DRAWN_SMALL)
}

/// A fault for the first setting that no turf can be laid by.
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
    // With more than half a piece of stagger, or a least piece of more than half, no row could be laid beside another.
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
