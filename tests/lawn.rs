//! Lawns less their deductions: values anyone can check by hand, and laws that hold for any garden.

use boundwalk::lawn::drawn::of_area;
use boundwalk::lawn::region::Region;
use boundwalk::lawn::{Kind, Laid, Outer, Shape, Taking, lay};
use geo::bool_ops::{BooleanOps, FillRule, OpType};
use geo::{Area, Coord, MultiPolygon, Validation};
use proptest::prelude::*;
use std::f64::consts::PI;

fn ring(points: &[(f64, f64)]) -> Vec<Coord<f64>> {
    points.iter().map(|&(x, y)| Coord { x, y }).collect()
}

fn rectangle(west: f64, south: f64, east: f64, north: f64) -> Vec<Coord<f64>> {
    ring(&[(west, south), (east, south), (east, north), (west, north)])
}

fn outer(label: &str, ring: Vec<Coord<f64>>) -> Outer {
    Outer {
        label: label.into(),
        ring,
    }
}

fn walked(ring: Vec<Coord<f64>>) -> Taking {
    Taking {
        label: "patio".into(),
        shape: Shape::Walked(ring),
    }
}

fn bed(x: f64, y: f64, radius_m: f64) -> Taking {
    Taking {
        label: "tree".into(),
        shape: Shape::Bed {
            centre: Coord { x, y },
            radius_m,
        },
    }
}

fn path(line: &[(f64, f64)], width_m: f64) -> Taking {
    Taking {
        label: "path".into(),
        shape: Shape::Path {
            line: ring(line),
            width_m,
        },
    }
}

fn net(laid: &Laid) -> f64 {
    laid.lawns.iter().map(|lawn| lawn.net_m2).sum()
}

fn close(got: f64, wanted: f64, within: f64) {
    assert!(
        (got - wanted).abs() <= within,
        "{got} is not {wanted} to {within}"
    );
}

/// 12 x 8 m less a ring of radius 1 m is 92.858 m² (derived: 96 − π).
#[test]
fn a_bed_in_a_rectangle() {
    let laid = lay(
        &[outer("lawn", rectangle(0.0, 0.0, 12.0, 8.0))],
        &[bed(5.0, 4.0, 1.0)],
    )
    .unwrap();
    close(net(&laid), 92.858, 0.0005);
    close(net(&laid), 96.0 - PI, 1e-9);
    let lawn = &laid.lawns[0];
    close(lawn.net.unsigned_area(), 96.0 - PI, 1e-6);
    let tree = &laid.deductions[0];
    assert_eq!((tree.kind, tree.radius_m), (Kind::Bed, Some(1.0)));
    close(tree.deducted_m2, PI, 1e-9);
    close(tree.live_m, 2.0 * PI, 1e-9);
    assert_eq!(lawn.live_sides, [1.0; 4]);
}

/// A rule of the trade: what overlaps is deducted once. A patio of 4 x 3 m with a path of 1 m running into it and a tree of 1 m
/// radius on its corner (three quarters of it on the lawn).
#[test]
fn nothing_is_deducted_twice() {
    let lawn = outer("lawn", rectangle(0.0, 0.0, 20.0, 10.0));
    let takings = [
        bed(4.0, 3.0, 1.0),
        path(&[(2.0, 1.0), (2.0, 12.0)], 1.0),
        walked(rectangle(0.0, 0.0, 4.0, 3.0)),
    ];
    let laid = lay(&[lawn], &takings).unwrap();
    let [tree, gravel, patio] = &laid.deductions[..] else {
        panic!()
    };
    close(patio.deducted_m2, 12.0, 1e-6);
    // from y = 3 to y = 10; the round end is under the patio, the other one off the lawn
    close(gravel.deducted_m2, 7.0, 1e-6);
    close(gravel.area_m2, 11.0 + PI / 4.0, 1e-6);
    close(tree.deducted_m2, 0.75 * PI, 1e-6);
    close(tree.area_m2, PI, 1e-9);
    close(net(&laid), 200.0 - 19.0 - 0.75 * PI, 1e-6);
    close(laid.lawns[0].net.unsigned_area(), net(&laid), 1e-3);

    // The edges of what is left: the patio has 4 + 3 m of edge inside the lawn, less 1 m at the path and 2 x 1 m at the tree.
    close(patio.live_m, 4.0, 1e-6);
    close(gravel.live_m, 14.0, 1e-6);
    close(tree.live_m, 1.5 * PI, 1e-6);
    let expected = [0.0, (3.0 - 1.0) / 3.0, (4.0 - 1.0 - 1.0) / 4.0, 0.0];
    for (part, wanted) in patio.live_sides.iter().zip(expected) {
        close(*part, wanted, 1e-6);
    }
    // The lawn's own edge: patio on two sides, path through the far one.
    for (part, wanted) in
        laid.lawns[0]
            .live_sides
            .iter()
            .zip([16.0 / 20.0, 1.0, 19.0 / 20.0, 7.0 / 10.0])
    {
        close(*part, wanted, 1e-6);
    }
}

/// Two lawns with a bed on the edge of each and one across both.
/// A gardener's waypoint saved again and again is one bed, however often, and nobody looks at it twice.
#[test]
fn one_bed_a_thousand_times_is_one_bed() {
    let lawn = [outer("lawn", rectangle(0.0, 0.0, 40.0, 20.0))];
    let beds = vec![bed(10.0, 10.0, 0.5); 1000];
    let laid = lay(&lawn, &beds).unwrap();
    close(net(&laid), 800.0 - PI * 0.25, 1e-9);
    let live_m: Vec<f64> = laid.deductions.iter().map(|d| d.live_m).collect();
    close(live_m[0], PI, 1e-9);
    assert!(live_m[1..].iter().all(|&m| m == 0.0));
    // Small beds within a large one that comes after them count once as well, and only its edge is the lawn's.
    let mut beds: Vec<Taking> = (0..900)
        .map(|k| {
            bed(
                19.0 + 0.06 * f64::from(k % 30),
                9.0 + 0.06 * f64::from(k / 30),
                0.02,
            )
        })
        .collect();
    beds.push(bed(20.0, 10.0, 3.0));
    let laid = lay(&lawn, &beds).unwrap();
    close(net(&laid), 800.0 - 9.0 * PI, 1e-9);
    close(laid.deductions[900].live_m, 6.0 * PI, 1e-9);
    assert!(
        laid.deductions[..900]
            .iter()
            .all(|d| d.live_m == 0.0 && d.deducted_m2 > 0.0)
    );
}

/// A border of a thousand plants, each over the next: the area by the beds' common circles (circular segments, r² (θ − sin θ) / 2).
#[test]
fn a_border_of_beds_each_over_the_next() {
    let lawn = [outer("lawn", rectangle(0.0, 0.0, 420.0, 20.0))];
    let (r, apart) = (0.3, 0.4);
    let beds: Vec<Taking> = (0..1000)
        .map(|k| bed(5.0 + apart * f64::from(k), 10.0, r))
        .collect();
    let laid = lay(&lawn, &beds).unwrap();
    let angle = 2.0 * (apart / 2.0 / r).acos();
    let lens = r * r * (angle - angle.sin());
    close(
        net(&laid),
        8400.0 - (1000.0 * PI * r * r - 999.0 * lens),
        1e-7,
    );
}

#[test]
fn more_beds_on_one_place_than_any_garden_has_are_refused() {
    let lawn = [outer("lawn", rectangle(0.0, 0.0, 40.0, 20.0))];
    let beds: Vec<Taking> = (0..200)
        .map(|k| bed(10.0 + 0.002 * f64::from(k), 10.0, 2.0))
        .collect();
    let fault = lay(&lawn, &beds).unwrap_err();
    assert_eq!(fault.code(), "beds-piled-up");
}

#[test]
fn a_deduction_may_touch_two_lawns() {
    let lawns = [
        outer("front", rectangle(0.0, 0.0, 10.0, 10.0)),
        outer("back", rectangle(11.0, 0.0, 20.0, 10.0)),
    ];
    let laid = lay(
        &lawns,
        &[walked(rectangle(9.0, 4.0, 13.0, 6.0)), bed(50.0, 5.0, 2.0)],
    )
    .unwrap();
    close(laid.lawns[0].net_m2, 98.0, 1e-6);
    close(laid.lawns[1].net_m2, 86.0, 1e-6);
    assert_eq!(laid.deductions[0].deducted_of_lawn_m2.len(), 2);
    close(laid.deductions[0].deducted_m2, 6.0, 1e-6);
    close(
        laid.deductions[0].live_m,
        1.0 + 2.0 + 1.0 + 2.0 + 2.0 + 2.0,
        1e-6,
    );
    assert_eq!(
        (laid.deductions[1].deducted_m2, laid.deductions[1].live_m),
        (0.0, 0.0)
    );
    assert_eq!(laid.overlap_m2, 0.0);
    let twice = lay(
        &[
            lawns[0].clone(),
            outer("again", rectangle(8.0, 0.0, 12.0, 10.0)),
        ],
        &[],
    )
    .unwrap();
    close(twice.overlap_m2, 20.0, 1e-6);
}

/// The same patio logged twice, a patio sharing the lawn's corner, two patios side by side.
#[test]
fn boundaries_on_one_line() {
    let lawn = [outer("lawn", rectangle(0.0, 0.0, 20.0, 10.0))];
    let patio = walked(rectangle(5.0, 2.0, 8.0, 6.0));
    let laid = lay(&lawn, &[patio.clone(), patio.clone()]).unwrap();
    close(net(&laid), 188.0, 1e-6);
    close(
        laid.deductions[0].live_m + laid.deductions[1].live_m,
        14.0,
        1e-6,
    );
    let laid = lay(&lawn, &[patio, walked(rectangle(8.0, 2.0, 9.0, 6.0))]).unwrap();
    close(net(&laid), 184.0, 1e-6);
    close(laid.deductions[0].live_m, 10.0, 1e-6);
    close(laid.deductions[1].live_m, 6.0, 1e-6);
    let laid = lay(&lawn, &[walked(rectangle(0.0, 0.0, 20.0, 10.0))]).unwrap();
    close(net(&laid), 0.0, 1e-9);
    assert!(laid.lawns[0].net.0.is_empty());
    assert_eq!(laid.lawns[0].live_sides, [0.0; 4]);
}

#[test]
fn refuses_what_has_no_size_or_place() {
    let lawn = [outer("lawn", rectangle(0.0, 0.0, 20.0, 10.0))];
    for bad in [
        bed(1.0, 1.0, 0.0),
        bed(1.0, 1.0, f64::NAN),
        bed(f64::NAN, 1.0, 1.0),
        path(&[(0.0, 0.0), (1.0, 0.0)], -1.0),
        path(&[(0.0, f64::INFINITY), (1.0, 0.0)], 1.0),
        walked(ring(&[(0.0, 0.0), (1.0, f64::NAN), (1.0, 1.0)])),
    ] {
        assert!(lay(&lawn, &[bad]).is_err());
    }
    let nothing = lay(
        &[outer("lawn", Vec::new())],
        &[bed(0.0, 0.0, 1.0), walked(Vec::new()), path(&[], 1.0)],
    )
    .unwrap();
    assert_eq!(net(&nothing), 0.0);
    assert!(lay(&[], &[bed(0.0, 0.0, 1.0)]).unwrap().lawns.is_empty());
}

// ---- laws, for any garden ----

/// A wobbly star-shaped ring.
fn a_ring(reach: f64) -> impl Strategy<Value = Vec<Coord<f64>>> {
    (3usize..40, -reach..reach, -reach..reach).prop_flat_map(move |(n, x, y)| {
        prop::collection::vec(0.15 * reach..0.9 * reach, n).prop_map(move |radii| {
            let step = 2.0 * PI / radii.len() as f64;
            radii
                .iter()
                .enumerate()
                .map(|(k, r)| Coord {
                    x: x + r * (step * k as f64).cos(),
                    y: y + r * (step * k as f64).sin(),
                })
                .collect()
        })
    })
}

/// Any line at all, crossing itself as it likes.
fn a_scribble(reach: f64) -> impl Strategy<Value = Vec<Coord<f64>>> {
    prop::collection::vec(
        (-reach..reach, -reach..reach).prop_map(|(x, y)| Coord { x, y }),
        0..25,
    )
}

fn a_taking() -> impl Strategy<Value = Taking> {
    let shape = prop_oneof![
        (-12.0..12.0f64, -12.0..12.0f64, 0.05..5.0f64).prop_map(|(x, y, radius_m)| Shape::Bed {
            centre: Coord { x, y },
            radius_m
        }),
        a_ring(6.0).prop_map(Shape::Walked),
        a_scribble(12.0).prop_map(Shape::Walked),
        (
            prop::collection::vec(
                (-15.0..15.0f64, -15.0..15.0f64).prop_map(|(x, y)| Coord { x, y }),
                1..6
            ),
            0.3..2.0f64
        )
            .prop_map(|(line, width_m)| Shape::Path { line, width_m }),
    ];
    shape.prop_map(|shape| Taking {
        label: String::new(),
        shape,
    })
}

/// The net area by straight-sided polygons alone, beds as polygons of 4000 sides of the same area.
fn dense_net(lawn: &[Coord<f64>], takings: &[Taking], laid: &Laid) -> f64 {
    let mut all = Vec::new();
    for (taking, deduction) in takings.iter().zip(&laid.deductions) {
        match taking.shape {
            Shape::Bed { centre, radius_m } => {
                let step = 2.0 * PI / 4000.0;
                let radius = radius_m * (step / step.sin()).sqrt();
                all.push(geo::Polygon::new(
                    (0..4000)
                        .map(|k| Coord {
                            x: centre.x + radius * (step * f64::from(k)).cos(),
                            y: centre.y + radius * (step * f64::from(k)).sin(),
                        })
                        .collect(),
                    Vec::new(),
                ));
            }
            _ => all.extend(deduction.outline.iter().cloned()),
        }
    }
    let lawn = Region::inside(&[lawn.to_vec()]).unwrap();
    lawn.polygons()
        .boolean_op_with_fill_rule(&MultiPolygon(all), OpType::Difference, FillRule::NonZero)
        .unsigned_area()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// The exact net area is that of dense polygons; the picture shows it; and what was deducted adds up.
    #[test]
    fn net_is_what_dense_polygons_give(lawn in prop_oneof![a_ring(12.0), a_scribble(12.0)], takings in prop::collection::vec(a_taking(), 0..7)) {
        let laid = lay(&[outer("", lawn.clone())], &takings).unwrap();
        let one = &laid.lawns[0];
        let dense = dense_net(&lawn, &takings, &laid);
        prop_assert!((one.net_m2 - dense).abs() < 2e-4, "{} {}", one.net_m2, dense);
        // the picture's beds are within 1 mm of their circles
        prop_assert!((one.net.unsigned_area() - one.net_m2).abs() < 0.05, "{} {}", one.net.unsigned_area(), one.net_m2);
        let deducted: f64 = laid.deductions.iter().map(|d| d.deducted_m2).sum();
        prop_assert!((one.gross_m2 - deducted - one.net_m2).abs() < 1e-6);
        for deduction in &laid.deductions {
            prop_assert!(deduction.deducted_m2 >= 0.0 && deduction.deducted_m2 <= deduction.area_m2 + 1e-5);
            prop_assert!(deduction.live_sides.iter().all(|part| (0.0..=1.0 + 1e-12).contains(part)));
        }
    }

    /// Neither the order nor the way round a ring was walked matters.
    #[test]
    fn order_does_not_matter(lawn in a_ring(12.0), takings in prop::collection::vec(a_taking(), 0..6)) {
        let there = lay(&[outer("", lawn.clone())], &takings).unwrap();
        let mut turned = takings.clone();
        turned.reverse();
        for taking in &mut turned {
            if let Shape::Walked(ring) = &mut taking.shape {
                ring.reverse();
            }
        }
        let back = lay(&[outer("", lawn.iter().rev().copied().collect())], &turned).unwrap();
        prop_assert!((net(&there) - net(&back)).abs() < 1e-4, "{} {}", net(&there), net(&back));
        let live = |laid: &Laid| laid.deductions.iter().map(|d| d.live_m).sum::<f64>();
        prop_assert!((live(&there) - live(&back)).abs() < 1e-2, "{} {}", live(&there), live(&back));
    }

    /// One deduction more never leaves more lawn, and one that is inside another leaves the same.
    #[test]
    fn another_deduction_never_adds(lawn in a_ring(12.0), takings in prop::collection::vec(a_taking(), 1..6)) {
        let fewer = lay(&[outer("", lawn.clone())], &takings[1..]).unwrap();
        let all = lay(&[outer("", lawn.clone())], &takings).unwrap();
        prop_assert!(net(&all) <= net(&fewer) + 1e-5);
        let again: Vec<Taking> = takings.iter().chain(&takings).cloned().collect();
        let twice = lay(&[outer("", lawn)], &again).unwrap();
        prop_assert!((net(&all) - net(&twice)).abs() < 1e-4, "{} {}", net(&all), net(&twice));
    }

    /// The live edge is what it says: moving a bed's edge out by a little takes that length times as much.
    #[test]
    fn live_edge_is_the_area_s_slope(lawn in a_ring(12.0), takings in prop::collection::vec(a_taking(), 1..6)) {
        let laid = lay(&[outer("", lawn.clone())], &takings).unwrap();
        for (k, taking) in takings.iter().enumerate() {
            if let Shape::Bed { centre, radius_m } = taking.shape {
                let step = 1e-3;
                let net_with = |radius_m| {
                    let mut other = takings.clone();
                    other[k].shape = Shape::Bed { centre, radius_m };
                    net(&lay(&[outer("", lawn.clone())], &other).unwrap())
                };
                let slope = (net_with(radius_m - step) - net_with(radius_m + step)) / (2.0 * step);
                // off by the square root of the step where the circle touches another edge
                prop_assert!((slope - laid.deductions[k].live_m).abs() < 0.25, "{slope} {}", laid.deductions[k].live_m);
            }
        }
    }

    /// Live sides of rings add up to the live length where the ring crosses nothing of its own.
    #[test]
    fn live_sides_add_up(lawn in a_ring(12.0), patio in a_ring(6.0), takings in prop::collection::vec(a_taking(), 0..4)) {
        let all: Vec<Taking> = std::iter::once(walked(patio.clone())).chain(takings).collect();
        let laid = lay(&[outer("", lawn)], &all).unwrap();
        let sides = patio.iter().zip(patio.iter().cycle().skip(1));
        let sum: f64 = sides.zip(&laid.deductions[0].live_sides).map(|((a, b), part)| (b.x - a.x).hypot(b.y - a.y) * part).sum();
        prop_assert!((sum - laid.deductions[0].live_m).abs() < 1e-3, "{sum} {}", laid.deductions[0].live_m);
    }

    /// Pictures are valid polygons.
    #[test]
    fn pictures_are_valid(lawn in a_scribble(12.0), takings in prop::collection::vec(a_taking(), 0..5)) {
        let laid = lay(&[outer("", lawn)], &takings).unwrap();
        prop_assert!(laid.lawns[0].outer.is_valid(), "{:?}", laid.lawns[0].outer.validation_errors());
        prop_assert!(laid.lawns[0].net.is_valid(), "{:?}", laid.lawns[0].net.validation_errors());
    }

    /// Drawn in or out to any area there is.
    #[test]
    fn drawn_to_an_area(lawn in a_ring(12.0), takings in prop::collection::vec(a_taking(), 0..3), part in 0.3..2.0f64) {
        let laid = lay(&[outer("", lawn)], &takings).unwrap();
        let picture = &laid.lawns[0].net;
        let asked = part * picture.unsigned_area();
        prop_assume!(asked > 1.0);
        let got = of_area(picture, asked).unwrap().unsigned_area();
        prop_assert!((got - asked).abs() < 1e-3 * asked, "{got} {asked}");
    }
}
