//! A lawn measured by tape alone: from the job sheet's figures to a result.
//!
//! Each figure has an area and a sigma of its own (`crate::tape::shapes`). Where the figures say where they lie they are put on a plan
//! (`plan`), which finds what overlaps and serves the order; otherwise their areas are just added up.

mod plan;

use self::plan::{Plan, is_round, plan, radius_m};
use super::Request;
use super::checked::{Checked, ErrorKind, Unseen};
use super::checking;
use super::measured::{
    Area, DeductionFacts, Identity, LawnArea, LogFacts, Measured, Remedy, Status, TapeFacts,
};
use super::settled::nearest;
use crate::fault::Fault;
use crate::job::Job;
use crate::job::keys::Faults;
use crate::job::shape::Shape;
use crate::lawn;
use crate::next_step::NextStep;
use crate::notice::{Notice, Weight};
use crate::order::Slope;
use crate::read::{LogFile, LogKind};
use crate::refusal::Refusal;
use crate::tape::chance::two_sided;
use crate::tape::shapes::{Taped, measure as measure_shape};

/// A survey whose job sheet has no walk, only what was taped.
///
/// # Errors
/// As [`measure`].
pub fn alone(request: &Request) -> Result<Measured, Faults> {
    let sheet = request.job.sheet.as_ref();
    let name = sheet.and_then(|s| s.path.file_name()).unwrap_or_default();
    let file = LogFile {
        name: name.to_string_lossy().into_owned(),
        sha256: sheet.map(|s| s.sha256.clone()).unwrap_or_default(),
        kind: LogKind::Tape,
        lines: sheet.map_or(0, |s| s.lines),
        fixes: 0,
        damaged: 0,
        first_time: String::new(),
        last_time: String::new(),
    };
    let confidence = request.confidence.unwrap_or(super::report::CONFIDENCE);
    measure(&request.job, &request.name, file, confidence)
}

/// Measures the `[[shape]]` tables of a sheet. `name` is what sheets call the survey, `file` the sheet as read.
///
/// Tapes are as likely long as short, so the band is the normal one: 1.96 sigma at 0.95.
///
/// # Errors
/// `Usage`, all of them at once: no shapes, nothing but deductions, shapes that can't be (with the line of each), a `confidence`
/// outside 0.5 to 0.999; `Withheld`: the deductions are larger than the lawn.
pub fn measure(job: &Job, name: &str, file: LogFile, confidence: f64) -> Result<Measured, Faults> {
    if !(0.5..=0.999).contains(&confidence) {
        return Err(Faults(vec![Fault::usage(
            "confidence",
            format!("A confidence of {confidence} isn't between 0.5 and 0.999."),
            "0.95 is customary.",
        )]));
    }
    let sheet = file.name.clone();
    let fault = |fault: Fault| Faults(vec![fault.in_file(sheet.clone())]);
    let taped = all_or_faults(&job.shapes, &sheet)?;
    let mut warnings = doubts(&taped);
    warnings.extend(super::dates::of_sheet(job, job.date, false));
    let slope = job.order.as_ref().and_then(Slope::given);
    let stretch = slope.and_then(|slope| slope.stretch());
    let (plan, of_plan) = plan(&job.shapes, &taped, stretch).map_err(fault)?;
    warnings.extend(of_plan);
    let area = area(&taped, plan.as_ref(), confidence);
    if area.net_m2 <= 0.0 {
        let refusal = Refusal::AllTapedTaken {
            deductions_m2: area.deductions_m2,
            gross_m2: area.gross_m2,
        };
        return Err(fault(refusal.into()));
    }
    let log = LogFacts {
        files: vec![file],
        dropped: Vec::new(),
    };
    let survey = Identity::of(name.to_string(), job, job.date);
    let mut measured = Measured {
        status: match warnings.iter().any(|w| w.weight() == Weight::Doubt) {
            true => Status::Check,
            false => Status::Ok,
        },
        lawns: lawns(&taped, plan.as_ref(), &area),
        perimeter_m: perimeter(&taped, plan.as_ref()),
        next: remedies(&taped, &area),
        deductions: taken_off(&job.shapes, &taped, plan.as_ref()),
        checked: checked(&taped),
        area: Some(area),
        warnings,
        settings: job.settings.clone(),
        paperwork: job.paperwork.clone(),
        ..Measured::blank(survey, log)
    };
    measured.taped.shapes = taped;
    if let Some(plan) = plan {
        let mut sheets = plan.sheets.into_iter();
        measured.taped.set_out = sheets.next().and_then(|first| first.set_out);
        measured.taped.other_lawns = sheets.collect();
        measured.drawing = plan.drawing;
    }
    super::report::order(job, false, &mut measured);
    Ok(measured)
}

/// What checks the figures: lengths beyond what fixes them. Nothing checks a rectangle's width, so that a misread one is not bounded.
fn checked(shapes: &[Taped]) -> Checked {
    let misread = shapes
        .iter()
        .map(|shape| shape.closing.as_ref()?.misread_m2);
    let facts = TapeFacts {
        shapes: shapes.to_vec(),
        ..TapeFacts::default()
    };
    Checked {
        by: checking::taped(&facts).into_iter().collect(),
        unseen: vec![Unseen {
            error: ErrorKind::Tape,
            area_m2: misread.reduce(|a, b| Some(a?.max(b?))).flatten(),
            by_m: None,
            walk: String::new(),
        }],
        would: Vec::new(),
    }
}

/// Every shape measured, or every fault of them, each with its line.
fn all_or_faults(shapes: &[Shape], sheet: &str) -> Result<Vec<Taped>, Faults> {
    if shapes.iter().all(|s| s.deduct) {
        let nothing = Fault::usage(
            "no-shapes",
            if shapes.is_empty() {
                "The sheet has no [[shape]]."
            } else {
                "Every [[shape]] of the sheet is a deduction; nothing is left to take them from."
            },
            "Add a [[shape]] table for each part of the lawn; `boundwalk job` prints one to start from.",
        );
        return Err(Faults(vec![nothing.in_file(sheet)]));
    }
    let mut taped = Vec::new();
    let mut faults = Vec::new();
    for shape in shapes {
        match measure_shape(shape) {
            Ok(one) => taped.push(one),
            Err(fault) => {
                let fault = fault.in_file(sheet);
                faults.push(match shape.line {
                    Some(line) => fault.at_line(line),
                    None => fault,
                });
            }
        }
    }
    if faults.is_empty() {
        Ok(taped)
    } else {
        Err(Faults(faults))
    }
}

/// Notices for figures whose lengths contradict each other, whose offsets lie too far apart, or whose area is very unsure.
fn doubts(taped: &[Taped]) -> Vec<Notice> {
    let mut warnings = Vec::new();
    for one in taped {
        if let Some(finding) = one.closing.as_ref().and_then(|c| c.finding.as_ref()) {
            warnings.push(Notice::LengthsDisagree {
                label: one.label.clone(),
                finding: finding.clone(),
            });
        }
        if one.rule_sigma_m2 > 2.0 * one.tape_sigma_m2 && one.sigma_m2 > 0.02 * one.area_m2 {
            warnings.push(Notice::OffsetsTooFarApart {
                label: one.label.clone(),
                radii: one.kind == "radii",
                adds_percent: 100.0 * one.rule_sigma_m2 / one.area_m2,
            });
        }
        if one.sigma_m2 > 0.2 * one.area_m2 {
            warnings.push(Notice::ShapeUncertain {
                label: one.label.clone(),
                error_percent: 196.0 * one.sigma_m2 / one.area_m2,
            });
        }
    }
    warnings
}

/// The areas of the lawns. Where several are drawn, they lie apart from each other, and what is taken off goes with the lawn that it lies
/// on. Otherwise all that was taped is one lawn.
fn lawns(taped: &[Taped], plan: Option<&Plan>, area: &Area) -> Vec<LawnArea> {
    let Some(plan) = plan.filter(|plan| plan.drawing.lawns.len() > 1) else {
        let mut parts = taped.iter().filter(|one| !one.deducted);
        let label = match (parts.next(), parts.next()) {
            (Some(only), None) => only.label.clone(),
            _ => "lawn".to_string(),
        };
        return vec![LawnArea {
            label,
            net_m2: area.net_m2,
            sigma_m2: area.sigma_m2,
        }];
    };
    let lawns = &plan.drawing.lawns;
    let mut variances_m4 = plan.variances_m4.clone();
    let off = taped.iter().filter(|one| one.deducted);
    for (one, deduction) in off.zip(&plan.drawing.deductions) {
        if let Some(variance_m4) = variances_m4.get_mut(nearest(lawns, deduction.centre)) {
            *variance_m4 += one.sigma_m2.powi(2);
        }
    }
    // The figures' own areas are exact, while those drawn carry the plan's grid: the sum is scaled to the exact one.
    let scale = area.net_m2 / lawns.iter().map(|lawn| lawn.net_m2).sum::<f64>();
    let areas = lawns.iter().zip(variances_m4);
    areas
        .map(|(lawn, variance_m4)| LawnArea {
            label: lawn.label.clone(),
            net_m2: lawn.net_m2 * scale,
            sigma_m2: variance_m4.sqrt(),
        })
        .collect()
}

/// What is taken off: as it is drawn where there is a plan, otherwise as it was taped; in the same order.
fn taken_off(shapes: &[Shape], taped: &[Taped], plan: Option<&Plan>) -> Vec<DeductionFacts> {
    let fact =
        |label: &str, radius_m: Option<f64>, area_m2: f64, deducted_m2: f64| DeductionFacts {
            label: label.to_owned(),
            kind: match radius_m {
                Some(_) => lawn::Kind::Bed,
                None => lawn::Kind::Taped,
            },
            lat: None,
            lon: None,
            radius_m,
            area_m2,
            deducted_m2,
        };
    let figures = shapes.iter().zip(taped).filter(|(shape, _)| shape.deduct);
    let Some(plan) = plan else {
        return figures
            .map(|(shape, one)| {
                let radius_m = is_round(shape).then(|| radius_m(one));
                fact(&one.label, radius_m, one.area_m2, one.area_m2)
            })
            .collect();
    };
    let drawn = plan.drawing.deductions.iter().take(plan.owned);
    drawn
        .map(|d| fact(&d.label, d.radius_m, d.area_m2, d.deducted_m2))
        .collect()
}

/// What would narrow a band of more than 5 % of the net area: all offsets and radii twice as close (the trapezoid rule's error falls with
/// the square of the spacing), or every length taped twice.
fn remedies(taped: &[Taped], area: &Area) -> Vec<Remedy> {
    if area.band_m2 <= 0.05 * area.net_m2 {
        return Vec::new();
    }
    let band = |rule: f64, tape: f64| {
        let variance: f64 = taped
            .iter()
            .map(|t| (rule * t.rule_sigma_m2).powi(2) + (tape * t.tape_sigma_m2).powi(2))
            .sum();
        area.coverage_factor * variance.sqrt()
    };
    let mut all = vec![Remedy {
        remedy: NextStep::TapeTwice,
        band_m2: band(1.0, std::f64::consts::FRAC_1_SQRT_2),
    }];
    if taped.iter().any(|t| t.rule_sigma_m2 > 0.0) {
        all.push(Remedy {
            remedy: NextStep::TapeCloser,
            band_m2: band(0.25, 1.0),
        });
    }
    all.sort_by(|a, b| b.band_m2.total_cmp(&a.band_m2));
    all
}

/// The sum of the figures less what is taken off, with its band. Where figures overlap, what is drawn counts. Where nothing does, the
/// figures' own areas are used, which are exact, while those drawn carry the plan's grid.
fn area(taped: &[Taped], plan: Option<&Plan>, confidence: f64) -> Area {
    let sum_m2 = |deducted: bool, drawn_m2: Option<f64>| {
        let own = taped.iter().filter(|t| t.deducted == deducted);
        let own_m2: f64 = own.map(|t| t.area_m2).sum();
        let drawn_m2 = drawn_m2.filter(|m2| (m2 - own_m2).abs() > 1e-4 * own_m2);
        drawn_m2.unwrap_or(own_m2)
    };
    let gross_m2 = sum_m2(false, plan.map(|plan| plan.gross_m2));
    let deductions_m2 = sum_m2(true, plan.map(|plan| plan.deducted_m2.iter().sum()));
    let net_m2 = gross_m2 - deductions_m2;
    // Of a deduction that lies partly outside the lawn only the part that is taken off adds to the error.
    let mut off_m2 = plan.map_or(&[][..], |plan| &plan.deducted_m2).iter();
    let variance_m4: f64 = taped
        .iter()
        .map(|one| {
            let drawn_m2 = one.deducted.then(|| off_m2.next()).flatten();
            let share = drawn_m2.map_or(1.0, |m2| m2 / one.area_m2);
            (one.sigma_m2 * share).powi(2)
        })
        .sum();
    let (sigma_m2, coverage_factor) = (variance_m4.sqrt(), two_sided(confidence));
    let band_m2 = coverage_factor * sigma_m2;
    Area {
        gross_m2,
        deductions_m2,
        net_m2,
        sigma_m2,
        confidence,
        coverage_factor,
        band_m2,
        low_m2: (net_m2 - band_m2).max(0.0),
        high_m2: net_m2 + band_m2,
        slope_m2: None,
        slope_sigma_m2: None,
        slope_band_m2: None,
    }
}

/// The length round all lawns, metres: by formula for a single figure, else from the plan; `None` where neither knows it.
fn perimeter(taped: &[Taped], plan: Option<&Plan>) -> Option<f64> {
    let lawns: Vec<&Taped> = taped.iter().filter(|t| !t.deducted).collect();
    match lawns.as_slice() {
        [only] if only.perimeter_m.is_some() => only.perimeter_m,
        _ => plan.map(|p| p.perimeter_m),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use std::path::Path;

    fn measured(sheet: &str) -> Result<Measured, Faults> {
        let job = Job::from_text(sheet, "tape.toml", Path::new("")).expect("a sheet");
        let file = LogFile {
            name: "tape.toml".into(),
            sha256: String::new(),
            kind: LogKind::Tape,
            lines: sheet.lines().count() as u64,
            fixes: 0,
            damaged: 0,
            first_time: String::new(),
            last_time: String::new(),
        };
        measure(&job, "tape", file, 0.95)
    }

    fn net(sheet: &str) -> Measured {
        measured(sheet).expect("measured")
    }

    #[test]
    fn a_rectangle_less_a_tree_ring() {
        // A case worked out for this project: 12 x 8 m less a ring of 1 m radius is 92.858 m².
        let m = net(
            "[[shape]]\nkind = \"rectangle\"\nlength_m = 12\nwidth_m = 8\n[[shape]]\nkind = \"circle\"\nradius_m = 1\n\
             deduct = true\nat_m = [6, 4]\n",
        );
        let area = m.area.expect("an area");
        assert_abs_diff_eq!(area.net_m2, 92.858, epsilon = 5e-4);
        assert_abs_diff_eq!(area.coverage_factor, 1.96, epsilon = 1e-4);
        // 0.02 m x hypot(hypot(12, 8), 2 pi).
        assert_abs_diff_eq!(
            area.sigma_m2,
            0.02 * (208.0 + 39.478_f64).sqrt(),
            epsilon = 1e-4
        );
        assert_abs_diff_eq!(m.perimeter_m.expect("known"), 40.0);
        assert_eq!(m.drawing.lawns.len(), 1);
        assert_abs_diff_eq!(m.drawing.lawns[0].net_m2, 92.858, epsilon = 1e-3);
        assert_eq!(m.status, Status::Ok);
    }

    #[test]
    fn parts_side_by_side_become_one_lawn() {
        let m = net(
            "[[shape]]\nkind = \"rectangle\"\nlength_m = 12\nwidth_m = 8\nat_m = [0, 0]\n[[shape]]\nkind = \"triangle\"\n\
             base_m = 12\nheight_m = 3\nat_m = [0, 0]\nside = \"right\"\n",
        );
        assert_abs_diff_eq!(m.area.expect("an area").net_m2, 114.0, epsilon = 1e-9);
        assert_eq!(m.drawing.lawns.len(), 1);
        let sides = 12.0 + 16.0 + 2.0 * 6.0_f64.hypot(3.0);
        assert_abs_diff_eq!(m.perimeter_m.expect("drawn"), sides, epsilon = 1e-6);
        assert!(m.warnings.is_empty(), "{:?}", m.warnings);
    }

    #[test]
    fn what_lies_beside_the_lawn_is_doubtful() {
        let m = net(
            "[[shape]]\nkind = \"rectangle\"\nlength_m = 10\nwidth_m = 10\nat_m = [0, 0]\n[[shape]]\nlabel = \"tree\"\n\
             kind = \"circle\"\nradius_m = 2\ndeduct = true\nat_m = [30, 30]\n",
        );
        let codes: Vec<&str> = m.warnings.iter().map(|w| w.code()).collect();
        assert_eq!((m.status, codes), (Status::Check, vec!["deducts-nothing"]));
    }

    #[test]
    fn what_overlaps_counts_once_and_what_lies_outside_is_not_taken_off() {
        let m = net(
            "[[shape]]\nkind = \"rectangle\"\nlength_m = 10\nwidth_m = 10\nat_m = [0, 0]\n[[shape]]\nkind = \"rectangle\"\n\
             length_m = 10\nwidth_m = 10\nat_m = [5, 0]\n[[shape]]\nlabel = \"tree\"\nkind = \"circle\"\nradius_m = 2\n\
             deduct = true\nat_m = [0, 5]\n",
        );
        let area = m.area.expect("an area");
        assert_abs_diff_eq!(area.gross_m2, 150.0, epsilon = 1e-4);
        // The circle's centre lies on a straight edge, so that half of it is taken off: 2 pi.
        assert_abs_diff_eq!(
            area.deductions_m2,
            2.0 * std::f64::consts::PI,
            epsilon = 1e-4
        );
        let codes: Vec<&str> = m.warnings.iter().map(|w| w.code()).collect();
        assert_eq!(codes, ["shapes-overlap", "deduction-outside"]);
        assert_eq!(m.status, Status::Check);
    }

    #[test]
    fn parts_without_places_are_added_up_without_a_plan() {
        let m = net(
            "[[shape]]\nkind = \"rectangle\"\nlength_m = 10\nwidth_m = 10\n[[shape]]\nkind = \"triangle\"\nbase_m = 10\nheight_m = 4\n\
             [[shape]]\nkind = \"circle\"\ndiameter_m = 0.9\ndeduct = true\n",
        );
        assert_abs_diff_eq!(
            m.area.expect("an area").net_m2,
            120.0 - 0.636_173,
            epsilon = 1e-6
        );
        assert!(m.drawing.lawns.is_empty());
        assert!(m.perimeter_m.is_none());
        assert_eq!(m.warnings[0].code(), "not-on-a-plan");
        assert_eq!(m.status, Status::Ok);
    }

    #[test]
    fn every_impossible_shape_is_told_with_its_line() {
        let faults = measured(
            "[[shape]]\nkind = \"triangle\"\nsides_m = [1, 2, 4]\n[[shape]]\nkind = \"offsets\"\nspacing_m = 1\noffsets_m = [3]\n",
        )
        .expect_err("two faults");
        let told: Vec<String> = faults.0.iter().map(ToString::to_string).collect();
        assert_eq!(told.len(), 2);
        assert!(told[0].starts_with("tape.toml line 1:"), "{told:?}");
        assert!(told[1].starts_with("tape.toml line 4:"), "{told:?}");
        let nothing = measured("[job]\nnumber = \"1\"\n").expect_err("no shapes");
        assert_eq!(nothing.0[0].code(), "no-shapes");
        let too_much = measured(
            "[[shape]]\nkind = \"circle\"\nradius_m = 1\n[[shape]]\nkind = \"circle\"\nradius_m = 2\ndeduct = true\n",
        )
        .expect_err("nothing left");
        assert_eq!(too_much.0[0].code(), "deductions-exceed-lawn");
    }
}
