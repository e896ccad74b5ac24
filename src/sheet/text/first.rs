//! The first screen of a report: how much, what to order, how sure it is, what to do next, and anything wrong, in no more lines than a
//! terminal has. Doubts must not be missing, so where they need room, parts that matter less are left out. The option `--detail`
//! shows the whole report.

use super::lines::{Lines, WIDTH, cut};
use super::words;
use crate::notice::{Notice, Weight};
use crate::order::Ordered;
use crate::sheet::quantity::{
    at_most, bought_kg, bought_m3, count, depth, litres, size, tonnes, volume,
};
use crate::sheet::{order, tape};
use crate::survey::Measured;
use crate::survey::checked::By;
use crate::survey::measured::{Area, Remedy, Status};
use crate::units::{Units, two_figures};

/// A terminal's usual height.
const HEIGHT: usize = 24;
/// Columns for the value beside a name.
const ROOM: usize = WIDTH - super::lines::VALUES;

/// The least number of lines that doubts get, with their heading.
const LEAST: usize = 4;

/// A part of the screen.
struct Part {
    lines: Lines,
    /// How readily it is left out where doubts need the room: the highest number goes first, and `None` always stays.
    spare: Option<u8>,
    /// Whether an empty line goes before it, where there is room for one.
    apart: bool,
}

/// The screen: at most `HEIGHT` lines of 80 columns.
#[must_use]
pub fn screen(measured: &Measured, units: Units) -> String {
    let mut parts = vec![part(None, false, |out| head(measured, out))];
    match &measured.area {
        Some(area) => {
            parts.extend(amounts(area, measured, units));
            if let Some(order) = &measured.order {
                let name = match measured.status {
                    Status::Ok => "TO ORDER",
                    _ => "ONCE CHECKED",
                };
                parts.push(part(None, true, |out| to_order(name, order, units, out)));
                parts.push(part(Some(2), false, |out| enough(order, units, out)));
            }
            parts.push(part(Some(1), true, |out| sure(area, measured, units, out)));
        }
        None => parts.push(part(None, true, |out| {
            out.paragraph(0, "NO AREA IS GIVEN. This speaks against any number:");
        })),
    }
    parts.push(part(None, false, |out| next(measured, units, out)));
    parts.push(part(None, true, |out| foot(measured, out)));
    let all: Vec<&Notice> = order_of_kinds(&measured.warnings);
    let titled = !all.is_empty() && measured.area.is_some();
    let needs = |short: bool| said(&all, short, units).count() + usize::from(titled);
    // Parts that matter least make room for the doubts in full, further ones only for the doubts in short, and "how sure" (number 1)
    // only for the first few lines of them.
    make_room(&mut parts, needs(false), 3);
    make_room(&mut parts, needs(true), 2);
    make_room(&mut parts, needs(true).min(LEAST), 1);
    let room = HEIGHT.saturating_sub(taken(&parts));
    let doubts = part(None, titled, |out| {
        if titled {
            out.paragraph(0, "Please check");
        }
        out.append(fitting(&all, room - usize::from(titled), units));
    });
    if !all.is_empty() {
        parts.insert(parts.len() - 1, doubts);
    }
    laid_out(parts)
}

/// Leaves out parts, those with the highest number first, until so many lines are free; none whose number is below `least`.
fn make_room(parts: &mut Vec<Part>, lines: usize, least: u8) {
    while taken(parts) + lines > HEIGHT {
        let spare = parts.iter().filter_map(|p| p.spare).max();
        let Some(most) = spare.filter(|most| *most >= least) else {
            return;
        };
        parts.retain(|p| p.spare != Some(most));
    }
}

/// A part whose lines `fill` writes.
fn part(spare: Option<u8>, apart: bool, fill: impl FnOnce(&mut Lines)) -> Part {
    let mut lines = Lines::default();
    fill(&mut lines);
    Part {
        lines,
        spare,
        apart,
    }
}

/// How many lines the parts take, without the empty ones between them.
fn taken(parts: &[Part]) -> usize {
    parts.iter().map(|part| part.lines.count()).sum()
}

/// The parts one below the other, with empty lines between them as far as there is room.
fn laid_out(parts: Vec<Part>) -> String {
    let mut spare = HEIGHT.saturating_sub(taken(&parts));
    let mut out = Lines::default();
    for part in parts {
        if part.apart && spare > 0 && part.lines.count() > 0 {
            out.blank();
            spare -= 1;
        }
        out.append(part.lines);
    }
    out.text()
}

fn head(measured: &Measured, out: &mut Lines) {
    let about = super::about(measured);
    out.title("LAWN AREA", &cut(&about, WIDTH));
}

/// A name and its value on one line, cut off where it is too long.
fn pair(name: &str, value: &str, out: &mut Lines) {
    out.pair(name, &cut(value, ROOM));
}

/// The area with its band, then the lawns, what is taken off and the edge, each a part of its own.
fn amounts(area: &Area, measured: &Measured, units: Units) -> Vec<Part> {
    let mut parts = vec![part(None, true, |out| {
        super::net_lines(area, measured, units, out)
    })];
    if let [_, _, ..] = measured.lawns.as_slice() {
        let each = measured.lawns.iter().map(|lawn| {
            let band_m2 = area.coverage_factor * lawn.sigma_m2;
            let shown = units.rounded_area(lawn.net_m2, band_m2);
            format!("{} {}", lawn.label, shown.value)
        });
        let all = listed(each.collect(), units.area_unit());
        parts.push(part(Some(4), false, |out| pair("Lawns", &all, out)));
    }
    let off = tape::taken_off(measured, units);
    if !off.is_empty() {
        let all = listed(off, units.area_unit());
        parts.push(part(Some(3), false, |out| pair("Taken off", &all, out)));
    }
    if let Some(perimeter_m) = measured.perimeter_m {
        let said = format!("{} all round", super::edge(perimeter_m, measured, units));
        parts.push(part(Some(5), false, |out| pair("Edge", &said, out)));
    }
    parts
}

/// As many of these as a line holds, and how many more there are; empty for none.
fn listed(each: Vec<String>, unit: &str) -> String {
    for shown in (1..=each.len()).rev() {
        let more = match each.len() - shown {
            0 => String::new(),
            more => format!(", and {more} more"),
        };
        let text = format!("{} {unit}{more}", each[..shown].join(", "));
        if shown == 1 || crate::visible::columns(&text) <= ROOM {
            return text;
        }
    }
    String::new()
}

/// The numbers to order, each by its name.
fn to_order(name: &str, order: &Ordered, units: Units, out: &mut Lines) {
    if let Some(turf) = &order.turf {
        let pieces = count(turf.ordered_pieces, &turf.noun).to_uppercase();
        let of = size(turf.piece_width_m, turf.piece_length_m, units);
        pair(name, &format!("{pieces} of {of}"), out);
        pair(
            "",
            &format!("{}, {}", order::pallets(turf), units.weight(turf.kg)),
            out,
        );
    } else {
        let cover = units.plain_area(order.cover_area_m2);
        pair(name, &format!("for {cover}, its error covered"), out);
    }
    materials(order, units, out);
    if let Some(price) = &order.price {
        let tax = if price.tax_percent.is_zero() {
            ""
        } else {
            " with tax"
        };
        let without = match price.unpriced.as_slice() {
            [] => String::new(),
            items => format!("; without {}", items.join(", ")),
        };
        let all = format!("{} {}{tax}{without}", price.currency, price.total);
        let name = if price.valid_until.is_some() {
            "  Quotation"
        } else {
            "  Estimate"
        };
        pair(name, &all, out);
    }
}

/// What is ordered beside the turf, one line each.
fn materials(order: &Ordered, units: Units, out: &mut Lines) {
    if let Some(soil) = &order.soil {
        let all = format!(
            "{}, or {} of {} loose",
            tonnes(soil.order_tonnes, units),
            count(soil.bags, "bag"),
            volume(soil.bag_m3, units)
        );
        pair("  Topsoil", &all, out);
    }
    if let Some(edging) = &order.edging {
        let all = format!(
            "{} of {}",
            count(edging.pieces, "piece"),
            units.plain_length(edging.piece_m)
        );
        pair("  Edging", &all, out);
    }
    for (name, spread) in [("  Seed", &order.seed), ("  Fertiliser", &order.fertiliser)] {
        if let Some(spread) = spread {
            pair(name, &bought_kg(spread.order_kg, units), out);
        }
    }
    if let Some(mulch) = &order.mulch {
        pair("  Mulch", &bought_m3(mulch.m3, units), out);
    }
    if let Some(old) = &order.old_turf {
        let skips = count(old.skips, "skip");
        let all = format!(
            "{skips} of {}: {}",
            volume(old.skip_m3, units),
            tonnes(old.tonnes, units)
        );
        pair("  Old turf", &all, out);
    }
    if let Some(water) = &order.water {
        let all = format!(
            "{} ({})",
            litres(water.litres, units),
            depth(water.mm / 1000.0, units)
        );
        pair("  First water", &all, out);
    }
}

/// What the order is enough for.
fn enough(order: &Ordered, units: Units, out: &mut Lines) {
    let cover = units.plain_area(order.cover_area_m2);
    let said = match &order.turf {
        Some(turf) => format!(
            "for {cover}; chance of being short {}",
            order::chance(turf.chance_short.ordered)
        ),
        None => format!(
            "enough at {} % chance",
            at_most(100.0 * order.chance_enough, 1)
        ),
    };
    pair("", &said, out);
}

/// How it was measured, what checks it, and what makes most of its band.
fn sure(area: &Area, measured: &Measured, units: Units, out: &mut Lines) {
    let by: Vec<String> = measured
        .checked
        .by
        .iter()
        .map(|check| match check.check {
            By::Laps => super::checked::laps(check),
            By::Closing => "the walk's end".to_owned(),
            By::Tape => count(u64::from(check.count), "tape reading"),
        })
        .collect();
    let checked = match by.as_slice() {
        [] => "nothing checks it".to_owned(),
        all => format!("checked by {}", all.join(", ")),
    };
    let how = words::by_what(measured);
    out.pair("How sure", &format!("{how}; {checked}"));
    let terms = measured.band.iter().flat_map(|band| &band.terms);
    let most = terms.max_by(|a, b| a.sigma_m2.total_cmp(&b.sigma_m2));
    if let Some(term) = most.filter(|term| term.sigma_m2 > 0.0) {
        let said = format!(
            "± {} {} of it from {}",
            two_figures(units.area(area.coverage_factor * term.sigma_m2)),
            units.area_unit(),
            words::cause(term.term, measured.is_drawn())
        );
        pair("", &said, out);
    }
}

/// What to do now.
fn next(measured: &Measured, units: Units, out: &mut Lines) {
    let Some(area) = &measured.area else {
        return;
    };
    let wide = area.band_m2 > super::WIDE * area.net_m2;
    let helps: Vec<String> = match measured.next.as_slice() {
        _ if !wide => Vec::new(),
        [] => Vec::new(),
        // Remedies are in the order of their effort: the easiest is shown, and the last ones, which help most.
        [only] => vec![help(area.net_m2, only, units)],
        [first, .., better, best] => [first, better, best]
            .map(|r| help(area.net_m2, r, units))
            .into(),
        [first, best] => [first, best].map(|r| help(area.net_m2, r, units)).into(),
    };
    let said = match (measured.status, &measured.order) {
        (Status::Ok, Some(_)) => "order it: nothing needs a look",
        (Status::Ok, None) if wide => "measure better before ordering",
        (Status::Ok, None) => "add [order] to a job sheet (`boundwalk job`) for an order",
        (_, _) if wide => "do not order on it yet: it is too wide",
        (_, _) => "look at what is below before anyone orders",
    };
    pair("Next", said, out);
    for help in helps {
        pair("", &help, out);
    }
}

fn help(net_m2: f64, remedy: &Remedy, units: Units) -> String {
    format!(
        "± {} {} after {}",
        units.rounded_area(net_m2, remedy.band_m2).uncertainty,
        units.area_unit(),
        remedy.remedy
    )
}

/// Where the rest of the report is, and the cautions in short.
fn foot(measured: &Measured, out: &mut Lines) {
    let notes = measured
        .warnings
        .iter()
        .filter(|w| w.weight() == Weight::Note)
        .count();
    let notes = match notes {
        0 => String::new(),
        more => format!(", with {}", count(more as u64, "note")),
    };
    out.paragraph(0, &format!("--detail shows the whole report{notes}."));
    out.paragraph(
        0,
        "No survey of legal boundaries. Assume buried services until shown otherwise.",
    );
}

/// The doubts, ordered so that the first of each kind comes before a second of any.
fn order_of_kinds(warnings: &[Notice]) -> Vec<&Notice> {
    let doubts = warnings.iter().filter(|w| w.weight() == Weight::Doubt);
    let mut all: Vec<(usize, &Notice)> = Vec::new();
    for doubt in doubts {
        let same = all.iter().filter(|(_, other)| other.code() == doubt.code());
        all.push((same.count(), doubt));
    }
    all.sort_by_key(|(of_kind, _)| *of_kind);
    all.into_iter().map(|(_, doubt)| doubt).collect()
}

/// The doubts as lines, in full or, if `short`, only their first sentences.
fn said(doubts: &[&Notice], short: bool, units: Units) -> Lines {
    let mut out = Lines::default();
    for doubt in doubts {
        let message = doubt.said(units);
        let shown = if short {
            first_sentence(&message)
        } else {
            &message
        };
        out.bullet("!", shown);
    }
    out
}

/// The text up to the first full stop after which another sentence begins.
fn first_sentence(text: &str) -> &str {
    let ends = text.match_indices(". ").map(|(at, _)| at + 1);
    ends.filter(|end| text[*end..].trim_start().starts_with(char::is_uppercase))
        .find_map(|end| text.get(..end))
        .unwrap_or(text)
}

/// All doubts in full if there is room; else the first sentence of each; else as many of those as there is room for, and how many more.
fn fitting(doubts: &[&Notice], room: usize, units: Units) -> Lines {
    for short in [false, true] {
        let all = said(doubts, short, units);
        if all.count() <= room {
            return all;
        }
    }
    let mut shown = doubts.len();
    while shown > 1 && said(&doubts[..shown], true, units).count() + 1 > room {
        shown -= 1;
    }
    let mut out = said(&doubts[..shown], true, units);
    out.keep(room.saturating_sub(1));
    let more = match doubts.len() - shown {
        0 => "the rest of it: --detail shows it whole.".to_owned(),
        more => format!("and {more} more: --detail shows all."),
    };
    out.bullet("!", &more);
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Fault;
    use crate::sheet::sample;
    use crate::visible::columns;

    fn fits(text: &str) {
        assert!(text.lines().count() <= HEIGHT, "{text}");
        for line in text.lines() {
            assert!(columns(line) <= WIDTH, "{line}");
        }
    }

    #[test]
    fn a_garden_and_a_phone() {
        for measured in [sample::garden(), sample::phone(), sample::withheld()] {
            insta::assert_snapshot!(screen(&measured, Units::Metric));
        }
    }

    /// Whatever there is to say, each doubt is on the screen or counted on it.
    #[test]
    fn no_doubt_is_dropped() {
        for measured in [sample::garden(), sample::phone(), sample::withheld()] {
            for doubts in 0..30 {
                for length in [1, 20, 90] {
                    let mut many = measured.clone();
                    many.survey.site = Some("庭の北側 ".repeat(20));
                    many.warnings = (0..doubts)
                        .map(|k| {
                            let what = format!("Doubt{k} is{}.", " long".repeat(length));
                            let code = ["one", "another"][k % 2];
                            Notice::Refused(Fault::withheld(code, what, "Do something."))
                        })
                        .collect();
                    for units in [Units::Metric, Units::Imperial] {
                        let text = screen(&many, units);
                        fits(&text);
                        let seen = text.matches("! Doubt").count();
                        let counted = text
                            .split_once("! and ")
                            .and_then(|(_, after)| after.split(' ').next()?.parse().ok())
                            .unwrap_or(0);
                        assert_eq!(seen + counted, doubts, "{text}");
                        assert!(doubts == 0 || seen > 0, "{text}");
                    }
                }
            }
        }
    }

    #[test]
    fn the_first_sentence_is_not_cut_at_a_number() {
        let text = "The gap is 3.4 m, e. g. by a jump. Walk again.";
        assert_eq!(first_sentence(text), "The gap is 3.4 m, e. g. by a jump.");
        assert_eq!(first_sentence("One."), "One.");
    }
}
