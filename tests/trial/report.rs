//! The tables of a trial, in Markdown (a way to write tables as plain text): to read as they stand, and to keep in the notes on
//! accuracy.

use super::cell::{Manner, Walk};
use super::run::{Outcome, Walked, measured_outcome};
use super::score::{Ending, Figure, Score, ending, grouped};
use boundwalk::fault::Fault;
use boundwalk::survey::Measured;
use std::collections::BTreeMap;
use std::fmt::Write;

/// A share from 0 to 1 as a percentage, or a dash where there was nothing to count.
pub(super) fn percent(share: f64, digits: usize) -> String {
    if share.is_finite() {
        format!("{:.digits$} %", share * 100.0)
    } else {
        "-".into()
    }
}

/// A number with two decimals, or a dash where there was nothing to count.
fn number(value: f64) -> String {
    if value.is_finite() {
        format!("{value:.2}")
    } else {
        "-".into()
    }
}

/// A table with one row for each group of walks, as `name` groups them. `head` stands over the groups' names.
pub fn coverage_table(figures: &[Figure], head: &str, name: impl Fn(&Walk) -> String) -> String {
    let mut out = format!(
        "| {head} | walks | covered | bias / band | band / ideal | band / area | check | withheld | refused | perimeter | laps wrong |\n\
         |---|---|---|---|---|---|---|---|---|---|---|\n"
    );
    for (group, figures) in grouped(figures, name) {
        let s = Score::of(&figures);
        let _ = writeln!(
            out,
            "| {group} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
            s.walks,
            percent(s.coverage, 1),
            number(s.bias),
            number(s.band_over_ideal),
            percent(s.band_over_area, 1),
            percent(s.flagged, 1),
            percent(s.withheld, 1),
            percent(s.refused, 1),
            percent(s.perimeter_bias, 2),
            percent(s.laps_wrong, 1),
        );
    }
    out
}

/// All tables of how often the truth lies within the band: by receiver, rate, laps and shape, and of all walks together.
pub fn coverage(figures: &[Figure]) -> String {
    let mut out = String::new();
    let class = |w: &Walk| w.cell.class.name();
    let mut add = |table: String| {
        out.push_str(&table);
        out.push('\n');
    };
    add(coverage_table(figures, "receiver, claim", |w| {
        format!("{} {}", class(w), w.cell.claim.name())
    }));
    add(coverage_table(figures, "receiver, fixes a second", |w| {
        format!("{} {:2}", class(w), w.cell.rate_hz)
    }));
    add(coverage_table(figures, "receiver, laps", |w| {
        format!("{} {}", class(w), w.cell.laps)
    }));
    add(coverage_table(figures, "receiver, shape", |w| {
        format!("{} {}", class(w), w.cell.shape.name())
    }));
    add(coverage_table(figures, "shape", |w| {
        w.cell.shape.name().into()
    }));
    add(coverage_table(figures, "all", |_| "all".into()));
    out
}

/// A table of how often each reason was given for a result that is not `ok`, with the number of the first walk of each.
pub fn reasons(figures: &[Figure]) -> String {
    let mut counts: BTreeMap<(&str, String), (usize, u64)> = BTreeMap::new();
    for figure in figures {
        let (what, codes) = match &figure.outcome {
            Outcome::Measured {
                flagged: true,
                codes,
                ..
            } => ("check", codes),
            Outcome::Withheld { codes } if figure.hopeless => ("withheld, hopeless", codes),
            Outcome::Withheld { codes } => ("withheld", codes),
            Outcome::Refused { code } => ("refused", code),
            _ => continue,
        };
        let entry = counts
            .entry((what, codes.clone()))
            .or_insert((0, figure.walk.number()));
        entry.0 += 1;
    }
    let mut out = String::from("| ended | reasons | walks | first |\n|---|---|---|---|\n");
    for ((what, codes), (count, first)) in counts {
        let _ = writeln!(out, "| {what} | {codes} | {count} | {first} |");
    }
    out
}

/// The walks whose results are farthest from the truth in bands, with the numbers (seeds) that draw them again.
pub fn worst(figures: &[Figure], count: usize) -> String {
    let out_of_band =
        |figure: &Figure, area_m2: f64, band_m2: f64| (area_m2 - figure.area_m2) / band_m2;
    format!(
        "Farthest from the truth, in bands:\n\n{}",
        farthest(figures, count, out_of_band)
    )
}

/// The walks whose area is farthest from that of the plain polygon of their own fixes. That distance is boundwalk's own doing, and
/// not the receiver's.
pub fn astray(figures: &[Figure], count: usize) -> String {
    let off_plain =
        |figure: &Figure, area_m2: f64, _: f64| (area_m2 - figure.plain_m2) / figure.ideal_m2;
    format!(
        "Farthest from the plain polygon of the same fixes, in ideal bands:\n\n{}",
        farthest(figures, count, off_plain)
    )
}

/// A table of the walks that are farthest off, by what `off` makes of a walk's figures, its measured area and its band.
fn farthest(figures: &[Figure], count: usize, off: impl Fn(&Figure, f64, f64) -> f64) -> String {
    let mut out = String::from(
        "| off | walk | seed | true m² | plain m² | measured m² | band m² | ideal m² | codes |\n\
         |---|---|---|---|---|---|---|---|---|\n",
    );
    let mut far: Vec<(f64, f64, f64, &str, &Figure)> = figures
        .iter()
        .filter_map(|figure| match &figure.outcome {
            Outcome::Measured {
                area_m2,
                band_m2,
                codes,
                ..
            } => {
                let off = off(figure, *area_m2, *band_m2);
                Some((off, *area_m2, *band_m2, codes.as_str(), figure))
            }
            _ => None,
        })
        .collect();
    far.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
    for (off, area_m2, band_m2, codes, figure) in far.into_iter().take(count) {
        let _ = writeln!(
            out,
            "| {off:.2} | {} | {} | {:.2} | {:.2} | {area_m2:.2} | {band_m2:.2} | {:.2} | {codes} |",
            described(&figure.walk),
            figure.walk.number(),
            figure.area_m2,
            figure.plain_m2,
            figure.ideal_m2,
        );
    }
    out
}

/// A walk in a few words: its cell and its blunder.
pub fn described(walk: &Walk) -> String {
    let cell = walk.cell;
    let mut text = format!(
        "{} {} {} lap{} {} Hz {}",
        cell.class.name(),
        cell.shape.name(),
        cell.laps,
        if cell.laps == 1 { "" } else { "s" },
        cell.rate_hz,
        cell.claim.name()
    );
    if cell.manner != Manner::Plain {
        let _ = write!(text, " {}", cell.manner.name());
    }
    if let Some(blunder) = walk.blunder {
        let _ = write!(text, " {}", blunder.name());
    }
    text
}

/// All of one walk in words: what was true, and what came out.
pub fn told(walked: &Walked, result: &Result<Measured, Fault>) -> String {
    let (habits, receiver) = (&walked.habits, &walked.receiver);
    let mut text = format!(
        "walk          {} (seed {})\n\
         true area     {:.4} m2, perimeter {:.4} m, {} corners\n\
         surveyor      {:.2} m/s, pauses {}, way in {:.1} m, overrun {:.1} m, hand {:+.3} m, carried {:+.3} m\n\
         receiver      sigma {:.4} m (claims {}), tau {:.0} s, white share {:.2}, hdop {:.2}\n\
         log           {} epochs\n",
        described(&walked.walk),
        walked.walk.number(),
        walked.outline.area_m2,
        walked.outline.perimeter_m,
        walked.outline.corners_m.len(),
        habits.speed_mps,
        habits
            .pause_s
            .map_or("none".into(), |(a, b)| format!("{a:.1}-{b:.1} s")),
        habits.lead_m,
        habits.overrun_m,
        habits.hand_m,
        habits.carry_m,
        receiver.sigma_m,
        receiver
            .claimed_m
            .map_or("by hdop".into(), |m| format!("{m:.4} m")),
        receiver.tau_s,
        receiver.white_share,
        receiver.hdop,
        walked.epochs.len(),
    );
    if !walked.blunder.is_empty() {
        let _ = writeln!(text, "blunder       {}", walked.blunder);
    }
    let _ = writeln!(
        text,
        "ideal band    {:.3} m2, {:.3} m2 without knowing tau; plain polygon of the laps {:+.3} m2 from the truth",
        walked.ideal.band_m2,
        walked.ideal.fair_m2,
        walked.plain_m2 - walked.outline.area_m2,
    );
    let _ = match measured_outcome(result) {
        Outcome::Measured {
            area_m2,
            band_m2,
            flagged,
            laps,
            perimeter_m,
            ..
        } => writeln!(
            text,
            "measured      {area_m2:.4} +- {band_m2:.4} m2, error {:+.4} m2 = {:+.2} bands{}, {laps} laps, perimeter {:.3} m",
            area_m2 - walked.outline.area_m2,
            (area_m2 - walked.outline.area_m2) / band_m2,
            if flagged { ", check" } else { "" },
            perimeter_m.unwrap_or(f64::NAN),
        ),
        Outcome::Withheld { codes } => writeln!(text, "withheld      {codes}"),
        Outcome::Refused { code } => writeln!(text, "refused       {code}"),
    };
    match result {
        Ok(measured) => {
            for term in measured.band.iter().flat_map(|band| &band.terms) {
                let _ = writeln!(
                    text,
                    "  term        {:?}: sigma {:.4} m2, correction {:+.4} m2",
                    term.term, term.sigma_m2, term.correction_m2
                );
            }
            for warning in &measured.warnings {
                let _ = writeln!(text, "  {}: {}", warning.code(), warning);
            }
        }
        Err(fault) => {
            let _ = writeln!(text, "  {fault}");
        }
    }
    text
}

/// The tables of blunders: what became of each kind, and every one that was missed. Each pair is a clean walk and the same walk with
/// a blunder.
pub fn blunders(pairs: &[(Figure, Figure)]) -> String {
    struct Row {
        count: [usize; 5],
        moved: usize,
        no_area: usize,
    }
    let mut rows: BTreeMap<&str, Row> = BTreeMap::new();
    let mut misses = String::new();
    let (mut caught_all, mut missed_all, mut no_area_all) = (0, 0, 0);
    for (clean, spoilt) in pairs {
        let (end, moved) = ending(&clean.outcome, &spoilt.outcome);
        let name = spoilt.walk.blunder.map_or("none", |b| b.name());
        let row = rows.entry(name).or_insert(Row {
            count: [0; 5],
            moved: 0,
            no_area: 0,
        });
        if let Some(count) = row.count.get_mut(end as usize) {
            *count += 1;
        }
        let no_area = usize::from(end == Ending::Caught && moved.is_infinite());
        row.no_area += no_area;
        no_area_all += no_area;
        let moved_and_caught = end == Ending::Caught && moved > 1.0 && moved.is_finite();
        row.moved += usize::from(moved_and_caught);
        caught_all += usize::from(moved_and_caught);
        missed_all += usize::from(end == Ending::Missed);
        if end == Ending::Missed {
            let _ = writeln!(
                misses,
                "| {moved:.1} | {} | {} | {} |",
                described(&spoilt.walk),
                spoilt.walk.number(),
                spoilt.blunder
            );
        }
    }
    let mut out = String::from(
        "| blunder | nothing to compare | caught, no area given | caught, area moved over a band | caught, moved less | harmless | its own band allows for it | missed |\n\
         |---|---|---|---|---|---|---|---|\n",
    );
    for (name, row) in rows {
        let [no_compare, caught, harmless, allowed, missed] = row.count;
        let less = caught - row.no_area - row.moved;
        let _ = writeln!(
            out,
            "| {name} | {no_compare} | {} | {} | {less} | {harmless} | {allowed} | {missed} |",
            row.no_area, row.moved
        );
    }
    let of = caught_all + missed_all;
    let _ = writeln!(
        out,
        "\nOf {of} blunders that moved a given area by more than the clean walk's band, and its own where it was not flagged, {caught_all} were flagged ({}); of {} \
         with those after which no area was given, {} ({}).\n",
        percent(caught_all as f64 / of as f64, 1),
        of + no_area_all,
        caught_all + no_area_all,
        percent(
            (caught_all + no_area_all) as f64 / (of + no_area_all) as f64,
            1
        ),
    );
    if !misses.is_empty() {
        out.push_str("| moved, bands | walk | seed | what was done |\n|---|---|---|---|\n");
        out.push_str(&misses);
    }
    out
}
