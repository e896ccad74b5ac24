//! The row layout against worked tables: bounds exactly, the count against what a plain greedy layer would take.

use super::lawns::{Seeded, circle, curved, polygon};
use approx::assert_abs_diff_eq;
use boundwalk::job::order::{Method, OrderSettings, PROFILES, Turf};
use boundwalk::lawn::Lawn;
use boundwalk::order::demand::{Bands, Turned};
use boundwalk::order::pack::pack;
use boundwalk::order::rule::{Rule, TASTES};
use boundwalk::order::{Ordered, Slope, Take, plan};
use geo::{Area, BooleanOps, MultiPolygon};
use std::f64::consts::FRAC_PI_2;

fn rectangle(width: f64, height: f64) -> MultiPolygon<f64> {
    polygon(&[(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
}

fn l_shape() -> MultiPolygon<f64> {
    polygon(&[
        (0.0, 0.0),
        (12.0, 0.0),
        (12.0, 4.0),
        (5.0, 4.0),
        (5.0, 10.0),
        (0.0, 10.0),
    ])
}

fn triangle() -> MultiPolygon<f64> {
    polygon(&[(0.0, 0.0), (10.0, 0.0), (0.0, 6.0)])
}

fn ringed() -> MultiPolygon<f64> {
    rectangle(12.0, 8.0).difference(&circle(6.0, 4.0, 1.0, 720))
}

/// Offsets every metre from a straight base.
fn wavy() -> MultiPolygon<f64> {
    let offsets = [
        4.0, 4.3, 4.9, 5.6, 6.1, 6.3, 6.2, 5.8, 5.3, 4.9, 4.7, 4.8, 5.2, 5.7, 6.0, 6.1,
    ];
    let mut points = vec![(15.0, 0.0), (0.0, 0.0)];
    points.extend(offsets.iter().enumerate().map(|(x, y)| (x as f64, *y)));
    polygon(&points)
}

/// Worked independently for the trade sheet by the rules in its section 4.2, rows starting at the lawn's edge:
/// lower bound, a plain greedy count, and the count without reuse.
#[test]
fn bounds_agree_with_the_worked_table() {
    let roll = Rule {
        length_m: 2.5,
        min_piece_m: 0.5,
        stagger_m: 0.5,
    };
    let wide = Rule {
        length_m: 1.64,
        min_piece_m: 0.4,
        stagger_m: 0.3,
    };
    let (x, y) = (0.0, FRAC_PI_2);
    type Case = (&'static str, MultiPolygon<f64>, f64, Rule, f64, [u64; 3]);
    let cases: [Case; 13] = [
        ("10 x 8", rectangle(10.0, 8.0), 0.40, roll, x, [80, 80, 80]),
        ("10 x 8", rectangle(10.0, 8.0), 0.61, wide, y, [83, 85, 85]),
        (
            "8.2 x 5.9",
            rectangle(8.2, 5.9),
            0.40,
            roll,
            x,
            [50, 50, 60],
        ),
        ("10 x 5", rectangle(10.0, 5.0), 0.40, roll, y, [50, 50, 50]),
        ("10 x 5", rectangle(10.0, 5.0), 0.40, roll, x, [52, 52, 52]),
        (
            "r 5",
            circle(0.0, 0.0, 5.0, 720),
            0.40,
            roll,
            x,
            [82, 83, 90],
        ),
        (
            "r 5",
            circle(0.0, 0.0, 5.0, 720),
            0.61,
            wide,
            x,
            [85, 86, 92],
        ),
        (
            "r 2.5",
            circle(0.0, 0.0, 2.5, 720),
            0.40,
            roll,
            x,
            [22, 23, 25],
        ),
        ("L", l_shape(), 0.40, roll, x, [78, 78, 80]),
        ("10 x 6 triangle", triangle(), 0.40, roll, y, [32, 33, 45]),
        ("10 x 6 triangle", triangle(), 0.61, wide, x, [34, 34, 38]),
        ("12 x 8 less r 1", ringed(), 0.40, roll, x, [94, 94, 104]),
        ("wavy", wavy(), 0.40, roll, x, [84, 85, 89]),
    ];
    for (name, lawn, width_m, rule, angle, [lower, greedy, isolated]) in cases {
        let turned = Turned::new(&lawn, angle);
        let mut demands = Vec::new();
        Bands::default().demands(&turned, width_m, turned.low_m, &mut demands);
        assert_eq!(
            (rule.lower_bound(&demands), rule.no_reuse(&demands)),
            (lower, isolated),
            "{name} with {width_m} m"
        );
        let tried = TASTES.map(|taste| pack(&demands, &rule, 40, taste));
        let laid = tried
            .iter()
            .min_by_key(|laid| laid.pieces)
            .expect("a layout");
        let pieces = u64::from(laid.pieces);
        println!("{name} {width_m}: {lower} / {pieces} (greedy {greedy}) / {isolated}");
        assert!(
            lower <= pieces && pieces <= greedy,
            "{name} with {width_m} m: {pieces}"
        );
        assert_eq!(laid.close_joints, 0, "{name}");
    }
}

fn lawn(net: MultiPolygon<f64>) -> [Lawn; 1] {
    let outer = MultiPolygon(
        net.iter()
            .map(|p| geo::Polygon::new(p.exterior().clone(), vec![]))
            .collect(),
    );
    [Lawn {
        label: "lawn".to_owned(),
        gross_m2: outer.unsigned_area(),
        net_m2: net.unsigned_area(),
        live_sides: Vec::new(),
        outer,
        net,
    }]
}

fn take(lawns: &[Lawn]) -> Take<'_> {
    Take {
        net_m2: lawns.iter().map(|l| l.net.unsigned_area()).sum(),
        sigma_m2: 0.0,
        slope: None,
        taped: &[],
        lawns,
        deductions: &[],
        perimeter_m: None,
        perimeter_sigma_m: 0.0,
    }
}

fn order(take: &Take<'_>, turf: Turf) -> Ordered {
    let settings = OrderSettings {
        turf: Some(turf),
        ..OrderSettings::default()
    };
    plan(take, &settings, None).unwrap_or_else(|fault| panic!("{fault}"))
}

/// Where area and 10 % says 33, the triangle takes 34 along its base.
#[test]
fn a_pointed_lawn_takes_more_than_ten_percent() {
    let lawns = lawn(triangle());
    let turf = Turf {
        direction_deg: Some(90.0),
        ..PROFILES[1].turf()
    };
    let turf = order(&take(&lawns), turf).turf.expect("turf");
    assert_eq!((turf.pieces, turf.by_percent.by_10), (34, 33));
    let rows = turf.rows.expect("rows");
    assert_abs_diff_eq!(rows.direction_deg, 90.0, epsilon = 1e-9);
    assert!(turf.chance_short.by_10_percent > 0.99);
}

/// Two estimators' pages on carpet, which is cut from rolls as turf is: 16 x 18 ft from a roll 15 ft wide takes two pieces of
/// 15 x 16 ft, 192 sq ft of them unused, where area and 10 % would be 317 sq ft; 8 x 8 ft from a roll 12 ft wide takes 96.
#[test]
fn goods_far_wider_than_what_is_left_over() {
    const FOOT: f64 = 0.3048;
    for (lawn_ft, roll_ft, pieces, turf_ft2, by_10_ft2) in [
        ((18.0, 16.0), (15.0, 16.0), 2, 480.0, 317.0),
        ((8.0, 8.0), (12.0, 8.0), 1, 96.0, 71.0),
    ] {
        let lawns = lawn(rectangle(lawn_ft.0 * FOOT, lawn_ft.1 * FOOT));
        let roll = Turf {
            piece_width_m: roll_ft.0 * FOOT,
            piece_length_m: roll_ft.1 * FOOT,
            ..PROFILES[0].turf()
        };
        let order = order(&take(&lawns), roll);
        let turf = order.turf.expect("turf");
        assert_eq!(turf.pieces, pieces);
        let square_foot = FOOT * FOOT;
        let ordered_m2 = turf.pieces as f64 * turf.piece_width_m * turf.piece_length_m;
        assert_abs_diff_eq!(ordered_m2 / square_foot, turf_ft2, epsilon = 1e-6);
        let unused_ft2 = turf_ft2 - lawn_ft.0 * lawn_ft.1;
        assert_abs_diff_eq!(
            turf.waste.cutting_m2 / square_foot,
            unused_ft2,
            epsilon = 1e-6
        );
        assert!(1.1 * lawn_ft.0 * lawn_ft.1 <= by_10_ft2);
    }
}

/// And where it says 103, a plain lawn with a tree ring takes 94 along its length.
#[test]
fn a_plain_lawn_takes_far_less_than_ten_percent() {
    let lawns = lawn(ringed());
    let turf = Turf {
        direction_deg: Some(90.0),
        ..PROFILES[0].turf()
    };
    let turf = order(&take(&lawns), turf).turf.expect("turf");
    assert_eq!((turf.pieces, turf.by_percent.by_10), (94, 103));
    // Nobody's direction is asked for: never worse.
    let free = order(&take(&lawns), PROFILES[0].turf()).turf.expect("turf");
    assert!(free.pieces <= 94);
}

/// Rows along a rectangle's edge: their number and length are plain, so the fewest pieces are too.
#[test]
fn rectangles_agree_with_the_closed_form() {
    for (length, width) in [
        (10.0, 8.0),
        (7.3, 4.4),
        (15.0, 6.0),
        (9.0, 3.1),
        (24.6, 11.9),
    ] {
        let lawns = lawn(rectangle(length, width));
        let turf = Turf {
            direction_deg: Some(90.0),
            ..PROFILES[0].turf()
        };
        let rows = order(&take(&lawns), turf)
            .turf
            .and_then(|t| t.rows)
            .expect("rows");
        let count = (width / 0.4 - 1e-9_f64).ceil();
        assert_eq!(rows.rows as f64, count);
        let closed = (count * length / 2.5 - 1e-9).ceil() as u64;
        assert_eq!(rows.pieces_lower_bound, closed);
        assert_eq!(
            rows.pieces_no_reuse,
            (count * (length / 2.5_f64).ceil()) as u64
        );
        assert!(rows.pieces <= closed + 1, "{length} x {width}: {rows:?}");
    }
}

/// From the published layout alone, as a crew or another program would read it: strips along lines, pieces along them.
#[test]
fn the_published_layout_covers_the_lawn() {
    let mut dice = Seeded(5);
    for shape in [ringed(), curved(&mut dice, 150.0, 80, 3), l_shape()] {
        let lawns = lawn(shape);
        let order = order(&take(&lawns), PROFILES[2].turf());
        let json = serde_json::to_value(&order).expect("json");
        let rows = &json["turf"]["rows"];
        let mut turf: MultiPolygon<f64> = MultiPolygon(vec![]);
        let mut fresh = 0;
        for row in rows["layout"].as_array().expect("rows") {
            let number = |v: &serde_json::Value| v.as_f64().expect("a number");
            let (x0, y0) = (number(&row["from_m"][0]), number(&row["from_m"][1]));
            let (x1, y1) = (number(&row["to_m"][0]), number(&row["to_m"][1]));
            let length = (x1 - x0).hypot(y1 - y0);
            let (ux, uy) = ((x1 - x0) / length, (y1 - y0) / length);
            let mut at = 0.0;
            for piece in row["pieces"].as_array().expect("pieces") {
                assert_abs_diff_eq!(number(&piece["start_m"]), at, epsilon = 1e-6);
                at = number(&piece["end_m"]);
                fresh += u64::from(piece["offcut"] == false);
            }
            assert_abs_diff_eq!(at, length, epsilon = 1e-6);
            let half = 0.25;
            let corner = |along: f64, across: f64| {
                (x0 + along * ux - across * uy, y0 + along * uy + across * ux)
            };
            let strip = polygon(&[
                corner(0.0, -half),
                corner(length, -half),
                corner(length, half),
                corner(0.0, half),
            ]);
            turf = turf.union(&strip);
        }
        assert_eq!(Some(fresh), rows["pieces"].as_u64());
        let bare = lawns[0].net.difference(&turf).unsigned_area();
        assert!(bare < 1e-3, "{bare} m2 bare");
    }
}

/// A strip round the edge: its turf and the rows' inside cover the lawn, and it is said how the waste changes.
#[test]
fn a_strip_round_the_edge_first() {
    let lawns = lawn(rectangle(10.0, 8.0));
    let turf = Turf {
        method: Method::Perimeter,
        ..PROFILES[0].turf()
    };
    let turf = order(&take(&lawns), turf).turf.expect("turf");
    let strip = turf.strip.as_ref().expect("a strip");
    assert_eq!((turf.method, strip.pieces), ("perimeter", 14));
    let rows = turf.rows.as_ref().expect("rows");
    // 9.2 x 7.2 m inside: 66.24 m² of rolls of 1 m².
    assert!(
        rows.pieces_lower_bound >= 67 && rows.pieces <= 72,
        "{}",
        rows.pieces
    );
    assert_eq!(turf.pieces, strip.pieces + rows.pieces);
}

/// On a slope the rows are stretched along the fall: 1.0642 at 20° along it, not at all across it.
#[test]
fn a_slope_stretches_rows_along_the_fall() {
    let lawns = lawn(rectangle(10.0, 8.0));
    let surface_m2 = 80.0 / 20_f64.to_radians().cos();
    let sloping = |fall_deg| Take {
        slope: Some(Slope {
            percent: 100.0 * 20_f64.to_radians().tan(),
            sigma_percent: 0.0,
            fall_deg,
            source: "given",
        }),
        ..take(&lawns)
    };
    let turf = || Turf {
        direction_deg: Some(90.0),
        ..PROFILES[0].turf()
    };
    let rows = |fall_deg| {
        let order = order(&sloping(fall_deg), turf());
        assert_abs_diff_eq!(order.cover_area_m2, surface_m2, epsilon = 1e-9);
        order.turf.and_then(|t| t.rows).expect("rows")
    };
    // Falling east, along the rows: 20 rows of 10.642 m.
    let along = rows(Some(90.0));
    assert_eq!((along.rows, along.pieces_lower_bound), (20, 86));
    let last = along.layout[0].pieces.last().expect("a piece");
    assert_abs_diff_eq!(last.end_m, 10.642, epsilon = 5e-4);
    let drawn = along.layout[0].to_m[0] - along.layout[0].from_m[0];
    assert_abs_diff_eq!(drawn.abs(), 10.0, epsilon = 1e-6);
    // Falling north, across them: 22 rows of 10 m (8.513 m).
    let across = rows(Some(0.0));
    assert_eq!((across.rows, across.pieces_lower_bound), (22, 88));
    // Fall unknown: the flat rows, scaled.
    let order = order(&sloping(None), turf());
    assert_eq!(order.turf.expect("turf").pieces, 86); // 80 x 1.0642 = 85.1
}

/// Edging runs along the ground: 10 x 8 m falling 1 in 1 along its length has an edge of 2 (14.14 + 8) m.
#[test]
fn edging_runs_down_the_slope() {
    let lawns = lawn(rectangle(10.0, 8.0));
    let take = Take {
        slope: Some(Slope {
            percent: 100.0,
            sigma_percent: 0.0,
            fall_deg: Some(90.0),
            source: "given",
        }),
        perimeter_m: Some(36.0),
        perimeter_sigma_m: 0.0,
        ..take(&lawns)
    };
    let settings = OrderSettings {
        edging: Some(boundwalk::job::order::Edging {
            piece_m: 2.5,
            overlap_m: 0.0,
            around: ["lawn", "beds", "paths"].map(str::to_owned).to_vec(),
        }),
        turf: None,
        ..OrderSettings::default()
    };
    let order = plan(&take, &settings, None).unwrap_or_else(|fault| panic!("{fault}"));
    let edging = order.edging.expect("edging");
    assert_abs_diff_eq!(
        edging.length_m,
        2.0 * (10.0 * 2f64.sqrt() + 8.0),
        epsilon = 1e-6
    );
}

/// Two lawns are laid each its own way and counted together.
#[test]
fn lawns_are_laid_each_by_itself() {
    let [front] = lawn(rectangle(10.0, 8.0));
    let [mut back] = lawn(polygon(&[
        (30.0, 0.0),
        (34.0, 0.0),
        (34.0, 10.0),
        (30.0, 10.0),
    ]));
    back.label = "back".to_owned();
    let lawns = [front, back];
    let rows = order(&take(&lawns), PROFILES[0].turf())
        .turf
        .and_then(|t| t.rows)
        .expect("rows");
    assert_eq!((rows.pieces_lower_bound, rows.pieces), (120, 120));
    assert!(rows.layout.iter().any(|row| row.lawn == "back"));
    assert_eq!(rows.layout.last().map(|row| row.row), Some(rows.rows));
}

/// An airfield is not laid roll by roll, and a mistaken one does not fill the memory.
#[test]
fn what_is_too_large_for_rows_is_counted_by_percentage() {
    for shape in [
        rectangle(40_000.0, 30_000.0),
        polygon(&[(0.0, 0.0), (3e6, 2e6), (3e6, 2e6 + 1e-3)]),
    ] {
        let lawns = lawn(shape);
        let order = order(&take(&lawns), PROFILES[0].turf());
        assert_eq!(order.turf.map(|t| t.method), Some("percent"));
        assert_eq!(order.warnings[0].code(), "too-large-for-rows");
    }
}
