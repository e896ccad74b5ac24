//! Rows of turf: every layout is real, and near the fewest pieces there can be.

use super::lawns::{Seeded, any, polygon};
use boundwalk::order::rule::Rule;
use boundwalk::order::search::{Chosen, search};
use geo::{Area, BooleanOps, Coord, MultiPolygon};

const ROLL: (f64, Rule) = (
    0.40,
    Rule {
        length_m: 2.50,
        min_piece_m: 0.5,
        stagger_m: 0.3,
    },
);
const SIZES: [(f64, Rule); 4] = [
    ROLL,
    (
        0.61,
        Rule {
            length_m: 1.64,
            min_piece_m: 0.4,
            stagger_m: 0.3,
        },
    ),
    (
        0.50,
        Rule {
            length_m: 2.00,
            min_piece_m: 0.5,
            stagger_m: 0.3,
        },
    ),
    (
        0.4064,
        Rule {
            length_m: 0.6096,
            min_piece_m: 0.2032,
            stagger_m: 0.1524,
        },
    ),
];

/// 150 lawns, or as many as BOUNDWALK_LAWNS says (10 000 take some minutes).
#[test]
fn random_lawns_are_laid_for_real_and_near_the_bound() {
    let lawns: u64 = std::env::var("BOUNDWALK_LAWNS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(150);
    let mut dice = Seeded(2026);
    let (mut excess, mut percent, mut near, mut at_bound, mut saved) = (0.0, 0.0, 0u64, 0u64, 0.0);
    let mut done = 0u64;
    let mut close = 0u64;
    for n in 0..lawns {
        let lawn = any(&mut dice);
        let (width_m, rule) = SIZES[dice.below(4)];
        let Some(laid) = search(&lawn, &lawn, width_m, &rule, None) else {
            continue;
        };
        let found = faults(&lawn, &laid, width_m, &rule);
        assert!(found.is_empty(), "lawn {n}: {found:?}");
        let (lower, pieces) = (laid.lower_bound, u64::from(laid.packing.pieces));
        assert!(
            lower <= pieces && pieces <= laid.no_reuse,
            "lawn {n}: {lower} <= {pieces} <= {}",
            laid.no_reuse
        );
        done += 1;
        close += u64::from(laid.packing.close_joints > 0);
        excess += (pieces - lower) as f64;
        percent += 100.0 * (pieces - lower) as f64 / lower as f64;
        saved += (laid.no_reuse - pieces) as f64 / laid.no_reuse as f64;
        near += u64::from((pieces - lower) as f64 <= (0.03 * lower as f64).max(1.0));
        at_bound += u64::from(pieces == lower);
    }
    let share = |n: u64| 100.0 * n as f64 / done as f64;
    println!(
        "{done} lawns: {:.3} pieces ({:.2} %) over the bound on average; at the bound {:.1} %, within max(1, 3 %) {:.2} %; \
         {:.1} % fewer than without reuse; {close} with joints too close",
        excess / done as f64,
        percent / done as f64,
        share(at_bound),
        share(near),
        100.0 * saved / done as f64,
    );
    assert!(done >= lawns * 9 / 10);
    assert!(share(near) >= 90.0);
    assert_eq!(close, 0);
}

/// Pieces no one sells and rules no one lays by: nothing panics, and what is laid is real. Joints that cannot keep the
/// stagger are counted, not hidden.
#[test]
fn odd_pieces_and_odd_lawns_are_laid_for_real() {
    let mut dice = Seeded(77);
    for n in 0..60 {
        let lawn = match n % 4 {
            // A strip narrower than a row, a needle, a crumb, and any lawn.
            0 => polygon(&[(0.0, 0.0), (9.0, 1.0), (9.0, 1.05), (0.0, 0.05)]),
            1 => polygon(&[(0.0, 0.0), (12.0, 0.001), (0.0, 0.4)]),
            2 => polygon(&[(0.0, 0.0), (0.02, 0.0), (0.0, 0.03)]),
            _ => any(&mut dice),
        };
        let length_m = dice.between(0.3, 12.0);
        let width_m = dice.between(0.1, 2.0);
        let rule = Rule {
            length_m,
            min_piece_m: dice.between(0.0, 0.5) * length_m,
            stagger_m: dice.between(0.0, 0.5) * length_m,
        };
        let Some(laid) = search(&lawn, &lawn, width_m, &rule, None) else {
            panic!("lawn {n} is not laid");
        };
        let found = faults(&lawn, &laid, width_m, &rule);
        assert!(found.is_empty(), "lawn {n}, {rule:?}: {found:?}");
        assert!(laid.lower_bound <= u64::from(laid.packing.pieces));
    }
}

/// Whether a layout is real. Uses the layout and the lawn, not how the layout was found.
fn faults(lawn: &MultiPolygon<f64>, laid: &Chosen, width_m: f64, rule: &Rule) -> Vec<String> {
    let mut faults = Vec::new();
    let mut covered = 0.0;
    let mut used: Vec<(f64, u32, u32, u32)> = Vec::new(); // laid length, whole, first cuts, offcuts of each piece
    used.resize(laid.packing.pieces as usize + 1, (0.0, 0, 0, 0));
    let mut joints_before: Vec<f64> = Vec::new();
    let mut joints_now: Vec<f64> = Vec::new();
    let mut row_now = None;
    if laid.demands.len() != laid.packing.rows.len() {
        faults.push("rows and demands differ in number".to_owned());
    }
    for (demand, row) in laid.demands.iter().zip(&laid.packing.rows) {
        if row_now != Some(demand.row) {
            let next = row_now.is_some_and(|before: u32| demand.row == before + 1);
            joints_before = if next {
                std::mem::take(&mut joints_now)
            } else {
                Vec::new()
            };
            joints_now.clear();
            row_now = Some(demand.row);
        }
        let (Some(first), Some(last)) = (row.first(), row.last()) else {
            faults.push(format!("row {} is empty", demand.row));
            continue;
        };
        // The area of lawn under this stretch of row, by clipping.
        let bottom = laid.first_m + f64::from(demand.row) * width_m;
        let corners: Vec<(f64, f64)> = [
            (first.start_m, bottom),
            (last.end_m, bottom),
            (last.end_m, bottom + width_m),
            (first.start_m, bottom + width_m),
        ]
        .iter()
        .map(|(x, y)| {
            let c = laid.turned.back(Coord { x: *x, y: *y });
            (c.x, c.y)
        })
        .collect();
        covered += lawn.intersection(&polygon(&corners)).unsigned_area();

        let mut at = first.start_m;
        for piece in row {
            let length = piece.end_m - piece.start_m;
            if (piece.start_m - at).abs() > 1e-6 {
                faults.push(format!(
                    "row {}: a gap of {} m",
                    demand.row,
                    piece.start_m - at
                ));
            }
            at = piece.end_m;
            if length > rule.length_m + 1e-5 || length <= 0.0 {
                faults.push(format!("row {}: a piece of {length} m", demand.row));
            }
            if row.len() > 1 && length < rule.min_piece_m - 1e-5 {
                faults.push(format!("row {}: a short piece of {length} m", demand.row));
            }
            if piece.start_m > first.start_m + 1e-9 {
                joints_now.push(piece.start_m);
                let near = joints_before
                    .iter()
                    .map(|j| (j - piece.start_m).abs())
                    .fold(f64::INFINITY, f64::min);
                if near < rule.stagger_m - 1e-5 && laid.packing.close_joints == 0 {
                    faults.push(format!("row {}: joints {near} m apart", demand.row));
                }
            }
            let Some(source) = used.get_mut(piece.of as usize).filter(|_| piece.of > 0) else {
                faults.push(format!("row {}: a piece of no piece", demand.row));
                continue;
            };
            source.0 += length;
            if piece.offcut {
                source.3 += 1;
            } else if length > rule.length_m - 1e-5 {
                source.1 += 1;
            } else {
                source.2 += 1;
            }
        }
    }
    let area = lawn.unsigned_area();
    if (covered - area).abs() > 1e-4 * area.max(1.0) {
        faults.push(format!("covers {covered} of {area} m2"));
    }
    let mut left = 0.0;
    for (n, (length, whole, cuts, offcuts)) in used.iter().enumerate().skip(1) {
        // A piece is laid whole, or it is cut once first and every other part of it is an offcut.
        let sound = (*whole == 1 && *cuts == 0 && *offcuts == 0) || (*whole == 0 && *cuts == 1);
        if !sound || *length > rule.length_m + 1e-5 {
            faults.push(format!("piece {n}: {length} m in {whole}/{cuts}/{offcuts}"));
        }
        left += rule.length_m - length;
    }
    let said: f64 = laid.packing.left.iter().map(|o| o.length_m).sum();
    if (left - said).abs() > 1e-3 {
        faults.push(format!("{left} m left over, {said} m said"));
    }
    faults
}
