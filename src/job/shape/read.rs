//! Reads one `[[shape]]` of a job or tape sheet: a figure that was measured with a tape. Whatever is missing or wrong is recorded as a
//! fault at its line.

use super::{Across, Diagonal, Figure, Hand, Ordinates, Place, Rule, Shape};
use crate::job::keys::{Keys, Limits};

/// Letters of the corners of a figure, in the order of its sides.
const LETTERS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";

/// What taped lengths, offsets, sigmas and places on a plan may be, metres.
const LENGTH: Limits = Limits::POSITIVE.up_to(10_000.0);
const FROM_ZERO: Limits = Limits::NOT_NEGATIVE.up_to(10_000.0);
const TAPE_SIGMA: Limits = Limits::POSITIVE.up_to(10.0);
const ON_PLAN: Limits = Limits::between(-100_000.0, 100_000.0);

impl Shape {
    /// Reads one `[[shape]]`; `number` is its place in the sheet. `None` where something needed is absent or wrong:
    /// the fault is then recorded.
    #[must_use]
    pub fn read(mut keys: Keys<'_>, number: usize) -> Option<Shape> {
        let label = keys
            .text("label")
            .unwrap_or_else(|| format!("shape {number}"));
        let kinds = KINDS.map(|kind| (kind, kind));
        let kind = keys.choice("kind", &kinds);
        let kind = keys.need("kind", kind, "what figure it is, such as \"rectangle\"");
        let figure = kind.and_then(|kind| figure(&mut keys, kind));
        let deduct = keys.flag_or("deduct", false);
        let sigma_m = keys.length_m("sigma_m", TAPE_SIGMA);
        keys.default_is("sigma_m", "0.02");
        let place = place(&mut keys);
        let line = keys.line();
        if kind.is_some() {
            // Without a kind no other key was read, and each would be told as unknown.
            keys.done();
        }
        Some(Shape {
            label,
            figure: figure?,
            deduct,
            sigma_m,
            place,
            line: Some(line),
        })
    }
}

const KINDS: [&str; 8] = [
    "rectangle",
    "triangle",
    "circle",
    "ellipse",
    "trapezoid",
    "polygon",
    "radii",
    "offsets",
];

fn figure(keys: &mut Keys<'_>, kind: &str) -> Option<Figure> {
    match kind {
        "rectangle" => {
            let (length_m, width_m) = (needed(keys, "length_m"), needed(keys, "width_m"));
            let hand = hand(keys);
            Some(Figure::Rectangle {
                length_m: length_m?,
                width_m: width_m?,
                hand,
            })
        }
        "triangle" => triangle(keys),
        "circle" => circle(keys),
        "ellipse" => {
            let (length_m, width_m) = (needed(keys, "length_m"), needed(keys, "width_m"));
            Some(Figure::Ellipse {
                length_m: length_m?,
                width_m: width_m?,
            })
        }
        "trapezoid" => trapezoid(keys),
        "polygon" => polygon(keys),
        "radii" => {
            let radii = keys.lengths_m("radii_m", LENGTH);
            let radii_m = keys.need("radii_m", radii, "the radii, at equal angles")?;
            Some(Figure::Radii { radii_m })
        }
        _ => offsets(keys),
    }
}

fn circle(keys: &mut Keys<'_>) -> Option<Figure> {
    let radius = keys.length_m("radius_m", LENGTH);
    let diameter = keys.length_m("diameter_m", LENGTH);
    if keys.has("radius_m") == keys.has("diameter_m") {
        keys.fault(
            None,
            format!("{} needs radius_m or diameter_m, one of them.", keys.name()),
            "Give the one that was taped.",
        );
    }
    let sector_deg = keys.number_or("sector_deg", Limits::POSITIVE.up_to(360.0), 360.0);
    Some(Figure::Circle {
        across: radius
            .map(Across::Radius)
            .or(diameter.map(Across::Diameter))?,
        sector_deg,
    })
}

fn trapezoid(keys: &mut Keys<'_>) -> Option<Figure> {
    let parallel = keys.lengths_m("parallel_m", LENGTH);
    let parallel = keys.need(
        "parallel_m",
        parallel,
        "the two parallel sides, such as [4.0, 6.0]",
    );
    let height_m = needed(keys, "height_m");
    let hand = hand(keys);
    let Ok(parallel_m) = <[f64; 2]>::try_from(parallel?) else {
        count(keys, "parallel_m", "two lengths");
        return None;
    };
    Some(Figure::Trapezoid {
        parallel_m,
        height_m: height_m?,
        hand,
    })
}

/// A length that the figure cannot do without: where it is missing, that is a fault.
fn needed(keys: &mut Keys<'_>, key: &'static str) -> Option<f64> {
    let length = keys.length_m(key, LENGTH);
    keys.need(key, length, "it must be taped")
}

/// Records that a list has the wrong number of items, where the sheet has the list at all.
fn count(keys: &Keys<'_>, key: &str, wanted: &str) {
    if keys.has(key) {
        keys.fault(
            Some(key),
            format!("{} {key} needs {wanted}.", keys.name()),
            "",
        );
    }
}

/// The side of its baseline on which the figure lies; left unless it is told.
fn hand(keys: &mut Keys<'_>) -> Hand {
    keys.default_is("side", "\"left\"");
    keys.choice("side", &[("left", Hand::Left), ("right", Hand::Right)])
        .unwrap_or(Hand::Left)
}

fn triangle(keys: &mut Keys<'_>) -> Option<Figure> {
    if keys.has("sides_m") {
        let sides = keys.lengths_m("sides_m", LENGTH);
        let hand = hand(keys);
        let Ok(sides_m) = <[f64; 3]>::try_from(sides?) else {
            count(keys, "sides_m", "three lengths");
            return None;
        };
        return Some(Figure::ThreeSides { sides_m, hand });
    }
    let (base_m, height_m) = (needed(keys, "base_m"), needed(keys, "height_m"));
    let foot_m = keys.length_m("foot_m", FROM_ZERO);
    let hand = hand(keys);
    Some(Figure::Triangle {
        base_m: base_m?,
        height_m: height_m?,
        foot_m,
        hand,
    })
}

fn polygon(keys: &mut Keys<'_>) -> Option<Figure> {
    let sides = keys.lengths_m("sides_m", LENGTH);
    let sides_m = keys.need(
        "sides_m",
        sides,
        "the sides in order, A-B, B-C, … back to A",
    );
    let corners = sides_m.as_ref().map_or(0, Vec::len);
    let diagonals = diagonals(keys, corners);
    let inward = inward(keys, corners);
    let hand = hand(keys);
    Some(Figure::Polygon {
        sides_m: sides_m?,
        diagonals,
        inward,
        hand,
    })
}

/// The diagonals listed from A, and those named by both their corners.
fn diagonals(keys: &mut Keys<'_>, corners: usize) -> Vec<Diagonal> {
    let from_a = keys.lengths_m("diagonals_m", LENGTH).unwrap_or_default();
    let mut diagonals = Vec::new();
    for (at, length_m) in from_a.iter().enumerate() {
        // A-C, A-D, …; the second of a figure with four sides can only be B-D.
        let (from, to) = if corners == 4 && at == 1 {
            (1, 3)
        } else {
            (0, at + 2)
        };
        if (corners == 4 && at > 1) || (corners != 4 && at + 3 >= corners) {
            keys.fault(
                Some("diagonals_m"),
                format!(
                    "{} has more diagonals than corners can take from A.",
                    keys.name()
                ),
                "Give the others as diagonal = [{ from = \"B\", to = \"D\", length_m = 7.1 }].",
            );
            break;
        }
        diagonals.push(Diagonal {
            from,
            to,
            length_m: *length_m,
        });
    }
    for mut named in keys.tables("diagonal") {
        let (from, to) = (corner(&mut named, "from"), corner(&mut named, "to"));
        let length_m = needed(&mut named, "length_m");
        named.done();
        if let (Some(from), Some(to), Some(length_m)) = (from, to, length_m) {
            diagonals.push(Diagonal { from, to, length_m });
        }
    }
    diagonals
}

/// The corners that point into the figure, each once.
fn inward(keys: &mut Keys<'_>, corners: usize) -> Vec<usize> {
    let mut inward = Vec::new();
    for letter in keys.texts("inward").unwrap_or_default() {
        match corner_index(&letter) {
            Some(at) if at < corners => inward.push(at),
            _ => keys.fault(
                Some("inward"),
                format!(
                    "{} inward: \"{letter}\" isn't one of its corners.",
                    keys.name()
                ),
                "Corners are lettered A, B, … in the order of the sides.",
            ),
        }
    }
    inward.sort_unstable();
    inward.dedup();
    inward
}

fn corner(keys: &mut Keys<'_>, key: &'static str) -> Option<usize> {
    let letter = keys.text(key);
    let letter = keys.need(key, letter, "a corner's letter")?;
    let index = corner_index(&letter);
    if index.is_none() {
        keys.fault(
            Some(key),
            format!(
                "{} {key}: \"{letter}\" isn't a corner's letter.",
                keys.name()
            ),
            "Corners are lettered A, B, … in the order of the sides.",
        );
    }
    index
}

/// Number of a corner by its letter, 0 for A; `None` where it is no single letter from A to Z.
fn corner_index(letter: &str) -> Option<usize> {
    let upper = letter.trim().to_uppercase();
    let mut letters = upper.chars();
    match (letters.next(), letters.next()) {
        (Some(only), None) => LETTERS.find(only),
        _ => None,
    }
}

/// A figure taped by offsets from a baseline, to one side of it (`offsets_m`) or both (`left_m`, `right_m`).
fn offsets(keys: &mut Keys<'_>) -> Option<Figure> {
    let rule = keys.choice(
        "rule",
        &[("trapezoid", Rule::Trapezoid), ("simpson", Rule::Simpson)],
    );
    keys.default_is("rule", "\"trapezoid\"");
    let spacing = keys.length_m("spacing_m", LENGTH);
    let shared = keys.lengths_m("chainage_m", FROM_ZERO);
    if keys.has("spacing_m") && keys.has("chainage_m") {
        keys.fault(
            Some("spacing_m"),
            format!("{} has both spacing_m and chainage_m.", keys.name()),
            "Keep chainage_m where the spacing isn't equal.",
        );
    }
    let one_side = keys.has("offsets_m");
    let mut sides = Vec::new();
    let mut whole = true;
    for (list, own, hand) in [
        ("offsets_m", "", Hand::Left),
        ("left_m", "left_chainage_m", Hand::Left),
        ("right_m", "right_chainage_m", Hand::Right),
    ] {
        if keys.has(list) {
            let side = ordinates(keys, (list, own), hand, spacing, shared.as_deref());
            whole &= side.is_some();
            sides.extend(side);
        }
    }
    if one_side && (keys.has("left_m") || keys.has("right_m")) {
        keys.fault(
            Some("offsets_m"),
            format!("{} has offsets_m beside left_m or right_m.", keys.name()),
            "Use offsets_m with side for one side of the baseline, left_m and right_m for both.",
        );
        whole = false;
    }
    if one_side {
        let hand = hand(keys);
        for side in &mut sides {
            side.hand = hand;
        }
    }
    if sides.is_empty() && whole {
        keys.need(
            "offsets_m",
            None::<()>,
            "the offsets, an end one at least at each end",
        );
        whole = false;
    }
    whole.then_some(Figure::Offsets {
        rule: rule.unwrap_or(Rule::Trapezoid),
        sides,
    })
}

/// The offsets of one list (distances at right angles from a baseline), each at its chainage (the distance along the baseline): the list's own
/// chainages, or the shared ones, or evenly spaced ones.
fn ordinates(
    keys: &mut Keys<'_>,
    (list, own): (&'static str, &'static str),
    hand: Hand,
    spacing_m: Option<f64>,
    shared_m: Option<&[f64]>,
) -> Option<Ordinates> {
    let offsets_m = keys.lengths_m(list, FROM_ZERO);
    let own_m = match own {
        "" => None,
        own => keys.lengths_m(own, FROM_ZERO),
    };
    let offsets_m = offsets_m?;
    let even = |spacing_m: f64| (0..offsets_m.len()).map(|i| i as f64 * spacing_m).collect();
    let chainage_m = own_m
        .or_else(|| shared_m.map(<[f64]>::to_vec))
        .or_else(|| spacing_m.map(even));
    if chainage_m.is_none() && !keys.has("spacing_m") && !keys.has("chainage_m") {
        keys.fault(
            Some(list),
            format!("{} doesn't say where its offsets are.", keys.name()),
            "Add spacing_m, or chainage_m with one chainage for each offset.",
        );
    }
    Some(Ordinates {
        hand,
        chainage_m: chainage_m?,
        offsets_m,
    })
}

/// Where the figure lies on the plan, from `at_m = [east, north]` and `bearing_deg`; `None` where that is not said.
fn place(keys: &mut Keys<'_>) -> Option<Place> {
    let at = keys.lengths_m("at_m", ON_PLAN);
    let bearing = keys.number("bearing_deg", Limits::between(-360.0, 360.0));
    if keys.has("bearing_deg") && !keys.has("at_m") {
        keys.fault(
            Some("bearing_deg"),
            format!("{} has bearing_deg but no at_m.", keys.name()),
            "Add at_m = [east, north]: where its baseline starts.",
        );
    }
    keys.default_is("bearing_deg", "90");
    match at.as_deref() {
        Some([east_m, north_m]) => Some(Place {
            east_m: *east_m,
            north_m: *north_m,
            // Unless told, a baseline points east, so that a plan reads like a sketch.
            bearing_deg: bearing.unwrap_or(90.0),
        }),
        Some(_) => {
            count(
                keys,
                "at_m",
                "two numbers, metres east and north of the plan's origin",
            );
            None
        }
        None => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::keys::Sheet;

    fn read(text: &str) -> Result<Vec<Shape>, Vec<String>> {
        let sheet = Sheet::parse(text, "tape.toml");
        let mut root = sheet.root();
        let shapes: Vec<Shape> = root
            .tables("shape")
            .into_iter()
            .enumerate()
            .filter_map(|(at, keys)| Shape::read(keys, at + 1))
            .collect();
        root.done();
        match sheet.finish() {
            Ok(_) => Ok(shapes),
            Err(faults) => Err(faults.0.iter().map(ToString::to_string).collect()),
        }
    }

    fn only(text: &str) -> Figure {
        let mut shapes = read(text).expect("a good sheet");
        assert_eq!(shapes.len(), 1);
        shapes.remove(0).figure
    }

    /// A place may lie south or west of the plan's origin, and is given in any unit.
    #[test]
    fn a_place_is_given_in_lengths() {
        let shapes = read(
            "[[shape]]\nkind = \"circle\"\ndiameter_m = 4\nat_m = [\"12ft 6in\", -2]\nbearing_deg = 45\n",
        );
        let place = shapes.expect("a good sheet")[0].place.expect("is placed");
        assert!(
            (place.east_m - 3.81).abs() < 1e-9 && place.north_m == -2.0,
            "{place:?}"
        );
        assert!(
            read("[[shape]]\nkind = \"circle\"\ndiameter_m = 4\nat_m = [\"far\", 2]\n").is_err()
        );
    }

    #[test]
    fn every_kind_is_read() {
        assert_eq!(
            only("[[shape]]\nkind = \"rectangle\"\nlength_m = \"12ft 6in\"\nwidth_m = 3\n"),
            Figure::Rectangle {
                length_m: 12.0 * 0.3048 + 6.0 * 0.0254,
                width_m: 3.0,
                hand: Hand::Left
            }
        );
        assert_eq!(
            only("[[shape]]\nkind = \"triangle\"\nsides_m = [3, 4, 5]\nside = \"right\"\n"),
            Figure::ThreeSides {
                sides_m: [3.0, 4.0, 5.0],
                hand: Hand::Right
            }
        );
        assert_eq!(
            only("[[shape]]\nkind = \"circle\"\ndiameter_m = \"90cm\"\ndeduct = true\n"),
            Figure::Circle {
                across: Across::Diameter(0.9),
                sector_deg: 360.0
            }
        );
        let Figure::Polygon { diagonals, .. } =
            only("[[shape]]\nkind = \"polygon\"\nsides_m = [4, 3, 4, 3]\ndiagonals_m = [5, 5]\n")
        else {
            panic!("a polygon");
        };
        assert_eq!((diagonals[1].from, diagonals[1].to), (1, 3));
        let Figure::Polygon {
            diagonals, inward, ..
        } = only(
            "[[shape]]\nkind = \"polygon\"\nsides_m = [12, 5, 7, 4, 5, 9]\ninward = [\"D\"]\n\
             diagonals_m = [13]\ndiagonal = [{ from = \"B\", to = \"d\", length_m = 8.6 }]\n",
        )
        else {
            panic!("a polygon");
        };
        assert_eq!(
            (diagonals[1].from, diagonals[1].to, inward),
            (1, 3, vec![3])
        );
        let Figure::Offsets { sides, rule } = only(
            "[[shape]]\nkind = \"offsets\"\nspacing_m = 2\nrule = \"simpson\"\nleft_m = [1, 2, 1]\n\
             right_m = [0, 1]\nright_chainage_m = [0, 4]\n",
        ) else {
            panic!("offsets");
        };
        assert_eq!(rule, Rule::Simpson);
        assert_eq!(sides[0].chainage_m, [0.0, 2.0, 4.0]);
        assert_eq!(
            (sides[1].hand, sides[1].chainage_m.as_slice()),
            (Hand::Right, &[0.0, 4.0][..])
        );
    }

    #[test]
    fn what_is_missing_or_too_much_is_said_with_its_line() {
        let faults = read(
            "[[shape]]\nkind = \"rectangle\"\nlength_m = 4\n[[shape]]\nkind = \"square\"\n[[shape]]\nkind = \"offsets\"\n\
             offsets_m = [1, 2]\n[[shape]]\nkind = \"circle\"\nradius_m = 1\ndiameter_m = 2\n[[shape]]\nkind = \"triangle\"\n\
             sides_m = [1, 2]\n[[shape]]\nkind = \"radii\"\nradii_m = [1, -2, 3]\nradius_m = 2\n",
        )
        .expect_err("six faults");
        let starts = |line: usize| {
            faults
                .iter()
                .filter(|f| f.starts_with(&format!("tape.toml line {line}:")))
                .count()
        };
        assert_eq!(starts(1), 1, "{faults:#?}");
        assert_eq!(starts(5), 1, "{faults:#?}");
        assert_eq!(starts(8), 1, "{faults:#?}");
        assert_eq!(starts(9), 1, "{faults:#?}");
        assert_eq!(starts(15), 1, "{faults:#?}");
        assert_eq!(starts(18), 1, "{faults:#?}");
        assert_eq!(faults.len(), 7, "{faults:#?}");
    }
}
