//! Turf laid out row by row on the drawn lawns: the counts, and where every piece goes. For each lawn the best layout is searched
//! for (`search`); this module adds them up and brings the rows back from the turned lawn onto the plan. On a slope the
//! laying is done on the ground laid flat, which is longer than the plan along the fall.

use super::rule::Rule;
use super::search::{Along, Alternative, Chosen, bearing_deg, search};
use super::slope::Stretch;
use crate::lawn::Lawn;
use geo::{Coord, LineString, MultiPolygon, Polygon};
use serde::Serialize;

/// `order.turf.rows` of the result.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rows {
    /// Bearing of the rows of the largest lawn, degrees clockwise from grid north, 0 to below 180.
    pub direction_deg: f64,
    pub along: Along,
    /// The fewest pieces any laying could take: the total length of the rows over the length of a piece, rounded up for each lawn.
    pub pieces_lower_bound: u64,
    pub pieces: u64,
    /// What it would take if no offcut were used again.
    pub pieces_no_reuse: u64,
    /// How much more turf it takes than the drawn lawn has area, percent of the lawn.
    pub waste_percent: f64,
    /// Length of all that is left over, longest first, in metres. Those shorter than the least piece are scrap.
    pub offcuts_m: Vec<f64>,
    pub min_piece_m: f64,
    pub stagger_m: f64,
    /// Rows, pieces cut to length, and stretches where the lawn takes up less than a third of a row's width.
    pub rows: u64,
    pub cuts: u64,
    pub slivers: u64,
    /// Joints that could not be kept the stagger away from those of the row before.
    pub close_joints: u64,
    /// The best layout of each direction that is easily set out, for comparison; of the largest lawn only.
    pub alternatives: Vec<Alternative>,
    /// On a slope, how much longer the ground is along the fall than on the plan; else `None`.
    pub stretch: Option<Stretch>,
    pub layout: Vec<Row>,
}

/// One stretch of a row: a strip one piece wide, with the line from `from_m` to `to_m` in its middle, in metres on the plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Counted through all lawns, in the order of laying; stretches of one row on both sides of a bed share it.
    pub row: u64,
    pub lawn: String,
    pub from_m: [f64; 2],
    pub to_m: [f64; 2],
    pub pieces: Vec<Piece>,
}

/// One piece in its row. Its start and end are lengths along the row from `from_m`, in metres on the ground (on a slope longer than
/// on the plan).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Piece {
    pub start_m: f64,
    pub end_m: f64,
    /// Whether it is cut from what an earlier cut left over.
    pub offcut: bool,
    /// The number of the fresh piece it is, or is cut from, counted from 1 through all lawns.
    pub of: u64,
}

/// Lays every lawn; beside each stands what of it is to be laid in rows. `direction_deg` fixes the direction of the rows, a bearing on
/// the plan. `None` where there is nothing to lay.
pub(crate) fn lay(
    lawns: &[(&Lawn, MultiPolygon<f64>)],
    width_m: f64,
    rule: &Rule,
    direction_deg: Option<f64>,
    stretch: Option<Stretch>,
) -> Option<Rows> {
    let mut rows = Rows {
        direction_deg: 0.0,
        along: Along::Asked,
        pieces_lower_bound: 0,
        pieces: 0,
        pieces_no_reuse: 0,
        waste_percent: 0.0,
        offcuts_m: Vec::new(),
        min_piece_m: rule.min_piece_m,
        stagger_m: rule.stagger_m,
        rows: 0,
        cuts: 0,
        slivers: 0,
        close_joints: 0,
        alternatives: Vec::new(),
        stretch,
        layout: Vec::new(),
    };
    let mut largest = 0.0;
    let mut area_m2 = 0.0;
    for (lawn, polygons) in lawns {
        let on_ground =
            |plan: &MultiPolygon<f64>| stretch.map_or_else(|| plan.clone(), |s| s.stretched(plan));
        let (ground, edge) = (on_ground(polygons), on_ground(&lawn.outer));
        let bearing = direction_deg.map(|deg| stretch.map_or(deg, |s| s.bearing_on_ground(deg)));
        let Some(laid) = search(&ground, &edge, width_m, rule, bearing) else {
            continue;
        };
        let here = geo::Area::unsigned_area(&ground);
        area_m2 += here;
        if here > largest {
            largest = here;
            rows.direction_deg = stretch.map_or(bearing_deg(laid.angle_rad), |s| {
                s.bearing_on_plan(bearing_deg(laid.angle_rad))
            });
            rows.along = laid.along;
            rows.alternatives.clone_from(&laid.alternatives);
        }
        rows.add(&lawn.label, &laid, width_m);
    }
    if rows.layout.is_empty() {
        return None;
    }
    rows.offcuts_m.sort_by(|a, b| b.total_cmp(a));
    let turf = rows.pieces as f64 * width_m * rule.length_m;
    rows.waste_percent = 100.0 * (turf - area_m2) / area_m2;
    Some(rows)
}

impl Rows {
    /// The outline on the plan of the part of a row's strip between two lengths along it (metres on the ground, as in [`Piece`]).
    pub(crate) fn on_plan(&self, row: &Row, width_m: f64, from: f64, to: f64) -> MultiPolygon<f64> {
        let ground = |[x, y]: [f64; 2]| {
            let at = Coord { x, y };
            self.stretch.map_or(at, |s| s.ground(at))
        };
        let (start, end) = (ground(row.from_m), ground(row.to_m));
        let length = (end.x - start.x)
            .hypot(end.y - start.y)
            .max(f64::MIN_POSITIVE);
        let (ux, uy) = ((end.x - start.x) / length, (end.y - start.y) / length);
        let half = 0.5 * width_m;
        let corners = [
            (from, -half),
            (to, -half),
            (to, half),
            (from, half),
            (from, -half),
        ];
        let outline = corners.map(|(along, across)| {
            let at = Coord {
                x: start.x + along * ux - across * uy,
                y: start.y + along * uy + across * ux,
            };
            self.stretch.map_or(at, |s| s.plan(at))
        });
        MultiPolygon(vec![Polygon::new(LineString(outline.to_vec()), vec![])])
    }

    /// Adds one lawn's layout, with rows and pieces numbered on from those before.
    fn add(&mut self, label: &str, laid: &Chosen, width_m: f64) {
        let (rows_before, pieces_before) = (self.rows, self.pieces);
        let mut last = None;
        for (demand, pieces) in laid.demands.iter().zip(&laid.packing.rows) {
            if last != Some(demand.row) {
                self.rows += 1;
                last = Some(demand.row);
            }
            let middle = laid.first_m + (f64::from(demand.row) + 0.5) * width_m;
            let place = |x: f64| {
                let there = laid.turned.back(Coord { x, y: middle });
                let there = self.stretch.map_or(there, |s| s.plan(there));
                [there.x, there.y]
            };
            let row = Row {
                row: self.rows,
                lawn: label.to_owned(),
                from_m: place(demand.start_m),
                to_m: place(demand.end_m),
                pieces: pieces
                    .iter()
                    .map(|piece| Piece {
                        start_m: piece.start_m - demand.start_m,
                        end_m: piece.end_m - demand.start_m,
                        offcut: piece.offcut,
                        of: pieces_before + u64::from(piece.of),
                    })
                    .collect(),
            };
            self.layout.push(row);
        }
        debug_assert!(self.rows > rows_before);
        self.pieces += u64::from(laid.packing.pieces);
        self.pieces_lower_bound += laid.lower_bound;
        self.pieces_no_reuse += laid.no_reuse;
        self.cuts += u64::from(laid.packing.cuts);
        self.slivers += u64::from(laid.slivers);
        self.close_joints += u64::from(laid.packing.close_joints);
        self.offcuts_m
            .extend(laid.packing.left.iter().map(|left| left.length_m));
    }
}
