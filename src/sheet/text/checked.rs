//! Says in an estimator's words what checks a result besides the receiver's own claims (laps, closing, tape), how large an error of each
//! kind could be without any of these showing it, and what more would be shown after another lap.

use super::words::gap;
use crate::sheet::quantity::count;
use crate::survey::checked::{By, Check, Checked, ErrorKind, Unseen};
use crate::units::{Units, two_figures};

/// A sentence on what checks the result, and others on what that would not show. Empty for a result without an area.
pub(crate) fn sentences(checked: &Checked, units: Units) -> Vec<String> {
    let mut said = Vec::new();
    if checked.by.is_empty() && checked.unseen.is_empty() {
        return said;
    }
    said.push(by(checked, units));
    said.extend(unseen(checked, units));
    said.extend(would(checked, units));
    said
}

/// What checks the result, in the one sentence that a customer is told.
#[cfg(feature = "sheets")]
pub(crate) fn in_short(checked: &Checked) -> String {
    let each: Vec<String> = checked
        .by
        .iter()
        .map(|check| match (check.check, check.count) {
            (By::Laps, _) => "its laps against each other".to_owned(),
            (By::Closing, 1) => "where it closes".to_owned(),
            (By::Closing, _) => "where the walks close".to_owned(),
            (By::Tape, 1) => "a length taped on site".to_owned(),
            (By::Tape, count) => format!("{count} lengths taped on site"),
        })
        .collect();
    match each.as_slice() {
        [] => "Nothing else checks it.".to_owned(),
        [only] => format!("It was checked by {only}."),
        [first @ .., last] => format!("It was checked by {} and {last}.", first.join(", ")),
    }
}

/// The sentence on what checks the result, or that nothing does.
fn by(checked: &Checked, units: Units) -> String {
    let each: Vec<String> = checked.by.iter().map(|check| one(check, units)).collect();
    let closes = |check: &Check| check.check == By::Closing;
    match each.as_slice() {
        [] if checked.unseen.iter().any(|u| u.error == ErrorKind::Corner) => {
            "Nothing checks this number but the places as they were given: no lap that comes round, no tape.".to_owned()
        }
        [] => "Nothing checks this number: no length was taped that the others would show to be wrong.".to_owned(),
        [only] if checked.by.iter().all(closes) => {
            format!("One lap, no tape: nothing but the receiver's own word, and {only}.")
        }
        all => format!("Checked by {}.", all.join("; by ")),
    }
}

/// "3 laps"; "4 laps of 2 walks".
pub(super) fn laps(check: &Check) -> String {
    let laps = count(u64::from(check.count), "lap");
    match check.walks {
        0 | 1 => laps,
        walks => format!("{laps} of {walks} walks"),
    }
}

/// One check: how much it differs, and from how much on it would be told as a doubt.
fn one(check: &Check, units: Units) -> String {
    let differ = check.differ.unwrap_or(0.0);
    let allowed = check.allowed.unwrap_or(f64::INFINITY);
    let apart = check
        .apart_s
        .map(|s| format!(", {} apart", lasted(s)))
        .unwrap_or_default();
    match check.check {
        By::Laps => format!(
            "{}{apart}, whose areas differ by {} (more than {} would be told)",
            laps(check),
            area(differ, units),
            area(allowed, units)
        ),
        By::Closing if check.count > 1 => format!(
            "the ends of {} walks, no further than {} from where they began (more than {} would be told)",
            check.count,
            gap(differ, units),
            gap(allowed, units)
        ),
        By::Closing => format!(
            "the walk's end, {} from where it began (more than {} would be told)",
            gap(differ, units),
            gap(allowed, units)
        ),
        By::Tape => format!(
            "{} tape reading{}, the worst {} sigma off (more than {} would be told)",
            check.count,
            if check.count == 1 { "" } else { "s" },
            two_figures(differ),
            two_figures(allowed)
        ),
    }
}

/// Which errors would not show: first those that the checks keep within a limit, then those that could be of any size.
fn unseen(checked: &Checked, units: Units) -> Option<String> {
    let what = |unseen: &Unseen| {
        let error = match unseen.error {
            ErrorKind::Drift => "a drift of the position through the walk",
            ErrorKind::Shift => "a single shift of the position",
            ErrorKind::Corner => "one corner cut or misplaced",
            ErrorKind::Tape => "one misread tape",
        };
        match unseen.walk.as_str() {
            "" => error.to_owned(),
            walk => format!("{error} (“{walk}”)"),
        }
    };
    let (bounded, open): (Vec<&Unseen>, Vec<&Unseen>) =
        checked.unseen.iter().partition(|u| u.area_m2.is_some());
    let bounded: Vec<String> = bounded
        .into_iter()
        .map(|u| format!("± {} by {}", area(u.area_m2.unwrap_or(0.0), units), what(u)))
        .collect();
    let open: Vec<String> = open.into_iter().map(what).collect();
    let mut said = Vec::new();
    if !bounded.is_empty() {
        said.push(format!(
            "What would not show: up to {}.",
            bounded.join(", ")
        ));
    }
    if !open.is_empty() {
        said.push(format!(
            "Nothing here would show {}, however large.",
            either(&open)
        ));
    }
    (!said.is_empty()).then(|| said.join(" "))
}

/// The texts joined as in "a", "a or b" or "a, b or c".
fn either(all: &[String]) -> String {
    match all {
        [before @ .., last] if !before.is_empty() => format!("{} or {last}", before.join(", ")),
        _ => all.concat(),
    }
}

/// From how large on a drift would show after each thing that could still be done.
fn would(checked: &Checked, units: Units) -> Option<String> {
    let each: Vec<String> = checked
        .would
        .iter()
        .map(|would| format!("± {} after {}", area(would.area_m2, units), would.remedy))
        .collect();
    (!each.is_empty()).then(|| format!("A drift would show from {}.", each.join(", ")))
}

fn area(m2: f64, units: Units) -> String {
    format!("{} {}", two_figures(units.area(m2)), units.area_unit())
}

/// A time in words, as in "82 s", "12 min" or "3 h".
fn lasted(s: f64) -> String {
    match s {
        s if s < 120.0 => format!("{s:.0} s"),
        s if s < 7200.0 => format!("{:.0} min", s / 60.0),
        s => format!("{:.0} h", s / 3600.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::next_step::NextStep;
    use crate::sheet::sample;
    use crate::survey::checked::Would;

    #[test]
    fn what_checks_a_garden_and_a_phone() {
        for measured in [sample::garden(), sample::phone()] {
            insta::assert_snapshot!(sentences(&measured.checked, Units::Metric).join("\n"));
        }
        assert!(sentences(&sample::withheld().checked, Units::Metric).is_empty());
    }

    #[test]
    fn places_that_nothing_checks_and_what_would_show_more() {
        let checked = Checked {
            by: Vec::new(),
            unseen: vec![Unseen {
                error: ErrorKind::Corner,
                area_m2: None,
                by_m: None,
                walk: "patio".into(),
            }],
            would: vec![Would {
                remedy: NextStep::SecondLap,
                area_m2: 3.04,
            }],
        };
        assert_eq!(
            sentences(&checked, Units::Metric).join(" "),
            "Nothing checks this number but the places as they were given: no lap that comes round, no tape. Nothing here \
             would show one corner cut or misplaced (“patio”), however large. A drift would show from ± 3.0 m² after a second \
             lap."
        );
    }
}
