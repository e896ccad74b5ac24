//! Areas of taped figures against published worked examples. Lengths are unit-free: feet in, square feet out.

use approx::{assert_abs_diff_eq, assert_relative_eq};
use boundwalk::job::shape::{Across, Diagonal, Figure, Hand, Ordinates, Rule, Shape};
use boundwalk::tape::shapes::{Taped, ellipse_perimeter_m, measure};
use std::f64::consts::PI;

/// As the pages quoted take it.
const SCHOOL_PI: f64 = 314.0 / 100.0;

fn shape(figure: Figure) -> Shape {
    Shape {
        label: "part".into(),
        figure,
        deduct: false,
        sigma_m: Some(0.02),
        place: None,
        line: None,
    }
}

fn taped(figure: Figure) -> Taped {
    measure(&shape(figure)).expect("a possible shape")
}

fn rectangle(length_m: f64, width_m: f64) -> f64 {
    taped(Figure::Rectangle {
        length_m,
        width_m,
        hand: Hand::Left,
    })
    .area_m2
}

fn triangle(base_m: f64, height_m: f64) -> f64 {
    taped(Figure::Triangle {
        base_m,
        height_m,
        foot_m: None,
        hand: Hand::Left,
    })
    .area_m2
}

fn trapezoid(a: f64, b: f64, height_m: f64) -> f64 {
    taped(Figure::Trapezoid {
        parallel_m: [a, b],
        height_m,
        hand: Hand::Left,
    })
    .area_m2
}

fn circle(radius_m: f64) -> f64 {
    taped(Figure::Circle {
        across: Across::Radius(radius_m),
        sector_deg: 360.0,
    })
    .area_m2
}

fn uneven(rule: Rule, chainage_m: &[f64], offsets_m: &[f64]) -> Taped {
    taped(Figure::Offsets {
        rule,
        sides: vec![Ordinates {
            hand: Hand::Left,
            chainage_m: chainage_m.to_vec(),
            offsets_m: offsets_m.to_vec(),
        }],
    })
}

fn even(rule: Rule, spacing_m: f64, offsets_m: &[f64]) -> Taped {
    let chainage_m: Vec<f64> = (0..offsets_m.len()).map(|i| i as f64 * spacing_m).collect();
    uneven(rule, &chainage_m, offsets_m)
}

#[test]
fn a_lot_less_what_is_not_lawn() {
    // Purdue Turf Tips, 18 April 2014, "How big is your lawn?": 6,000 - 2,221 = 3,779 sq ft with pi = 3.14 and the two
    // quarter circles rounded to 50; exactly 3,778.47.
    let quarter = taped(Figure::Circle {
        across: Across::Radius(8.0),
        sector_deg: 90.0,
    });
    let net = trapezoid(90.0, 60.0, 80.0)
        - rectangle(50.0, 25.0)
        - rectangle(15.0, 40.0)
        - rectangle(8.0, 12.0)
        - rectangle(10.0, 5.0)
        - rectangle(25.0, 5.0)
        - 2.0 * quarter.area_m2;
    assert_abs_diff_eq!(net, 3778.47, epsilon = 0.005);
    assert_abs_diff_eq!(net, 3779.0, epsilon = 1.0);
    // A quarter circle has two straight sides.
    assert_relative_eq!(quarter.perimeter_m.expect("known"), 4.0 * PI + 16.0);
}

#[test]
fn a_yard_in_parts() {
    // Univ. of Maryland Bay-Wise, "Example of how to determine how much fertilizer": 9,410, less 4,857.5: 4,552.5 sq ft.
    let yard = rectangle(67.0, 130.0) + triangle(20.0, 20.0) + rectangle(20.0, 25.0);
    assert_relative_eq!(yard, 9410.0);
    assert_relative_eq!(yard - 4857.5, 4552.5);
}

#[test]
fn regular_figures() {
    // *Grounds Maintenance* magazine, "Calculate areas": 4,500; 4,687 (exactly 4,687.5); 1,800; 2,826 with pi = 3.14.
    assert_relative_eq!(rectangle(90.0, 50.0), 4500.0);
    assert_relative_eq!(triangle(125.0, 75.0), 4687.5);
    assert_relative_eq!(trapezoid(50.0, 70.0, 30.0), 1800.0);
    assert_relative_eq!(circle(30.0), 2826.0 * PI / SCHOOL_PI, max_relative = 1e-12);
    // Western Australia horticulture training, "Fertilisers & nutrients: area": 600; 2,000; 706.5 m² with pi = 3.14.
    assert_relative_eq!(rectangle(30.0, 20.0), 600.0);
    assert_relative_eq!(triangle(50.0, 80.0), 2000.0);
    assert_relative_eq!(circle(15.0), 706.5 * PI / SCHOOL_PI, max_relative = 1e-12);
    // A grower's page (Australia), pi = 3.14: circle of radius 3 28.26, oval of semi-axes 4 and 3 37.68, triangle 10 by 5 25 m².
    assert_relative_eq!(circle(3.0), 28.26 * PI / SCHOOL_PI, max_relative = 1e-12);
    let oval = taped(Figure::Ellipse {
        length_m: 8.0,
        width_m: 6.0,
    });
    assert_relative_eq!(oval.area_m2, 37.68 * PI / SCHOOL_PI, max_relative = 1e-12);
    assert_relative_eq!(triangle(10.0, 5.0), 25.0);
    // A ring of radii 10 and 4: 84 pi.
    assert_relative_eq!(circle(10.0) - circle(4.0), 263.893_783, max_relative = 1e-8);
    // Clemson HGIC 1220, "Measuring the Area of a Home Lawn": 50 x 25 ft is 1,250 sq ft.
    assert_relative_eq!(rectangle(50.0, 25.0), 1250.0);
    // A maths help forum: trapezoids 25 m long of 19.4, 39.6 and 54.8: 737.5, then 1,180 m².
    assert_relative_eq!(trapezoid(19.4, 39.6, 25.0), 737.5, max_relative = 1e-12);
    assert_relative_eq!(trapezoid(39.6, 54.8, 25.0), 1180.0, max_relative = 1e-12);
}

#[test]
fn ovals_by_the_quick_rule_beside() {
    // *Grounds Maintenance*, "Calculate areas": 0.8 L W for 60 x 40 ft is 1,920, 0.8 D² for 50 ft is 2,000, "within 5 percent".
    let oval = taped(Figure::Ellipse {
        length_m: 60.0,
        width_m: 40.0,
    });
    let quick = oval.shortcut.expect("a quick rule").area_m2;
    assert_relative_eq!(quick, 1920.0);
    assert_abs_diff_eq!(oval.area_m2, 1884.96, epsilon = 0.005);
    assert!((quick / oval.area_m2 - 1.0).abs() < 0.05);
    let round = taped(Figure::Circle {
        across: Across::Diameter(50.0),
        sector_deg: 360.0,
    });
    assert_relative_eq!(round.shortcut.expect("a quick rule").area_m2, 2000.0);
    assert_abs_diff_eq!(round.area_m2, 1963.50, epsilon = 0.005);
    // Semi-axes 10 and 6: area 60 pi; perimeter from the complete elliptic integral (SciPy's ellipe): 51.053998.
    assert_abs_diff_eq!(ellipse_perimeter_m(20.0, 12.0), 51.053_998, epsilon = 5e-5);
}

#[test]
fn three_sides() {
    // Heron's classic 13-14-15 is 84; 30-40-50 is 600 (a right angle).
    for (sides_m, area) in [([13.0, 14.0, 15.0], 84.0), ([30.0, 40.0, 50.0], 600.0)] {
        let t = taped(Figure::ThreeSides {
            sides_m,
            hand: Hand::Left,
        });
        assert_relative_eq!(t.area_m2, area, max_relative = 1e-14);
    }
}

#[test]
fn sigma_of_a_product() {
    // Published: 339.21 ± 0.05 by 563.67 ± 0.09 ft is 191,202 sq ft ± 41.5 (an engineering examination forum). With one
    // sigma for both lengths the same formula, s sqrt(a² + b²), gives D1 of the design sheet: 10 x 10 at 0.02 m, 0.2828.
    let square = taped(Figure::Rectangle {
        length_m: 10.0,
        width_m: 10.0,
        hand: Hand::Left,
    });
    assert_abs_diff_eq!(square.sigma_m2, 0.2828, epsilon = 5e-5);
    let oblong = taped(Figure::Rectangle {
        length_m: 20.0,
        width_m: 10.0,
        hand: Hand::Left,
    });
    assert_abs_diff_eq!(oblong.sigma_m2, 0.4472, epsilon = 5e-5);
}

const GREEN_FT: [f64; 16] = [
    7.1, 8.9, 9.7, 10.9, 12.4, 11.7, 11.8, 9.9, 6.8, 8.2, 9.7, 10.4, 12.0, 11.4, 8.9, 8.0,
];

#[test]
fn a_putting_green_by_sixteen_radii() {
    // Course hand-out "How to measure a putting green": mean 9.86, area 3.14 x 9.86² = 305.27 sq ft. Unrounded
    // pi x mean² is 305.5793; pi x mean(r²), the sum of the sectors, is 314.8111.
    let green = taped(Figure::Radii {
        radii_m: GREEN_FT.to_vec(),
    });
    let shortcut = green.shortcut.expect("the common shortcut");
    assert_abs_diff_eq!(shortcut.area_m2, 305.5793, epsilon = 5e-5);
    assert_relative_eq!(shortcut.area_m2, 305.27, max_relative = 2e-3);
    assert_abs_diff_eq!(green.area_m2, 314.8111, epsilon = 5e-5);
    assert!(green.rule_sigma_m2 > 0.5 && green.rule_sigma_m2 < 15.0);
}

#[test]
fn offsets_by_both_rules() {
    // Surveying lecture notes, "Areas from offsets to a base line": average ordinate 442.67, trapezoid 460.75, Simpson 461.17.
    let notes = [3.15, 4.3, 8.2, 5.6, 6.85, 7.6, 4.2, 5.6, 4.3];
    let t = even(Rule::Trapezoid, 10.0, &notes);
    assert_abs_diff_eq!(t.area_m2, 460.75, epsilon = 5e-3);
    assert_abs_diff_eq!(t.shortcut.expect("mean").area_m2, 442.67, epsilon = 5e-3);
    assert_abs_diff_eq!(
        even(Rule::Simpson, 10.0, &notes).area_m2,
        461.17,
        epsilon = 5e-3
    );
    // A surveying hand-out, 3.5 m: trapezoid 211.40, Simpson 211.17.
    let handout = [
        0.8, 3.6, 4.7, 5.3, 3.9, 2.7, 4.6, 5.5, 4.9, 7.6, 8.8, 5.4, 6.0,
    ];
    assert_abs_diff_eq!(
        even(Rule::Trapezoid, 3.5, &handout).area_m2,
        211.40,
        epsilon = 5e-3
    );
    assert_abs_diff_eq!(
        even(Rule::Simpson, 3.5, &handout).area_m2,
        211.17,
        epsilon = 5e-3
    );
    // Lecture notes, 10 m: trapezoid 383.0, Simpson 395.33.
    let zero_ends = [
        0.0, 2.5, 3.5, 5.0, 4.6, 3.2, 1.3, 5.6, 6.2, 3.8, 1.7, 0.9, 0.0,
    ];
    assert_abs_diff_eq!(
        even(Rule::Trapezoid, 10.0, &zero_ends).area_m2,
        383.0,
        epsilon = 5e-3
    );
    assert_abs_diff_eq!(
        even(Rule::Simpson, 10.0, &zero_ends).area_m2,
        395.33,
        epsilon = 5e-3
    );
    // Study data (answers computed): 15 m kerb, trapezoid 472.5, Simpson 476.0; 4 m, Simpson 147.20; 2.5 m, trapezoid 78.25.
    let kerb = [3.9, 4.5, 5.1, 6.5, 6.3, 5.1, 4.1];
    assert_abs_diff_eq!(
        even(Rule::Trapezoid, 15.0, &kerb).area_m2,
        472.5,
        epsilon = 1e-9
    );
    assert_abs_diff_eq!(
        even(Rule::Simpson, 15.0, &kerb).area_m2,
        476.0,
        epsilon = 1e-9
    );
    let four = [0.5, 1.4, 2.5, 5.6, 8.5, 7.4, 3.8, 5.1, 2.3];
    assert_abs_diff_eq!(
        even(Rule::Simpson, 4.0, &four).area_m2,
        147.20,
        epsilon = 1e-9
    );
    let two_half = [0.0, 2.6, 4.2, 4.4, 3.8, 2.5, 4.5, 5.2, 1.6, 5.0];
    assert_abs_diff_eq!(
        even(Rule::Trapezoid, 2.5, &two_half).area_m2,
        78.25,
        epsilon = 1e-9
    );
    // Own, derived: 2 m, 0 3 5 4 0: 24.0 and 25.333.
    let own = [0.0, 3.0, 5.0, 4.0, 0.0];
    assert_abs_diff_eq!(
        even(Rule::Trapezoid, 2.0, &own).area_m2,
        24.0,
        epsilon = 1e-9
    );
    assert_abs_diff_eq!(
        even(Rule::Simpson, 2.0, &own).area_m2,
        76.0 / 3.0,
        epsilon = 1e-9
    );
    // Common practice, no source: a strip 1 m wide between offsets of 1.2 and 1.6 m is 1.40 m².
    assert_relative_eq!(even(Rule::Trapezoid, 1.0, &[1.2, 1.6]).area_m2, 1.40);
}

#[test]
fn an_odd_count_of_spaces_ends_in_a_trapezoid_and_says_so() {
    // An examination question, 30 m, eight offsets: all trapezoid 790.5, Simpson on the first six spaces and a trapezoid 781.0.
    let exam = [0.0, 2.65, 3.80, 3.75, 4.65, 3.60, 5.00, 5.80];
    assert_abs_diff_eq!(
        even(Rule::Trapezoid, 30.0, &exam).area_m2,
        790.5,
        epsilon = 1e-9
    );
    let mixed = even(Rule::Simpson, 30.0, &exam);
    assert_abs_diff_eq!(mixed.area_m2, 781.0, epsilon = 1e-9);
    let said: Vec<(Rule, f64, f64, usize)> = mixed
        .stretches
        .iter()
        .map(|s| (s.rule, s.from_m, s.to_m, s.spaces))
        .collect();
    assert_eq!(
        said,
        [
            (Rule::Simpson, 0.0, 180.0, 6),
            (Rule::Trapezoid, 180.0, 210.0, 1)
        ]
    );
    // Study data, 15 m, ten offsets: trapezoid 811.125, Simpson on eight spaces and a trapezoid 807.375.
    let ten = [3.50, 4.30, 6.15, 5.25, 7.50, 8.80, 7.90, 6.40, 4.40, 3.25];
    assert_abs_diff_eq!(
        even(Rule::Trapezoid, 15.0, &ten).area_m2,
        811.125,
        epsilon = 1e-9
    );
    assert_abs_diff_eq!(
        even(Rule::Simpson, 15.0, &ten).area_m2,
        807.375,
        epsilon = 1e-9
    );
    // Own, derived: a wavy edge at 1 m. The trapezoid rule and Simpson with a trapezoid at the end both give 80.85.
    let wavy = [
        4.0, 4.3, 4.9, 5.6, 6.1, 6.3, 6.2, 5.8, 5.3, 4.9, 4.7, 4.8, 5.2, 5.7, 6.0, 6.1,
    ];
    assert_abs_diff_eq!(
        even(Rule::Trapezoid, 1.0, &wavy).area_m2,
        80.85,
        epsilon = 1e-9
    );
    assert_abs_diff_eq!(
        even(Rule::Simpson, 1.0, &wavy).area_m2,
        80.85,
        epsilon = 5e-3
    );
}

#[test]
fn unequal_spacing_runs_of_equal_spaces() {
    // Study data (answers computed): 0 15 30 45 60 80 100 110 120 m. All trapezoid 622.925; Simpson on each run of equal spaces 632.95.
    let chainage = [0.0, 15.0, 30.0, 45.0, 60.0, 80.0, 100.0, 110.0, 120.0];
    let offsets = [3.75, 6.20, 5.15, 6.80, 5.60, 4.25, 4.12, 4.65, 6.25];
    let t = uneven(Rule::Trapezoid, &chainage, &offsets);
    assert_abs_diff_eq!(t.area_m2, 622.925, epsilon = 1e-9);
    assert_eq!(t.stretches.len(), 1);
    let s = uneven(Rule::Simpson, &chainage, &offsets);
    assert_abs_diff_eq!(s.area_m2, 632.95, epsilon = 1e-9);
    assert_eq!(s.stretches.len(), 3);
    // Organic standards manual p. 75 fig. 13, field book 0, 8, 26, 64, 81, 92 m (end offset at A taken as 0): 842.0 m².
    let book = uneven(
        Rule::Trapezoid,
        &[0.0, 8.0, 26.0, 64.0, 81.0, 92.0],
        &[0.0, 3.0, 5.0, 18.0, 12.0, 0.0],
    );
    assert_abs_diff_eq!(book.area_m2, 842.0, epsilon = 1e-9);
}

#[test]
fn widths_and_both_sides_of_a_baseline() {
    // *Grounds Maintenance*, "Calculate areas": widths 32, 50, 45, 17 ft every 10 ft are 1,440 sq ft (the ends taper to nothing).
    let widths = even(Rule::Trapezoid, 10.0, &[0.0, 32.0, 50.0, 45.0, 17.0, 0.0]);
    assert_relative_eq!(widths.area_m2, 1440.0);
    // A grower's page: five widths 3 2 4 6 1 m over 10 m, mean width x length 32 m²; as offsets incl. both ends 35.0 and 36.67.
    let five = [3.0, 2.0, 4.0, 6.0, 1.0];
    let t = even(Rule::Trapezoid, 2.5, &five);
    assert_relative_eq!(
        t.shortcut.as_ref().expect("mean").area_m2,
        32.0,
        max_relative = 1e-12
    );
    assert_relative_eq!(t.area_m2, 35.0, max_relative = 1e-12);
    assert_abs_diff_eq!(
        even(Rule::Simpson, 2.5, &five).area_m2,
        36.67,
        epsilon = 5e-3
    );
    // Cross-staff survey (data read; answer computed, the same by coordinates): left 2,606.76, right 2,368.78, both 4,975.54.
    let both = taped(Figure::Offsets {
        rule: Rule::Trapezoid,
        sides: vec![
            Ordinates {
                hand: Hand::Left,
                chainage_m: vec![0.0, 26.1, 56.4, 101.3, 136.8, 148.4],
                offsets_m: vec![0.0, 14.5, 21.3, 22.8, 20.4, 0.0],
            },
            Ordinates {
                hand: Hand::Right,
                chainage_m: vec![0.0, 44.2, 82.5, 122.4, 148.4],
                offsets_m: vec![0.0, 18.6, 23.6, 20.6, 0.0],
            },
        ],
    });
    assert_abs_diff_eq!(both.area_m2, 4975.54, epsilon = 5e-3);
}

#[test]
fn a_polygon_of_diagonals_agrees_with_its_coordinates() {
    // Mahun, *Open Access Surveying*, traverse computations G, problem 2: corners (600, 1000), (254.542, 1209.288),
    // (97.543, 566.876), (470.303, 397.969) ft, 250,550 ± 20 sq ft. Its sides and one diagonal must give the same.
    let p: [(f64, f64); 4] = [
        (600.0, 1000.0),
        (254.542, 1209.288),
        (97.543, 566.876),
        (470.303, 397.969),
    ];
    let d = |i: usize, j: usize| (p[i].0 - p[j].0).hypot(p[i].1 - p[j].1);
    let polygon = taped(Figure::Polygon {
        sides_m: vec![d(0, 1), d(1, 2), d(2, 3), d(3, 0)],
        diagonals: vec![Diagonal {
            from: 0,
            to: 2,
            length_m: d(0, 2),
        }],
        inward: vec![],
        hand: Hand::Left,
    });
    assert_abs_diff_eq!(polygon.area_m2, 250_550.0, epsilon = 20.0);
    assert_abs_diff_eq!(polygon.area_m2, 250_552.089, epsilon = 1e-2);
}

#[test]
fn what_cannot_be_is_refused_by_name() {
    let refused = |figure: Figure| measure(&shape(figure)).expect_err("impossible");
    let negative = refused(Figure::Rectangle {
        length_m: -4.0,
        width_m: 3.0,
        hand: Hand::Left,
    });
    assert!(negative.what().contains("\"part\"") && negative.what().contains("length_m"));
    let open = refused(Figure::ThreeSides {
        sides_m: [3.0, 4.0, 7.5],
        hand: Hand::Left,
    });
    assert!(open.what().contains("can't make a triangle"), "{open}");
    let one = refused(Figure::Offsets {
        rule: Rule::Simpson,
        sides: vec![Ordinates {
            hand: Hand::Left,
            chainage_m: vec![0.0],
            offsets_m: vec![2.0],
        }],
    });
    assert!(one.what().contains("fewer than two offsets"), "{one}");
    let below = refused(Figure::Offsets {
        rule: Rule::Trapezoid,
        sides: vec![Ordinates {
            hand: Hand::Left,
            chainage_m: vec![0.0, 1.0],
            offsets_m: vec![2.0, -1.0],
        }],
    });
    assert!(below.what().contains("-1"), "{below}");
    let back = refused(Figure::Offsets {
        rule: Rule::Trapezoid,
        sides: vec![Ordinates {
            hand: Hand::Left,
            chainage_m: vec![0.0, 2.0, 1.0],
            offsets_m: vec![2.0, 1.0, 1.0],
        }],
    });
    assert!(back.what().contains("rise"), "{back}");
    assert!(
        measure(&shape(Figure::Radii {
            radii_m: vec![1.0, 2.0]
        }))
        .is_err()
    );
    assert!(
        measure(&shape(Figure::Circle {
            across: Across::Radius(f64::NAN),
            sector_deg: 360.0
        }))
        .is_err()
    );
}

/// Repeatable numbers between 0 and 1 (a linear congruential generator; Knuth's MMIX constants, from memory).
struct Draws(u64);

impl Draws {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}

#[test]
fn the_stated_error_of_the_rule_covers_smooth_edges() {
    // Our own Monte Carlo: an edge of three sines (wavelengths 4 to 20 m, random phase) taped without error every metre for 15 m.
    // The integral of the edge is known exactly; the rule's error must lie within 1.96 of the stated sigma nearly always.
    let mut draws = Draws(7);
    for rule in [Rule::Trapezoid, Rule::Simpson] {
        let mut covered = 0;
        let trials = 1000;
        for _ in 0..trials {
            let waves: Vec<(f64, f64, f64)> = (0..3)
                .map(|_| {
                    let k = 2.0 * PI / (4.0 + 16.0 * draws.next());
                    (0.5 * draws.next(), k, 2.0 * PI * draws.next())
                })
                .collect();
            let edge = |x: f64| {
                4.0 + waves
                    .iter()
                    .map(|(a, k, p)| a * (k * x + p).sin())
                    .sum::<f64>()
            };
            let exact = 4.0 * 15.0
                + waves
                    .iter()
                    .map(|(a, k, p)| a / k * (p.cos() - (k * 15.0 + p).cos()))
                    .sum::<f64>();
            let offsets: Vec<f64> = (0..16).map(|i| edge(f64::from(i))).collect();
            let measured = even(rule, 1.0, &offsets);
            if (measured.area_m2 - exact).abs() <= 1.96 * measured.rule_sigma_m2 {
                covered += 1;
            }
        }
        println!("{rule:?}: {covered} of {trials} within 1.96 of the stated error of the rule");
        assert!(
            covered as f64 >= 0.95 * f64::from(trials),
            "{rule:?} {covered}"
        );
    }
}
