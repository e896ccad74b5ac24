//! Who gets which document: what stands on it, what never does, and that every lawn of a job is served.

use super::call;
use boundwalk::job::Job;
use boundwalk::sheet::board::{Mark, Page};
use boundwalk::sheet::{paper, plan};
use boundwalk::survey::{Measured, Request, measure};
use boundwalk::units::Units;
use std::fs;
use std::path::Path;

/// A degree of the meridian at latitude 45 (Snyder, Map Projections, 1987, table 8: 111 132 m).
const NORTH_M: f64 = 1.0 / 111_132.0;

/// Twice round a rectangle of these sides, metres, so far east and north of a place in the open Atlantic.
fn walk(file: &Path, east_m: f64, north_m: f64, wide_m: f64, tall_m: f64, hour: u32) {
    let (lat_0, east) = (45.0_f64, NORTH_M / 45.0_f64.to_radians().cos());
    let corners = [(0.0, 0.0), (wide_m, 0.0), (wide_m, tall_m), (0.0, tall_m)];
    let mut text = String::from("<gpx version=\"1.1\" creator=\"test\"><trk><trkseg>\n");
    let mut second = 0;
    for side in 0..8 {
        let ((x0, y0), (x1, y1)) = (corners[side % 4], corners[(side + 1) % 4]);
        let steps = (2.0 * f64::hypot(x1 - x0, y1 - y0)) as usize;
        for step in 0..steps {
            let share = step as f64 / steps as f64;
            let x = east_m + x0 + share * (x1 - x0);
            let y = north_m + y0 + share * (y1 - y0);
            text.push_str(&format!(
                "<trkpt lat=\"{:.9}\" lon=\"{:.9}\"><time>2026-05-14T{hour:02}:{:02}:{:02}Z</time></trkpt>\n",
                lat_0 + y * NORTH_M,
                -30.0 + x * east,
                second / 60,
                second % 60
            ));
            second += 1;
        }
    }
    text.push_str("</trkseg></trk></gpx>\n");
    fs::write(file, text).expect("written");
}

/// A logo: two fields of colour.
const LOGO: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 30 10\"><path d=\"M0 0H15V10H0Z\" fill=\"#204060\"/></svg>";

const SHEET: &str = r#"
[job]
number = "J-0417"
site = "12 Example Lane"
notes = "Key at no. 14"
[customer]
name = "A. Sample"
address = ["12 Example Lane", "Sampleton"]
telephone = "000 0000"
[firm]
name = "Example Lawns"
telephone = "000 0001"
logo = "logo.svg"
surveyor = "B. Sample"
[access]
gate_width_m = 0.95
unload = "kerbside, by tail lift"
[[lawn]]
label = "front"
files = ["front.gpx"]
sigma_m = 0.02
[[lawn]]
label = "back"
files = ["back.gpx"]
sigma_m = 0.02
[[deduct]]
label = "patio"
files = ["patio.gpx"]
[order.turf]
kind = "hard-wearing, rye"
[order.soil]
[order.edging]
[delivery]
date = 2026-06-02
hours = "07:30 to 09:00"
[price]
tax_percent = 20
markup_percent = 40
laying_per_m2 = 4.5
document = "quotation"
valid_until = 2026-06-30
[cost]
turf_per_piece = 2.15
soil_per_tonne = 28.5
"#;

/// Two lawns of 20 by 12 and of 10 by 8 m; in the second a patio of 4 by 3 m, 3 m from its west and 2 m from its south side.
fn folder(sheet: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    walk(&at("front.gpx"), 0.0, 0.0, 20.0, 12.0, 9);
    walk(&at("back.gpx"), 2.0, 20.0, 10.0, 8.0, 10);
    walk(&at("patio.gpx"), 5.0, 22.0, 4.0, 3.0, 11);
    fs::write(at("logo.svg"), LOGO).expect("written");
    fs::write(at("job.toml"), sheet).expect("written");
    folder
}

fn measured(folder: &Path) -> Measured {
    let request = Request {
        job: Job::from_file(&folder.join("job.toml")).unwrap_or_else(|faults| panic!("{faults}")),
        ..Request::default()
    };
    measure(&request).unwrap_or_else(|fault| panic!("{fault}"))
}

/// All that a page says, line by line.
fn said(page: &Page) -> String {
    let texts = page.each().into_iter().filter_map(|(_, mark)| match mark {
        Mark::Text(text) => Some(text.text.clone()),
        _ => None,
    });
    texts.collect::<Vec<_>>().join("\n")
}

#[test]
fn every_lawn_is_checked_and_set_out_by_its_label() {
    let folder = folder(SHEET);
    let measured = measured(folder.path());
    let lawns = measured.lawn_sheets();
    let labels: Vec<&str> = lawns.iter().map(|lawn| lawn.label.as_str()).collect();
    assert_eq!(labels, ["front", "back"]);
    let back = lawns[1].set_out.as_ref().expect("a baseline");
    approx::assert_abs_diff_eq!(back.baseline.length_m, 10.0, epsilon = 0.05);
    // The patio's corners from the baseline, which is the lawn's south or north side.
    let mut offsets: Vec<(f64, f64)> = back
        .rows
        .iter()
        .filter(|row| row.name.starts_with("patio "))
        .map(|row| (row.offset_m, row.chainage_m))
        .collect();
    offsets.sort_by(|a, b| a.0.total_cmp(&b.0));
    assert_eq!(offsets.len(), 4, "{:?}", back.rows);
    let near = if offsets[0].0 < 2.5 { 2.0 } else { 3.0 };
    for ((offset_m, chainage_m), expected) in
        offsets.iter().zip([near, near, near + 3.0, near + 3.0])
    {
        approx::assert_abs_diff_eq!(*offset_m, expected, epsilon = 0.05);
        let from_ends = [3.0, 7.0].map(|m: f64| (chainage_m - m).abs());
        assert!(from_ends.iter().any(|m| *m < 0.05), "{chainage_m}");
    }
    assert!(lawns.iter().all(|lawn| {
        let lines = lawn.check_sheet.as_ref().map(|sheet| sheet.lines.len());
        lines.is_some_and(|lines| lines >= 4)
    }));
    for told in [
        boundwalk::sheet::tape::check_sheet(&measured, Units::Metric),
        boundwalk::sheet::tape::set_out(&measured, Units::Metric),
        paper::page(&paper::crew(&measured, Units::Metric)),
        paper::page(&paper::record(
            &measured,
            &plan::lawn(&measured, Units::Metric),
            Units::Metric,
        )),
        paper::page(&paper::customer(&measured, Units::Metric)),
    ] {
        assert!(told.contains("front") && told.contains("back"), "{told}");
    }
}

#[test]
fn the_customers_first_page_is_the_whole_answer() {
    let folder = folder(SHEET);
    let measured = measured(folder.path());
    let pages = paper::pages(&paper::customer(&measured, Units::Metric));
    assert!(pages.len() <= 3, "{}", pages.len());
    let first = said(&pages[0]);
    let price = measured
        .order
        .as_ref()
        .and_then(|o| o.price.clone())
        .expect("a price");
    for needed in [
        "Quotation",
        "A. Sample, 12 Example Lane, Sampleton, 000 0000",
        "Example Lawns",
        "30 June 2026",
        "Taken off",
        "patio (12.",
        "hard-wearing, rye",
        &price.total.to_string(),
        "B. Sample",
        "Agreed by the customer, date",
        "Walked twice round",
        "front",
        // Of the plan.
        "A",
        "H",
    ] {
        assert!(
            first.lines().any(|l| l.contains(needed)),
            "{needed} in {first}"
        );
    }
    assert!(
        pages[0]
            .each()
            .iter()
            .any(|(_, mark)| matches!(mark, Mark::Picture(_)))
    );
    let html = paper::page(&paper::customer(&measured, Units::Metric));
    assert!(html.contains("<img class=\"logo\" src=\"data:image/png;base64,iVBOR"));
    let all: String = pages.iter().map(said).collect::<Vec<_>>().join("\n");
    for never in [
        "their squares",
        "variance",
        "factor",
        "SHA-256",
        "Setting",
        "markup",
        "2.15",
        "cost",
    ] {
        assert!(!all.contains(never), "{never} in {all}");
    }
}

#[test]
fn the_merchant_reads_what_when_and_where_and_no_price_of_the_customers() {
    let folder = folder(SHEET);
    let measured = measured(folder.path());
    let order = paper::page(&paper::order(&measured, Units::Metric));
    let pieces = measured
        .order
        .as_ref()
        .and_then(|o| o.turf.as_ref())
        .map(|t| t.ordered_pieces);
    let rolls = format!("{} rolls", pieces.unwrap_or(0));
    for needed in [
        rolls.as_str(),
        "hard-wearing, rye",
        "2 June 2026",
        "07:30 to 09:00",
        "12 Example Lane, Sampleton",
        "0.95 m at the narrowest",
        "kerbside, by tail lift",
        "A. Sample, 000 0000",
        "before tax",
    ] {
        assert!(order.contains(needed), "{needed} in {order}");
    }
    // 2.15 and 40 % are 3.01; laying is 4.5 a square metre.
    for never in ["3.01", "Laying", "laying", "Tax, 20", "Valid", "chance"] {
        assert!(!order.contains(never), "{never} in {order}");
    }
    let asked: Vec<&str> = order.split("Topsoil").collect();
    assert_eq!(asked.len(), 2, "each thing once");
    let unpriced = SHEET.replace("[cost]\nturf_per_piece = 2.15\nsoil_per_tonne = 28.5\n", "");
    let folder = self::folder(&unpriced.replace("markup_percent = 40\n", ""));
    let measured = self::measured(folder.path());
    let order = paper::page(&paper::order(&measured, Units::Metric));
    assert!(!order.contains("GBP"), "{order}");
}

/// Two lawns and a patio, each walked twice: of six laps three are first ones, which check nothing.
#[test]
fn the_first_lap_of_each_walk_is_no_check() {
    let folder = folder(SHEET);
    let measured = measured(folder.path());
    assert_eq!(measured.checked.count(), 3);
    let first = boundwalk::sheet::text::screen(&measured, Units::Metric);
    assert!(first.contains("6 laps of 3 walks"), "{first}");
    // The day's table counts them from the document that was kept.
    let document = serde_json::to_value(&measured).expect("a document");
    assert_eq!(document["checked"]["by"][0]["walks"], 3, "{document}");
}

/// Every number is the same wherever it stands: what is bought by weight or volume, and what is left of a price that lacks some.
#[test]
fn what_is_ordered_reads_the_same_on_every_sheet() {
    let bed = "[[bed]]\nlabel = \"tree\"\nlat = 45.00003\nlon = -29.99995\nradius_m = 0.55\n";
    let more = "[order.seed]\n[order.mulch]\n[delivery]";
    let sheet = SHEET.replace("[order.turf]", &format!("{bed}[order.turf]"));
    let folder = folder(&sheet.replace("[delivery]", more));
    let measured = measured(folder.path());
    let ordered = measured.order.as_ref().expect("an order");
    let seed_kg = ordered.seed.as_ref().expect("seed").order_kg;
    let seed = format!("{seed_kg:.3}");
    let seed = format!("{} kg", seed.trim_end_matches('0'));
    // By hand: (0.55² - 0.1²) pi 0.075 = 0.0689.
    for amount in [seed.as_str(), "0.069 m³"] {
        let whole = boundwalk::sheet::text::report(&measured, Units::Metric);
        let first = boundwalk::sheet::text::screen(&measured, Units::Metric);
        let order = paper::page(&paper::order(&measured, Units::Metric));
        let customer = paper::page(&paper::customer(&measured, Units::Metric));
        let crew = paper::page(&paper::crew(&measured, Units::Metric));
        for told in [&whole, &first, &order, &customer, &crew] {
            assert!(told.contains(amount), "{amount} in {told}");
        }
        // Edging, seed and mulch cost something too, but nobody said what.
        assert!(order.contains("What has a price here") && !order.contains("All of it"));
        assert!(first.contains("; without edging, seed, mulch"), "{first}");
        assert!(crew.contains("10 cm clear of the trunk"), "{crew}");
        // Whoever unloads must see that the right kind came.
        assert!(crew.contains("hard-wearing, rye"), "{crew}");
    }
}

#[test]
fn the_record_has_the_settings_but_not_what_the_firm_pays() {
    let folder = folder(SHEET);
    let record = paper::page(&{
        let measured = measured(folder.path());
        paper::record(
            &measured,
            &plan::lawn(&measured, Units::Metric),
            Units::Metric,
        )
    });
    for needed in [
        "customer.name",
        "job sheet, line",
        "cost.turf_per_piece",
        "B. Sample",
        "SHA-256",
        "how truly the edge was followed",
    ] {
        assert!(record.contains(needed), "{needed} in {record}");
    }
    for never in ["<td>2.15</td>", "<td>28.5</td>", "<td>40</td>"] {
        assert!(!record.contains(never), "{never} in {record}");
    }
}

#[test]
fn one_document_one_size_of_paper() {
    for (paper_key, units, wanted) in [
        ("", Units::Metric, [2100, 2970]),
        ("", Units::Imperial, [2159, 2794]),
        ("paper = \"letter\"", Units::Metric, [2159, 2794]),
        ("paper = \"a4\"", Units::Imperial, [2100, 2970]),
    ] {
        let folder = folder(&SHEET.replace("notes =", &format!("{paper_key}\nnotes =")));
        let measured = measured(folder.path());
        for document in [
            paper::customer(&measured, units),
            paper::order(&measured, units),
            paper::crew(&measured, units),
            paper::record(&measured, &plan::lawn(&measured, units), units),
        ] {
            for page in paper::pages(&document) {
                let mut size = [page.width_mm, page.height_mm].map(|mm| (10.0 * mm).round() as u32);
                size.sort_unstable();
                assert_eq!(size, wanted, "{}", document.kind);
            }
        }
    }
}

/// A log of another job is told of, though each lawn by itself is measured well.
#[test]
fn lawns_of_one_job_lie_near_each_other() {
    for (north_m, told) in [(20.0, false), (2000.0, false), (30_000.0, true)] {
        let folder = folder(&SHEET.replace(
            "[[deduct]]\nlabel = \"patio\"\nfiles = [\"patio.gpx\"]\n",
            "",
        ));
        walk(&folder.path().join("back.gpx"), 2.0, north_m, 10.0, 8.0, 10);
        let warnings = measured(folder.path()).warnings;
        let far = warnings.iter().any(|w| w.code() == "lawns-far-apart");
        assert_eq!(far, told, "{north_m}: {warnings:?}");
    }
}

#[test]
fn records_list_job_site_and_customer() {
    let folder = folder(SHEET);
    let records = folder.path().join("all.gpkg");
    let records = records.to_str().expect("a path");
    let sheet = folder.path().join("job.toml");
    let sheet = sheet.to_str().expect("a path");
    let (_, err, code) = call(&["measure", sheet, "--records", records, "-q"]);
    assert!(code == 0 || code == 3, "{err}");
    let (list, _, _) = call(&["records", "list", records]);
    assert!(
        list.contains("J-0417, 12 Example Lane, A. Sample"),
        "{list}"
    );
    let (found, _, code) = call(&["records", "list", records, "--about", "a. samp"]);
    assert_eq!(code, 0, "{found}");
}

/// Whoever thinks in feet reads feet, pounds and cubic yards; a metric amount stands behind its own, in brackets, for the merchant.
/// Rates are those of the job sheet, whose units stand with them.
#[test]
fn documents_in_feet_are_in_feet() {
    let sheet = SHEET.replace(
        "[delivery]",
        "[order.old_turf]\n[order.water]\n[order.crew]\nlay_m2_per_hour = 20\n[delivery]",
    );
    let folder = folder(&sheet.replace("back.gpx", "patio.gpx"));
    let measured = measured(folder.path());
    assert!(!measured.warnings.is_empty());
    let units = Units::Imperial;
    for document in [
        paper::customer(&measured, units),
        paper::order(&measured, units),
        paper::crew(&measured, units),
    ] {
        let all: Vec<String> = paper::pages(&document).iter().map(said).collect();
        for line in all.join("\n").lines().filter(|line| !line.contains(" / ")) {
            for (at, _) in line.match_indices(|c: char| c.is_ascii_digit()) {
                let number = line[at..]
                    .trim_start_matches(|c: char| c.is_ascii_digit() || ".  ".contains(c));
                let unit = number
                    .split([')', ',', ';', ' ', ':'])
                    .next()
                    .unwrap_or_default();
                let metric = ["m", "cm", "mm", "m²", "m³", "kg", "t", "t/m³", "L"].contains(&unit);
                let told = line[..at].rsplit(['(', ')']).next().unwrap_or_default();
                let within = line[..at].matches('(').count() > line[..at].matches(')').count();
                assert!(!metric || within, "{}: {line} ({told})", document.kind);
            }
        }
    }
    let crew = paper::pages(&paper::crew(&measured, units));
    let crew: Vec<String> = crew.iter().map(said).collect();
    assert!(
        crew.join("\n")
            .contains("6 ft along it, 8 ft off it, 10 ft across")
    );
}

/// On a slope of 12 % to the east a side that runs east is longer by tape, sqrt(1 + 0.12²) = 1.0072 times as long; one that runs north is
/// not.
#[test]
fn on_a_slope_edges_are_told_as_a_tape_reads_them() {
    let slope = "[order]\nslope_percent = 12\nfall_deg = 90\n[order.turf]";
    let folder = folder(&SHEET.replace("[order.turf]", slope));
    let measured = measured(folder.path());
    let crew: Vec<String> = paper::pages(&paper::crew(&measured, Units::Metric))
        .iter()
        .map(said)
        .collect();
    let crew = crew.join("\n");
    assert!(crew.contains("tight and along the slope"), "{crew}");
    let edges = crew
        .split("on the plan\nalong the ground\n")
        .nth(1)
        .unwrap_or_default();
    let cells: Vec<&str> = edges.lines().skip(1).take(16).collect();
    let mut longer = 0;
    for row in cells.chunks(4) {
        let [plan, ground] =
            [row[1], row[2]].map(|m| m.trim_end_matches(" m").parse::<f64>().unwrap());
        let east = ground / plan > 1.004;
        longer += usize::from(east);
        let expected = if east { 1.0072 } else { 1.0 };
        approx::assert_abs_diff_eq!(ground / plan, expected, epsilon = 1e-3);
    }
    assert_eq!(longer, 2, "{edges}");
}

/// Whatever is supplied, the customer's sheet has three pages and every line of the price, and its first page the total and the plan.
#[test]
fn a_long_price_is_neither_cut_nor_longer_than_three_pages() {
    let extra = |k: usize| format!("[[price.extra]]\nlabel = \"work number {k}.\"\nrate = {k}\n");
    for most in [1, 40, 75] {
        let extras: String = (1..=most).map(extra).collect();
        let folder = folder(&SHEET.replace("[cost]", &format!("{extras}[cost]")));
        let measured = measured(folder.path());
        let pages = paper::pages(&paper::customer(&measured, Units::Metric));
        assert!(pages.len() <= 3, "{most}: {} pages", pages.len());
        let text: Vec<String> = pages.iter().map(said).collect();
        let text = text.join("\n");
        for k in 1..=most {
            assert!(text.contains(&format!("ork number {k}.")), "{k} of {most}");
        }
        assert!(text.contains("Buried services"));
        let price = measured.order.as_ref().and_then(|o| o.price.as_ref());
        let total = price.expect("a price").total.to_string();
        let first = said(&pages[0]);
        for needed in ["Agreed by the customer", "How sure", "Total", &total] {
            assert!(first.contains(needed), "{most}: {needed} in {first}");
        }
        assert_eq!(first.contains("more lines, listed below"), most > 1);
        // North's arrow and the scale bar stand on the plan alone.
        assert!(first.lines().any(|line| line == "N"), "{first}");
    }
}

/// A name in letters that the type does not have is drawn as boxes, and it says so and what to do; others say nothing.
#[test]
fn letters_that_the_type_lacks_are_told() {
    for (name, boxes) in [
        ("A. Sample", false),
        ("Ł. Žižka, Σάββας, Щукин", false),
        ("שרה לוי", true),
        ("山田 花子", true),
    ] {
        let sheet = SHEET.replacen("A. Sample", name, 1);
        assert!(name == "A. Sample" || sheet != SHEET);
        let folder = folder(&sheet);
        let measured = measured(folder.path());
        let pages = paper::pages(&paper::customer(&measured, Units::Metric));
        let told = pages
            .iter()
            .any(|page| said(page).contains("An empty box stands for a letter"));
        assert_eq!(told, boxes, "{name}");
        let html = paper::page(&paper::customer(&measured, Units::Metric));
        assert!(
            html.contains(name) && !html.contains("An empty box"),
            "{name}"
        );
    }
}
