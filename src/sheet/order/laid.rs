//! How the rows of turf lie, in words: their direction, the offcuts that are used again or left, and what other ways would take.

use crate::order::rows::Rows;
use crate::order::search::Along;
use crate::order::turf::Turf;
use crate::sheet::quantity::count;
use crate::sheet::text::lines::Lines;
use crate::units::Units;

/// The most stretches of rows that are printed for the crew; the rest are in the list of cuts.
#[cfg(feature = "sheets")]
pub(in crate::sheet) const MOST_ROWS: usize = 240;

fn along(along: Along) -> &'static str {
    match along {
        Along::Asked => "as asked",
        Along::LongestEdge => "along the longest edge",
        Along::AcrossLongestEdge => "across the longest edge",
        Along::AnotherEdge => "along another edge",
        Along::Narrowest => "the narrowest way",
        Along::EastWest => "east and west",
        Along::NorthSouth => "north and south",
        Along::Between => "along no edge",
    }
}

pub(in crate::sheet) fn layout(rows: &Rows, turf: &Turf, units: Units, out: &mut Lines) {
    out.blank();
    out.pair(
        "Rows",
        &format!(
            "{} at {:.0}° from north, {}",
            count(rows.rows, "row"),
            rows.direction_deg,
            along(rows.along)
        ),
    );
    out.pair(
        "",
        &format!(
            "{} laid out for the lawn as measured: {} at the very least, {} if no offcut were used again",
            count(rows.pieces, &turf.noun),
            rows.pieces_lower_bound,
            rows.pieces_no_reuse
        ),
    );
    if let Some(strip) = &turf.strip {
        out.pair(
            "",
            &format!(
                "after a strip round the edge, {} long, of {}",
                units.plain_length(strip.length_m),
                count(strip.pieces, &turf.noun)
            ),
        );
    }
    out.pair(
        "",
        &format!(
            "no piece under {} but a whole row, joints at least {} apart",
            units.small_length(rows.min_piece_m),
            units.small_length(rows.stagger_m)
        ),
    );
    offcuts_left(rows, units, out);
    other_ways(rows, out);
}

/// How many offcuts could still be laid, and the longest of them.
fn offcuts_left(rows: &Rows, units: Units, out: &mut Lines) {
    const SHOWN: usize = 5;
    let usable = rows.offcuts_m.iter().filter(|m| **m >= rows.min_piece_m);
    let usable: Vec<String> = usable.map(|m| units.plain_length(*m)).collect();
    let shown = usable.get(..SHOWN).unwrap_or(&usable).join(", ");
    let longest = match usable.len() {
        0 => String::new(),
        1..=SHOWN => format!(": {shown}"),
        _ => format!(": {shown}, ..."),
    };
    out.pair(
        "Offcuts left",
        &format!(
            "{} of use{longest}; {}",
            usable.len(),
            count((rows.offcuts_m.len() - usable.len()) as u64, "scrap")
        ),
    );
}

/// How many pieces laying in other directions would take. With several lawns this is known for the largest alone, so the title says
/// so.
fn other_ways(rows: &Rows, out: &mut Lines) {
    let lawns = rows
        .layout
        .windows(2)
        .any(|pair| pair[0].lawn != pair[1].lawn);
    let others: Vec<String> = rows
        .alternatives
        .iter()
        .filter(|a| lawns || a.along != rows.along)
        .map(|a| format!("{} ({:.0}°) {}", along(a.along), a.direction_deg, a.pieces))
        .collect();
    if !others.is_empty() {
        let title = if lawns { "Largest lawn" } else { "Other ways" };
        out.pair(title, &others.join("; "));
    }
}
