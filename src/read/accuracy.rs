//! Tells by the name of a column or element which kind of figure a horizontal accuracy is: one sigma of an axis, a root mean square, or the
//! radius that holds the true position so many times in 100.

use crate::process::Accuracy;

/// Names of an accuracy, in lower case and without separators, that do not say of which kind it is: phones and the loggers on them write
/// these.
const BARE: [&str; 6] = [
    "accuracy",
    "hacc",
    "acch",
    "haccuracy",
    "horizontalaccuracy",
    "estimatedhorizontalaccuracy",
];

/// Words that may stand before or after those names, or in brackets, to say of which kind it is. Where one contains another, the longer one
/// comes first, as the first that fits is taken.
const SAID: [(&str, Accuracy); 9] = [
    ("2drms", Accuracy::TwiceRms),
    ("drms", Accuracy::Rms),
    ("rms", Accuracy::Rms),
    ("1sigma", Accuracy::Axis),
    ("sigma", Accuracy::Axis),
    ("95", Accuracy::Radius95),
    ("68", Accuracy::Radius68),
    ("50", Accuracy::Radius50),
    ("cep", Accuracy::Radius50),
];

/// The kind of a figure by its name, any case, with or without a unit or brackets; `None` where the name is of something else.
///
/// A name that is used for several kinds is taken for the one that makes the error largest.
pub(super) fn kind(title: &str) -> Option<Accuracy> {
    let lower = title.to_lowercase();
    let (name, brackets) = lower.split_at(lower.find(['(', '[']).unwrap_or(lower.len()));
    let plain = |text: &str| -> String { text.chars().filter(|c| c.is_alphanumeric()).collect() };
    let (name, brackets) = (plain(name), plain(brackets));
    let units = ["metres", "meters", "mm", "cm", "ft", "m"];
    let without_unit = |text: &str| {
        let unit = units.iter().find_map(|unit| text.strip_suffix(unit));
        unit.map(str::to_string)
    };
    let of = |name: &str| exact(name).or_else(|| bare(name, &brackets));
    of(&name).or_else(|| of(&without_unit(&name)?))
}

/// The kind of a name that stands for one kind only. Survey controllers state the position's own root mean square error under `hrms`, `hsdv`
/// and `cq`, from memory; CEP,
/// DRMS and 2DRMS are named so in National Research Council, "The Global Positioning System: A Shared National Asset", 1995, appendix.
fn exact(name: &str) -> Option<Accuracy> {
    Some(match name {
        "sigma"
        | "stddev"
        | "sd"
        | "rms"
        | "precision"
        | "hprec"
        | "hprecision"
        | "horizontalprecision" => Accuracy::Axis,
        "hrms" | "horizontalrms" | "drms" | "hsd" | "hsdv" | "cq" | "cq2d" | "2dcq" => {
            Accuracy::Rms
        }
        "2drms" => Accuracy::TwiceRms,
        "cep" | "cep50" | "r50" => Accuracy::Radius50,
        "cep68" | "r68" => Accuracy::Radius68,
        "cep95" | "r95" => Accuracy::Radius95,
        _ => return None,
    })
}

/// The kind of a name of [`BARE`] with what stands beside it. Where nothing does, it is the radius that phones mean; where something else
/// than a kind does, `None`.
fn bare(name: &str, brackets: &str) -> Option<Accuracy> {
    let said = |text: &str| SAID.iter().find(|(word, _)| *word == text).map(|s| s.1);
    BARE.iter().find_map(|bare| {
        let rest = name.strip_prefix(bare).or(name.strip_suffix(bare))?;
        let inside = SAID.iter().find(|(word, _)| brackets.contains(word));
        match rest {
            "" => Some(inside.map_or(Accuracy::Radius68, |s| s.1)),
            _ => said(rest),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_says_what_kind_of_figure_it_is() {
        for (title, expected) in [
            ("sigma (mm)", Accuracy::Axis),
            ("Accuracy", Accuracy::Radius68),
            ("horizontal_accuracy", Accuracy::Radius68),
            ("horizontalAccuracy_m", Accuracy::Radius68),
            ("hAcc [m]", Accuracy::Radius68),
            ("hacc95", Accuracy::Radius95),
            ("Horizontal accuracy (95 %)", Accuracy::Radius95),
            ("accuracy_2drms_m", Accuracy::TwiceRms),
            ("accuracy (1 sigma)", Accuracy::Axis),
            ("HRMS", Accuracy::Rms),
            ("hsdv(m)", Accuracy::Rms),
            ("CQ 2D", Accuracy::Rms),
            ("2DRMS (m)", Accuracy::TwiceRms),
            ("cep", Accuracy::Radius50),
            ("R95 m", Accuracy::Radius95),
        ] {
            assert_eq!(kind(title), Some(expected), "{title}");
        }
        for title in [
            "hdop",
            "vacc",
            "vertical accuracy",
            "vrms",
            "accuracy of time",
            "r",
            "e",
            "",
        ] {
            assert_eq!(kind(title), None, "{title}");
        }
    }
}
