//! Quantities against the trade's own published examples. Where the answer was published its source is named; the rest
//! is worked out by hand beside the check.

use super::lawns::{circle, polygon};
use approx::assert_abs_diff_eq;
use boundwalk::job::order::{
    Crew, Delivery, Edging, Method, Mulch, OldTurf, OrderSettings, PROFILES, Seed, Soil, Spread,
    Turf,
};
use boundwalk::job::price::{Extra, PriceSettings};
use boundwalk::lawn::{Deduction, Kind, Lawn};
use boundwalk::order::{Ordered, Take, edging, plan};
use geo::{BooleanOps, Coord, MultiPolygon};
use rust_decimal::Decimal;
use std::f64::consts::PI;

const FOOT: f64 = 0.3048;
const YARD: f64 = 0.9144;

/// An area without a plan, known exactly.
fn area(net_m2: f64) -> Take<'static> {
    Take {
        net_m2,
        sigma_m2: 0.0,
        slope: None,
        taped: &[],
        lawns: &[],
        deductions: &[],
        perimeter_m: None,
        perimeter_sigma_m: 0.0,
    }
}

fn nothing() -> OrderSettings {
    OrderSettings {
        turf: None,
        ..OrderSettings::default()
    }
}

fn by_percent(percent: f64) -> OrderSettings {
    OrderSettings {
        turf: Some(Turf {
            method: Method::Percent,
            cutting_percent: percent,
            ..PROFILES[0].turf()
        }),
        ..OrderSettings::default()
    }
}

fn ordered(take: &Take<'_>, settings: &OrderSettings) -> Ordered {
    plan(take, settings, None).unwrap_or_else(|fault| panic!("{fault}"))
}

fn pieces(order: &Ordered) -> u64 {
    order.turf.as_ref().map_or(0, |turf| turf.pieces)
}

/// A grower's do-it-yourself guide (Australia): five widths averaging 3.2 m over 10 m and 3 % give 33 m², 10 x 5 m and
/// 3 % give 51.5 m².
#[test]
fn area_and_a_percentage() {
    let guide = ordered(&area(32.0), &by_percent(3.0));
    assert_eq!(pieces(&guide), 33); // 32.96
    let guide = ordered(&area(50.0), &by_percent(3.0));
    let turf = guide.turf.expect("turf");
    assert_abs_diff_eq!(turf.waste.cutting_m2, 1.5, epsilon = 1e-9);
    assert_eq!((turf.pieces, turf.by_percent.by_5), (52, 53));
    // Another grower (Australia): 8.2 x 5.9 m is 48.38 m², "50" with its trimming.
    let guide = ordered(&area(8.2 * 5.9), &by_percent(3.0));
    assert_eq!(pieces(&guide), 50); // 49.83
}

/// University of Maryland, "Example of how to determine how much fertilizer": 4550 sq ft at 1 lb of nitrogen a 1000 sq ft
/// from a 24-2-12 bag take 18.96 lb. One pound is 0.453 592 37 kg.
#[test]
fn fertiliser_by_its_nitrogen() {
    const POUND_KG: f64 = 0.453_592_37;
    let square_foot = FOOT * FOOT;
    let settings = OrderSettings {
        fertiliser: Some(Spread {
            g_per_m2: 1000.0 * POUND_KG / 0.24 / (1000.0 * square_foot),
        }),
        ..nothing()
    };
    let order = ordered(&area(4550.0 * square_foot), &settings);
    let kg = order.fertiliser.expect("fertiliser").kg;
    assert_abs_diff_eq!(kg / POUND_KG, 18.96, epsilon = 5e-3);
}

/// Common practice, no source: 38 m² at 30 mm and 1.4 t/m³ is 1.6 t where nothing is allowed for settling.
#[test]
fn a_top_up_without_settlement() {
    let mut settings = topsoil(0.03);
    settings.soil.as_mut().expect("soil").settlement_percent = 0.0;
    let soil = ordered(&area(38.0), &settings).soil.expect("soil");
    assert_abs_diff_eq!(soil.tonnes, 1.6, epsilon = 0.005);
    assert_abs_diff_eq!(soil.order_tonnes, 2.0, epsilon = 1e-9); // in half tonnes
}

/// A turf explainer (US): half an acre in pallets of 50 square yards is 2420 square yards, 48.4 pallets: 49.
#[test]
fn half_an_acre_in_pallets() {
    let mut settings = by_percent(0.0);
    let turf = settings.turf.as_mut().expect("turf");
    (turf.piece_width_m, turf.piece_length_m) = (18.0 * 0.0254, 72.0 * 0.0254);
    turf.part_pallets = false;
    let order = ordered(&area(0.5 * 4840.0 * YARD * YARD), &settings);
    let turf = order.turf.expect("turf");
    assert_eq!(
        (turf.pieces, turf.pallets, turf.ordered_pieces),
        (2420, 49, 2450)
    );
    assert_abs_diff_eq!(turf.waste.pallets_m2, 30.0 * YARD * YARD, epsilon = 1e-6);
}

/// Two growers (US): a pallet of 450 square feet holds 168½ slabs of 16 x 24 in; another counts 170 (453.3 sq ft).
#[test]
fn slabs_to_a_pallet() {
    let mut settings = by_percent(0.0);
    settings.turf = Some(Turf {
        method: Method::Percent,
        cutting_percent: 0.0,
        ..PROFILES[3].turf()
    });
    let order = ordered(&area(450.0 * FOOT * FOOT), &settings);
    assert_eq!(pieces(&order), 169); // 168.75
    let turf = order.turf.expect("turf");
    assert_eq!((turf.pallets, turf.ordered_pieces), (1, 170));
    let line = order.takeoff.first().expect("a line");
    assert_abs_diff_eq!(line.net, 168.75, epsilon = 1e-9);
}

fn topsoil(depth_m: f64) -> OrderSettings {
    OrderSettings {
        soil: Some(Soil {
            depth_m,
            density_t_m3: 1.4,
            settlement_percent: 20.0,
            bag_m3: 0.7,
            round_t: 0.5,
        }),
        ..nothing()
    }
}

/// Gardening articles on topsoil: 20 x 20 ft at 2 in is 2.47 cubic yards; 1000 sq ft at 4 in "about 12" (University of
/// Connecticut); 1 cubic yard covers 324 sq ft at 1 in.
#[test]
fn settled_topsoil() {
    for (square_feet, inches, cubic_yards) in [
        (400.0, 2.0, 2.469),
        (1000.0, 4.0, 12.346),
        (1000.0, 1.0, 3.086),
    ] {
        let order = ordered(&area(square_feet * FOOT * FOOT), &topsoil(inches * 0.0254));
        let soil = order.soil.expect("soil");
        assert_abs_diff_eq!(soil.settled_m3 / YARD.powi(3), cubic_yards, epsilon = 5e-4);
    }
}

/// A UK landscape price book: imported topsoil at £28 a cubic metre, *allowing 20 % for settlement*, per 100 m² of
/// depths 100 to 1000 mm. The book rounds, by up to 1 %.
#[test]
fn loose_topsoil_as_a_price_book_has_it() {
    for (mm, pounds) in [
        (100.0, 335.0),
        (150.0, 500.0),
        (300.0, 1000.0),
        (450.0, 1500.0),
        (500.0, 1675.0),
        (600.0, 2025.0),
        (750.0, 2500.0),
        (1000.0, 3350.0),
    ] {
        let order = ordered(&area(100.0), &topsoil(mm / 1000.0));
        let loose_m3 = order.soil.expect("soil").loose_m3;
        assert_abs_diff_eq!(loose_m3 * 28.0, pounds, epsilon = 0.01 * pounds);
    }
}

/// US excavation notes: 200 cubic yards in the ground at 40 % swell are 280 loose. UK skip guides: an 8-yard skip (6.1 m³)
/// full of soil at 1.5 t/m³ weighs 9.15 t, over its 8 t: it takes two.
#[test]
fn spoil_by_volume_and_by_weight() {
    let strip = |depth_m, swell_percent, skip_m3, skip_t| OrderSettings {
        old_turf: Some(OldTurf {
            depth_m,
            density_t_m3: 1.5,
            swell_percent,
            skip_m3,
            skip_t,
        }),
        ..nothing()
    };
    let cubic_yard = YARD.powi(3);
    let order = ordered(&area(1000.0), &strip(0.2 * cubic_yard, 40.0, 6.1, 8.0));
    let old = order.old_turf.expect("old turf");
    assert_abs_diff_eq!(old.loose_m3 / cubic_yard, 280.0, epsilon = 1e-9);

    let order = ordered(&area(61.0), &strip(0.1, 0.0, 6.1, 8.0));
    let old = order.old_turf.expect("old turf");
    assert_abs_diff_eq!(old.tonnes, 9.15, epsilon = 1e-9);
    assert_eq!((old.skips, old.skips_by), (2, "weight"));
}

/// Cornell: 95 % purity and 85 % germination make 81 % pure live seed.
#[test]
fn pure_live_seed() {
    let settings = OrderSettings {
        seed: Some(Seed {
            g_per_m2: 30.0,
            purity_percent: 95.0,
            germination_percent: 85.0,
        }),
        ..nothing()
    };
    let order = ordered(&area(100.0), &settings);
    let seed = order.seed.expect("seed");
    assert_abs_diff_eq!(3.0 / seed.kg, 0.81, epsilon = 5e-3);
    assert_abs_diff_eq!(3.0 / seed.kg, 0.8075, epsilon = 1e-12);
}

/// A trade forum (US): four men lay 10 000 sq ft in four hours, 625 sq ft a man-hour; one man takes 16 hours.
#[test]
fn laying_time() {
    let square_foot = FOOT * FOOT;
    for (men, hours) in [(4.0, 4.0), (1.0, 16.0)] {
        let mut settings = by_percent(0.0);
        settings.crew = Some(Crew {
            lay_m2_per_hour: men * 625.0 * square_foot,
            hours_per_day: 8.0,
            lay_within_h: 24.0,
        });
        let order = ordered(&area(10_000.0 * square_foot), &settings);
        let (laying, deliveries) = (order.laying.expect("laying"), order.deliveries);
        // To the nearest piece of 1 m² in 929.
        assert_abs_diff_eq!(laying.hours, hours, epsilon = 0.002 * hours);
        assert_eq!(laying.days, if men > 1.0 { 1 } else { 3 });
        let drops: u64 = deliveries.iter().map(|d| d.pieces).sum();
        assert_eq!(drops, order.turf.expect("turf").ordered_pieces);
        let most = laying.hours_per_delivery * laying.lay_m2_per_hour;
        assert!(deliveries.iter().all(|d| d.pieces as f64 <= most));
    }
}

/// By hand: 929 pieces of 20 kg, 50 to a pallet of a tonne, are 19 pallets; seven go on a vehicle for 7.5 t, six where there is room
/// for six. Each load comes once, and all of them are what was ordered.
#[test]
fn loads_fit_their_vehicle() {
    for (vehicle_t, pallets_per_drop, loads) in [
        (Some(7.5), None, vec![7, 7, 5]),
        (Some(7.5), Some(6), vec![6, 6, 6, 1]),
        (None, Some(10), vec![10, 9]),
        (None, None, vec![19]),
    ] {
        let mut settings = by_percent(0.0);
        settings.delivery = Some(Delivery {
            date: None,
            hours: None,
            vehicle_t,
            pallets_per_drop,
        });
        let order = ordered(&area(929.0), &settings);
        let pallets: Vec<u64> = order.deliveries.iter().map(|d| d.pallets).collect();
        assert_eq!(pallets, loads);
        let pieces: u64 = order.deliveries.iter().map(|d| d.pieces).sum();
        assert_eq!(pieces, order.turf.expect("turf").ordered_pieces);
        let most_kg = 1000.0 * vehicle_t.unwrap_or(100.0);
        assert!(order.deliveries.iter().all(|d| d.kg <= most_kg));
    }
    let mut settings = by_percent(0.0);
    settings.delivery = Some(Delivery {
        date: None,
        hours: None,
        vehicle_t: Some(0.5),
        pallets_per_drop: None,
    });
    let order = ordered(&area(100.0), &settings);
    assert!(
        order
            .warnings
            .iter()
            .any(|w| w.code() == "vehicle-too-small")
    );
}

/// By hand: 30 m² an hour for eight hours is 240 m² a day, so 215 pieces of 1 m² on five pallets, the last with 15, are a day's work,
/// and so are the 215 that are left of 415 after four full pallets.
#[test]
fn the_last_part_pallet_waits_for_no_other_day() {
    for (pieces, visits) in [(215.0, vec![215]), (415.0, vec![200, 215])] {
        let mut settings = by_percent(0.0);
        settings.crew = Some(Crew {
            lay_m2_per_hour: 30.0,
            hours_per_day: 8.0,
            lay_within_h: 24.0,
        });
        let order = ordered(&area(pieces), &settings);
        let came: Vec<u64> = order.deliveries.iter().map(|d| d.pieces).collect();
        assert_eq!(came, visits);
        assert_eq!(order.laying.expect("laying").days, visits.len() as u64);
        // Of four pallets and of eight, the last in part, one less leaves the full ones.
        let short = order.turf.expect("turf").chance_short.one_pallet_less;
        assert_eq!(short, 1.0);
    }
    use boundwalk::order::turf::one_pallet_less;
    assert_eq!(
        [215, 200, 50, 15].map(|n| one_pallet_less(n, 50)),
        [200, 150, 0, 0]
    );
}

/// Turf that keeps for a day comes as it can be laid: whole pallets, as many in all as were ordered, whatever the crew's pace and the
/// vehicle. By hand: 250 pieces on 5 pallets, 90 laid a day: a pallet a day.
#[test]
fn loads_are_of_whole_pallets_and_add_up() {
    for (pace, part_pallets) in [(20.0, true), (11.25, true), (11.25, false), (3.0, false)] {
        for pallets_per_drop in [None, Some(1), Some(2)] {
            let mut settings = by_percent(0.0);
            settings.turf = settings.turf.map(|turf| Turf {
                part_pallets,
                ..turf
            });
            settings.crew = Some(Crew {
                lay_m2_per_hour: pace,
                hours_per_day: 8.0,
                lay_within_h: 24.0,
            });
            settings.delivery = Some(Delivery {
                date: None,
                hours: None,
                vehicle_t: Some(3.5),
                pallets_per_drop,
            });
            let order = ordered(&area(250.0), &settings);
            let turf = order.turf.expect("turf");
            assert_eq!((turf.ordered_pieces, turf.pallets), (250, 5));
            let drops = &order.deliveries;
            assert_eq!(drops.iter().map(|drop| drop.pieces).sum::<u64>(), 250);
            assert_eq!(drops.iter().map(|drop| drop.pallets).sum::<u64>(), 5);
            for drop in drops {
                assert!(drop.kg <= 3500.0 && drop.pallets <= pallets_per_drop.unwrap_or(3).into());
                approx::assert_abs_diff_eq!(drop.kg, 20.0 * drop.pieces as f64, epsilon = 1e-9);
            }
        }
    }
}

/// By hand: 60 000 pieces, 50 to a pallet, at one pallet a load are 1200 loads, 48 on each of 25 days. No list is longer than 1000.
#[test]
fn the_loads_of_all_days_together_are_bounded() {
    let mut settings = by_percent(0.0);
    settings.crew = Some(Crew {
        lay_m2_per_hour: 300.0,
        hours_per_day: 8.0,
        lay_within_h: 24.0,
    });
    settings.delivery = Some(Delivery {
        date: None,
        hours: None,
        vehicle_t: None,
        pallets_per_drop: Some(1),
    });
    let loads = ordered(&area(60_000.0), &settings).deliveries;
    assert!((900..=1000).contains(&loads.len()), "{}", loads.len());
    assert_eq!(loads.iter().map(|load| load.pieces).sum::<u64>(), 60_000);
}

/// Where a pallet does not keep until it is laid and parts of pallets are sold, it comes on more pallets than it would fill: these are
/// the pallets of the order. Bought by the pallet it costs what it fills. By hand: 250 pieces, 30 laid in a day of 8 hours, so 28 a
/// day over nine days.
#[test]
fn part_pallets_that_come_are_the_pallets_ordered() {
    let mut settings = by_percent(0.0);
    settings.turf = settings.turf.map(|turf| Turf {
        part_pallets: true,
        ..turf
    });
    settings.crew = Some(Crew {
        lay_m2_per_hour: 3.75,
        hours_per_day: 8.0,
        lay_within_h: 24.0,
    });
    let order = ordered(&area(250.0), &settings);
    let turf = order.turf.expect("turf");
    assert_eq!(turf.ordered_pieces, 250);
    let drops = &order.deliveries;
    assert_eq!(drops.len(), 9);
    assert_eq!(drops.iter().map(|drop| drop.pieces).sum::<u64>(), 250);
    assert_eq!(
        drops.iter().map(|drop| drop.pallets).sum::<u64>(),
        turf.pallets
    );
    assert_eq!(turf.pallets, 9);
    assert!(turf.comes_in_parts());
}

/// A contractor's blog (US): 300 ft of edging from 10 ft pieces that lose 6 in each takes 31.58: 32, not 30.
#[test]
fn edging_with_overlap() {
    assert_eq!(edging::pieces(300.0 * FOOT, 10.0 * FOOT, 0.5 * FOOT), 32);
    assert_eq!(edging::pieces(300.0 * FOOT, 10.0 * FOOT, 0.0), 30);
}

/// 12 x 8 m less a tree ring of 1 m.
fn tree_garden() -> (Vec<Lawn>, Vec<Deduction>) {
    let outer = polygon(&[(0.0, 0.0), (12.0, 0.0), (12.0, 8.0), (0.0, 8.0)]);
    let ring: MultiPolygon<f64> = circle(6.0, 4.0, 1.0, 720);
    let net = outer.difference(&ring);
    let lawn = Lawn {
        label: "lawn".to_owned(),
        gross_m2: 96.0,
        net_m2: 96.0 - PI,
        live_sides: Vec::new(),
        outer,
        net,
    };
    let tree = Deduction {
        label: "tree".to_owned(),
        kind: Kind::Bed,
        centre: Coord { x: 6.0, y: 4.0 },
        radius_m: Some(1.0),
        outline: ring,
        area_m2: PI,
        deducted_m2: PI,
        deducted_of_lawn_m2: vec![PI],
        live_m: 2.0 * PI,
        live_sides: Vec::new(),
    };
    (vec![lawn], vec![tree])
}

/// The whole job by hand: net 96 - pi; every quantity worked out beside its check.
#[test]
fn a_whole_job() {
    let (lawns, deductions) = tree_garden();
    let net_m2 = 96.0 - PI; // 92.858
    let take = Take {
        net_m2,
        sigma_m2: 0.0,
        slope: None,
        taped: &[],
        lawns: &lawns,
        deductions: &deductions,
        perimeter_m: Some(40.0),
        perimeter_sigma_m: 0.0,
    };
    let settings = OrderSettings {
        edging: Some(Edging {
            piece_m: 2.5,
            overlap_m: 0.0,
            around: ["lawn", "beds", "paths"].map(str::to_owned).to_vec(),
        }),
        fertiliser: Some(Spread { g_per_m2: 35.0 }),
        water_mm: Some(25.0),
        old_turf: Some(OldTurf {
            depth_m: 0.03,
            density_t_m3: 1.5,
            swell_percent: 25.0,
            skip_m3: 4.59,
            skip_t: 6.0,
        }),
        mulch: Some(Mulch {
            depth_m: 0.075,
            clear_radius_m: 0.25,
        }),
        turf: Some(PROFILES[0].turf()),
        ..topsoil(0.1)
    };
    let order = ordered(&take, &settings);
    let soil = order.soil.as_ref().expect("soil");
    assert_abs_diff_eq!(soil.settled_m3, 9.286, epsilon = 5e-4);
    assert_abs_diff_eq!(soil.loose_m3, 11.143, epsilon = 5e-4);
    assert_abs_diff_eq!(soil.tonnes, 15.60, epsilon = 5e-3);
    assert_abs_diff_eq!(soil.tonnes_range[0], 13.4, epsilon = 0.05);
    assert_abs_diff_eq!(soil.tonnes_range[1], 18.9, epsilon = 0.05);
    assert_eq!((soil.order_tonnes, soil.bags), (16.0, 16)); // 15.92 bags of 0.7 m³
    let edging = order.edging.as_ref().expect("edging");
    assert_abs_diff_eq!(edging.length_m, 40.0 + 2.0 * PI, epsilon = 1e-9);
    let runs: Vec<u64> = edging.runs.iter().map(|run| run.pieces).collect();
    assert_eq!((runs, edging.pieces), (vec![16, 3], 19));
    let fertiliser = order.fertiliser.as_ref().expect("fertiliser");
    assert_abs_diff_eq!(fertiliser.kg, 3.25, epsilon = 5e-4);
    assert_abs_diff_eq!(
        order.water.as_ref().expect("water").litres,
        2321.0,
        epsilon = 0.5
    );
    let old = order.old_turf.as_ref().expect("old turf");
    assert_abs_diff_eq!(old.bank_m3, 2.786, epsilon = 5e-4);
    assert_abs_diff_eq!(old.loose_m3, 3.48, epsilon = 5e-3);
    assert_abs_diff_eq!(old.tonnes, 4.18, epsilon = 5e-3);
    assert_eq!(old.skips, 1);
    assert_abs_diff_eq!(
        order.mulch.as_ref().expect("mulch").m3,
        0.221,
        epsilon = 5e-4
    );

    // Turf: never more than 94 rolls, where area and 10 % says 103.
    let turf = order.turf.as_ref().expect("turf");
    assert!(turf.pieces <= 94, "{}", turf.pieces);
    assert_eq!(turf.by_percent.by_10, 103);
    let waste = turf.waste;
    let parts = waste.cutting_m2
        + waste.error_m2
        + waste.tolerance_m2
        + waste.rounding_m2
        + waste.pallets_m2;
    assert_abs_diff_eq!(parts, turf.ordered_pieces as f64 - net_m2, epsilon = 1e-9);
    assert_eq!(order.chance_short, 0.0);
    assert!(order.cautions.len() >= 8);
}

/// A path across the lawn opens its edge: two runs of lawn edging, two of path edging.
#[test]
fn edging_stops_where_a_path_crosses_the_edge() {
    let outer = polygon(&[(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0)]);
    let path = polygon(&[(4.0, -1.0), (5.0, -1.0), (5.0, 9.0), (4.0, 9.0)]);
    let lawns = [Lawn {
        label: "lawn".to_owned(),
        gross_m2: 80.0,
        net_m2: 72.0,
        live_sides: Vec::new(),
        net: outer.difference(&path),
        outer,
    }];
    let deductions = [Deduction {
        label: "gravel".to_owned(),
        kind: Kind::Path,
        centre: Coord { x: 4.5, y: 4.0 },
        radius_m: None,
        outline: path,
        area_m2: 10.0,
        deducted_m2: 8.0,
        deducted_of_lawn_m2: vec![8.0],
        live_m: 16.0,
        live_sides: Vec::new(),
    }];
    let take = Take {
        lawns: &lawns,
        deductions: &deductions,
        ..area(72.0)
    };
    let around = |words: &[&str], take: &Take<'_>| {
        let settings = OrderSettings {
            edging: Some(Edging {
                piece_m: 2.5,
                overlap_m: 0.0,
                around: words.iter().map(|&word| word.to_owned()).collect(),
            }),
            ..nothing()
        };
        let order = ordered(take, &settings);
        // Where nothing is edged there is no edging.
        (order.edging, order.warnings)
    };
    let lengths = |words: &[&str]| {
        let (edging, warnings) = around(words, &take);
        assert!(warnings.is_empty(), "{warnings:?}");
        let runs = edging.map_or(Vec::new(), |edging| edging.runs);
        let mut lengths: Vec<f64> = runs.iter().map(|run| run.length_m).collect();
        lengths.sort_by(f64::total_cmp);
        lengths
    };
    let all: [f64; 4] = [8.0, 8.0, 16.0, 18.0];
    for (words, wanted) in [
        (&["lawn", "beds", "paths"][..], &all[..]),
        (&["lawn"], &all[2..]),
        (&["Paths"], &all[..2]),
        (&["gravel"], &all[..2]),
        (&["beds"], &[]),
    ] {
        let found = lengths(words);
        assert_eq!(found.len(), wanted.len(), "{words:?}");
        for (found, wanted) in found.iter().zip(wanted) {
            assert_abs_diff_eq!(*found, *wanted, epsilon = 1e-6);
        }
    }
    let (none, warnings) = around(&["gravle"], &take);
    assert_eq!((none, warnings[0].code()), (None, "edging-unknown"));

    // The edge of 36 m is known to 0.36 m, a hundredth: 1.645 of them more at 95 %.
    let unsure = Take {
        perimeter_m: Some(36.0),
        perimeter_sigma_m: 0.36,
        ..take
    };
    let edging = around(&["lawn"], &unsure).0.expect("edging");
    assert_abs_diff_eq!(edging.length_m, 34.0, epsilon = 1e-6);
    assert_abs_diff_eq!(edging.sigma_m, 0.34, epsilon = 1e-6);
    assert_abs_diff_eq!(edging.order_m, 34.0 * 1.01645, epsilon = 1e-4);
    assert_eq!(edging.pieces, 7 + 8); // 16.26 and 18.30 m of 2.5 m
}

/// Rounding is written down, so it can be checked by hand: 3 x 0.335 = 1.005, up to 1.01; 17.5 % of 5.51 = 0.96425, 0.96.
#[test]
fn prices_are_decimals_rounded_half_up() {
    let decimal = |text: &str| text.parse::<Decimal>().expect("a decimal");
    let price = PriceSettings {
        currency: "GBP".to_owned(),
        decimals: 2,
        tax_percent: decimal("17.5"),
        markup_percent: None,
        quote_valid_until: None,
        rates: vec![("turf_per_piece", decimal("0.335"))],
        costs: Vec::new(),
        extras: vec![Extra {
            label: "barrow".to_owned(),
            quantity: decimal("1"),
            unit: "day".to_owned(),
            rate: decimal("4.5"),
        }],
    };
    let order = plan(&area(3.0), &by_percent(0.0), Some(&price)).expect("an order");
    let bill = order.price.expect("a price");
    let shown: Vec<String> = bill.lines.iter().map(|l| l.amount.to_string()).collect();
    assert_eq!(shown, ["1.01", "4.50"]);
    assert_eq!(
        (
            bill.net.to_string(),
            bill.tax.to_string(),
            bill.total.to_string()
        ),
        ("5.51".to_owned(), "0.96".to_owned(), "6.47".to_owned())
    );
    assert_eq!((bill.document, bill.unpriced.len()), ("estimate", 0));
    // Where nothing of what is ordered has a rate there is no price, and no price of 0.00.
    let rateless = PriceSettings {
        rates: vec![("soil_per_tonne", decimal("38.5"))],
        extras: Vec::new(),
        ..price.clone()
    };
    let order = plan(&area(3.0), &by_percent(0.0), Some(&rateless)).expect("an order");
    assert_eq!(order.price, None);
    assert!(order.warnings.iter().any(|w| w.code() == "unpriced"));
    // What is ordered without a rate is named, not left out in silence.
    let with_soil = OrderSettings {
        turf: by_percent(0.0).turf,
        ..topsoil(0.1)
    };
    let order = plan(&area(3.0), &with_soil, Some(&price)).expect("an order");
    assert_eq!(order.price.expect("a price").unpriced, ["topsoil"]);
    assert!(order.warnings.iter().any(|w| w.code() == "unpriced"));
}

/// By hand: 40 m round 10 x 10 m are 34 pieces of 1.2 m, 40.8 m of edging, which is what a merchant is paid for; 0.1 m of soil on
/// 100 m² is 10 m³, 12 m³ loose, 16.8 t, in steps of half a tonne 17 t: three loads of at most 7.5 t. Common practice, no source.
#[test]
fn what_is_bought_is_paid_for_and_brought() {
    let outer = polygon(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]);
    let lawn = Lawn {
        label: "lawn".to_owned(),
        gross_m2: 100.0,
        net_m2: 100.0,
        live_sides: Vec::new(),
        net: outer.clone(),
        outer,
    };
    let take = Take {
        lawns: &[lawn],
        ..area(100.0)
    };
    let settings = OrderSettings {
        edging: Some(Edging {
            piece_m: 1.2,
            overlap_m: 0.0,
            around: vec!["lawn".to_owned()],
        }),
        delivery: Some(Delivery {
            date: None,
            hours: None,
            vehicle_t: Some(7.5),
            pallets_per_drop: None,
        }),
        ..topsoil(0.1)
    };
    let price = PriceSettings {
        currency: "GBP".to_owned(),
        decimals: 2,
        tax_percent: Decimal::ZERO,
        markup_percent: None,
        quote_valid_until: None,
        rates: ["soil_per_tonne", "edging_per_m", "delivery_each"]
            .map(|key| (key, Decimal::from(10)))
            .to_vec(),
        costs: vec![("edging_per_m", Decimal::from(5))],
        extras: Vec::new(),
    };
    let order = plan(&take, &settings, Some(&price)).expect("an order");
    let lines = order.price.expect("a price").lines;
    let shown: Vec<String> = lines
        .iter()
        .map(|line| {
            format!(
                "{} {} {} {}",
                line.item, line.quantity, line.unit, line.amount
            )
        })
        .collect();
    assert_eq!(
        shown,
        [
            "topsoil 17 t 170.00",
            "edging 40.8 m 408.00",
            "delivery 3 delivery 30.00"
        ]
    );
    assert_eq!(order.cost.expect("a cost").net.to_string(), "204.00");
}

/// The order is enough at the chance asked for, and says what less would risk.
#[test]
fn the_order_covers_the_error() {
    let (lawns, deductions) = tree_garden();
    for sigma_m2 in [0.2, 1.0, 2.5] {
        for chance_enough in [0.8, 0.95, 0.99] {
            let take = Take {
                net_m2: 96.0 - PI,
                sigma_m2,
                slope: None,
                taped: &[],
                lawns: &lawns,
                deductions: &deductions,
                perimeter_m: None,
                perimeter_sigma_m: 0.0,
            };
            let settings = OrderSettings {
                chance_enough,
                ..OrderSettings::default()
            };
            let order = ordered(&take, &settings);
            let turf = order.turf.as_ref().expect("turf");
            let rows = turf.rows.as_ref().expect("rows");
            let exact = rows.pieces as f64 * order.cover_area_m2 / take.net_m2;
            assert_eq!(turf.pieces, exact.ceil() as u64);
            let short = turf.chance_short;
            assert!(short.ordered <= 1.0 - chance_enough + 1e-9);
            assert!(short.one_pallet_less > 0.99);
            assert_eq!(order.chance_short, short.ordered);
            assert_eq!(turf.method, "rows");
        }
    }
}

/// One-sided, 1.645 sigma at 0.95; over 5 % of net the first thing said is to measure better.
#[test]
fn a_wide_allowance_asks_for_a_tape_first() {
    let take = |sigma_m2| Take {
        sigma_m2,
        ..area(100.0)
    };
    let narrow = ordered(&take(3.0), &by_percent(5.0));
    assert_abs_diff_eq!(
        narrow.cover_area_m2,
        100.0 + 1.644_854 * 3.0,
        epsilon = 1e-5
    );
    assert!(narrow.warnings.is_empty());
    let wide = ordered(&take(3.1), &by_percent(5.0));
    let first = wide.warnings.first().expect("a warning");
    assert_eq!(first.code(), "allowance");
    assert_eq!(first.weight(), boundwalk::notice::Weight::Doubt);
    assert!(first.to_string().starts_with("Tape the lawn"));
}

#[test]
fn settings_that_cannot_be_laid_are_refused() {
    let refuse = |change: &dyn Fn(&mut Turf)| {
        let mut settings = OrderSettings::default();
        change(settings.turf.as_mut().expect("turf"));
        plan(&area(50.0), &settings, None).expect_err("a fault")
    };
    for fault in [
        refuse(&|turf| turf.piece_width_m = 0.0),
        refuse(&|turf| turf.piece_length_m = f64::NAN),
        refuse(&|turf| turf.stagger_m = 2.0),
        refuse(&|turf| turf.min_piece_m = -0.1),
        refuse(&|turf| turf.size_tolerance_percent = 100.0),
    ] {
        assert_eq!(fault.code(), "order-turf");
    }
    assert!(plan(&area(f64::NAN), &nothing(), None).is_err());
    assert!(plan(&area(0.0), &nothing(), None).is_err());
}
