//! Whether labels keep clear of the drawing and of each other, looked at from outside: only the finished marks count, and
//! the geometry is another than the one that placed them.

use super::{from_baseline, laid_out, lawn};
use crate::sheet::board::face::{CAPITAL, DEPTH};
use crate::sheet::board::{Mark, Page, Text, at};
use crate::sheet::sample;
use crate::trial::chance::Chance;
use crate::units::Units;
use geo::{Coord, Intersects, Line, Polygon, Rect, Relate};

/// The rectangle a text covers, capitals to depth; figures have none below the line.
fn covered(text: &Text) -> Polygon<f64> {
    let depth = if text
        .text
        .chars()
        .all(|c| c.is_ascii_digit() || c == '.' || c.is_ascii_uppercase())
    {
        0.0
    } else {
        DEPTH
    };
    let start = text.start();
    let (sin, cos) = text.turn_deg.to_radians().sin_cos();
    let (wide, up, down) = (
        text.width_mm(),
        CAPITAL * text.size_mm,
        depth * text.size_mm,
    );
    let corner = |along: f64, below: f64| {
        (
            start.x + along * cos - below * sin,
            start.y + along * sin + below * cos,
        )
    };
    Polygon::new(
        vec![
            corner(0.0, -up),
            corner(wide, -up),
            corner(wide, down),
            corner(0.0, down),
        ]
        .into(),
        vec![],
    )
}

/// The strip below and the frame are laid out by hand: they are looked at apart.
fn in_drawing(page: &Page, at: Coord<f64>) -> bool {
    let room = Rect::new((10.0, 10.0), (page.width_mm - 10.0, page.height_mm - 46.0));
    room.intersects(&at)
}

/// What stands on what.
pub(super) fn clashes(page: &Page) -> Vec<String> {
    let all = page.each();
    let texts: Vec<(&str, &Text, Polygon<f64>)> = all
        .iter()
        .filter_map(|(class, mark)| match mark {
            Mark::Text(text) => Some((*class, text, covered(text))),
            _ => None,
        })
        .collect();
    let mut found = Vec::new();
    for (i, (_, text, polygon)) in texts.iter().enumerate() {
        let bounds = geo::BoundingRect::bounding_rect(polygon);
        if bounds.is_none_or(|b| {
            b.min().x < 10.0
                || b.max().x > page.width_mm - 10.0
                || b.min().y < 10.0
                || b.max().y > page.height_mm - 10.0
        }) {
            found.push(format!("“{}” leaves the frame", text.text));
        }
        for (_, other, theirs) in texts.iter().skip(i + 1) {
            if polygon.intersects(theirs) && polygon.relate(theirs).is_overlaps() {
                found.push(format!("“{}” on “{}”", text.text, other.text));
            }
        }
    }
    let drawn: Vec<(&str, &str, Line<f64>)> = all
        .iter()
        .flat_map(|(class, mark)| match mark {
            Mark::Path(path) if path.stroke.is_some() => path
                .lines
                .iter()
                .flat_map(|line| {
                    let mut pairs: Vec<Line<f64>> =
                        line.windows(2).map(|w| Line::new(w[0], w[1])).collect();
                    if let (true, Some(a), Some(b)) = (path.closed, line.last(), line.first()) {
                        pairs.push(Line::new(*a, *b));
                    }
                    pairs
                })
                .map(|line| (*class, "line", line))
                .collect::<Vec<_>>(),
            _ => Vec::new(),
        })
        .collect();
    for (_, text, polygon) in texts.iter().filter(|(_, t, _)| in_drawing(page, t.at)) {
        let Some(bounds) = geo::BoundingRect::bounding_rect(polygon) else {
            continue;
        };
        for (class, what, line) in &drawn {
            let near = line.start.x.max(line.end.x) >= bounds.min().x
                && line.start.x.min(line.end.x) <= bounds.max().x
                && line.start.y.max(line.end.y) >= bounds.min().y
                && line.start.y.min(line.end.y) <= bounds.max().y;
            if near && polygon.intersects(line) {
                found.push(format!("“{}” on a {what} {class}", text.text));
            }
        }
    }
    found
}

#[test]
fn the_look_from_outside_sees_a_clash() {
    let mut page = Page::new(210.0, 297.0, "");
    let word = |x: f64, y: f64, said: &str| {
        Mark::Text(crate::sheet::board::text(
            at(x, y),
            3.0,
            crate::sheet::board::Weight::Regular,
            crate::sheet::board::Ink::TEXT,
            said,
        ))
    };
    page.marks
        .extend([word(50.0, 50.0, "one"), word(52.0, 51.0, "two")]);
    assert_eq!(clashes(&page).len(), 1);
    page.line(
        &[at(40.0, 49.5), at(90.0, 49.5)],
        crate::sheet::board::Stroke::whole(crate::sheet::board::Ink::TEXT, 0.2),
    );
    assert_eq!(clashes(&page).len(), 3);
}

/// Labels asked for and labels without room; or what stands on what.
fn looked_at(number: usize) -> Result<(usize, usize), String> {
    let mut chance = Chance::stream(number as u64, "labels");
    // Rows take their time: some of the lawns have them.
    let measured = sample::random_lawn(&mut chance, number.is_multiple_of(25));
    let units = if number.is_multiple_of(5) {
        Units::Imperial
    } else {
        Units::Metric
    };
    let plan = lawn(&measured, units);
    let others = [laid_out(&measured, units), from_baseline(&measured, units)];
    for page in std::iter::once(&plan).chain(others.iter().flatten()) {
        let found = clashes(page);
        if !found.is_empty() {
            let shown = &found[..found.len().min(5)];
            return Err(format!("lawn {number}, {}: {shown:#?}", page.title));
        }
    }
    let stand = plan
        .each()
        .iter()
        .filter(|(class, mark)| {
            matches!(*class, "corner" | "length") && matches!(mark, Mark::Text(_))
        })
        .count();
    let asked = super::lettered(&measured).len() + measured.drawing.sides.len();
    Ok((asked, asked.saturating_sub(stand)))
}

#[test]
fn no_label_on_500_random_lawns_stands_on_the_drawing_or_on_another() {
    use rayon::prelude::*;
    let looked: Vec<_> = (0..500).into_par_iter().map(looked_at).collect();
    let (mut asked, mut without) = (0, 0);
    for one in looked {
        match one {
            Ok((labels, left_out)) => {
                asked += labels;
                without += left_out;
            }
            Err(clash) => panic!("{clash}"),
        }
    }
    // Labels that are simply not drawn would never clash: nearly all must stand.
    assert!(
        50 * without < asked,
        "{without} of {asked} labels found no room"
    );
}
