//! The order from the command line: a job sheet in, an order on every sheet out.

use super::call;
use crate::kept::keep;
use serde_json::Value;
use std::fs;
use std::path::Path;

/// 12 x 8 m less a tree ring, taped; every part of an order, and rates from a file of their own.
pub const SHEET: &str = r#"
[job]
number = "J-0417"

[[shape]]
label = "lawn"
kind = "rectangle"
length_m = 12
width_m = 8
sigma_m = 0.01
at_m = [0, 0]
bearing_deg = 90

[[shape]]
label = "tree"
kind = "circle"
diameter_m = 2
deduct = true
sigma_m = 0.01
at_m = [6, 4]

[order.turf]
direction_deg = 90
[order.soil]
depth_m = 0.1
bag_m3 = 0.7
[order.edging]
[order.fertiliser]
[order.water]
[order.old_turf]
[order.mulch]
clear_radius_m = 0.25
[order.crew]
lay_m2_per_hour = 15
lay_within_h = 4

[price]
rates = "rates.toml"
tax_percent = 20
edging_per_piece = 11.4

[[price.extra]]
label = "turf cutter hire"
unit = "day"
rate = 75
"#;

pub const RATES: &str = "turf_per_piece = 3.2\nsoil_per_tonne = 38.5\nedging_per_piece = 99\nfertiliser_per_kg = 2.1\n\
                     mulch_per_m3 = 62\nskip_each = 260\ndelivery_each = 45\n";

/// A folder with the sheet and the rates; what the call gives.
fn run(sheet: &str, args: &[&str]) -> (String, String, i32) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.toml");
    fs::write(&path, sheet).unwrap();
    fs::write(folder.path().join("rates.toml"), RATES).unwrap();
    let mut all = vec!["tape", path.to_str().expect("a text path")];
    all.extend(args);
    call(&all)
}

fn document(sheet: &str) -> Value {
    let (out, err, _) = run(sheet, &["--format", "json", "--quiet"]);
    serde_json::from_str(&out).unwrap_or_else(|error| panic!("{error}: {out}{err}"))
}

#[test]
fn an_order_as_a_person_reads_it() {
    let (out, err, code) = run(SHEET, &["--quiet", "--detail"]);
    assert_eq!(code, 0, "{err}");
    let from = out.find("The order").expect("an order");
    let to = out.find("Read from").expect("a source");
    insta::assert_snapshot!(&out[from..to]);
    assert!(out.lines().all(|line| line.chars().count() <= 80));
}

#[test]
fn an_order_as_a_program_reads_it() {
    let document = document(SHEET);
    keep("result", document.to_string().as_bytes());
    let order = &document["order"];
    let rows = &order["turf"]["rows"];
    assert_eq!(rows["pieces"], 94);
    assert_eq!(rows["direction_deg"], 90.0);
    assert_eq!(order["turf"]["by_percent"]["10"], 103);
    // What the sheet says wins over the shared rates; money is exact.
    let lines = order["price"]["lines"].as_array().expect("lines");
    let edging = lines
        .iter()
        .find(|l| l["item"] == "edging")
        .expect("edging");
    assert_eq!(
        (&edging["rate"], &edging["amount"]),
        (&"11.4".into(), &"216.60".into())
    );
    assert_eq!(order["price"]["document"], "estimate");
    assert_eq!(order["deliveries"].as_array().map(Vec::len), Some(2));
}

#[test]
fn the_same_order_as_tables_and_on_a_map() {
    let (out, _, _) = run(SHEET, &["--format", "csv", "--quiet"]);
    let mut table = csv::ReaderBuilder::new().from_reader(out.as_bytes());
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let order: Vec<&csv::StringRecord> = rows.iter().filter(|r| &r[0] == "order").collect();
    assert!(order.len() >= 7, "{out}");
    let turf: f64 = order[0][2].parse().unwrap();
    assert_eq!((turf, &order[0][3]), (95.0, "piece"));
    assert!(rows.iter().any(|r| &r[0] == "estimate" && &r[1] == "total"));

    let folder = tempfile::tempdir().unwrap();
    let sheets = folder.path().join("sheets");
    let (_, err, code) = run(SHEET, &["--out", sheets.to_str().unwrap(), "--quiet"]);
    assert_eq!(code, 0, "{err}");
    let cuts = fs::read_to_string(sheets.join("rows.csv")).unwrap();
    let mut table = csv::ReaderBuilder::new().from_reader(cuts.as_bytes());
    let cuts: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let fresh = cuts.iter().filter(|cut| &cut[6] == "no").count();
    assert_eq!(fresh, 94);
    let length: f64 = cuts.iter().map(|cut| cut[5].parse::<f64>().unwrap()).sum();
    // 20 rows of 12 m less what the tree ring takes of the four rows it spans.
    assert!((233.9..234.0).contains(&length), "{length}");
}

/// A spreadsheet takes "10 957" for a text.
#[test]
fn large_amounts_are_numbers_in_the_table() {
    let large = SHEET.replace("length_m = 12", "length_m = 120");
    let (out, err, _) = run(&large, &["--format", "csv", "--quiet"]);
    let mut table = csv::ReaderBuilder::new().from_reader(out.as_bytes());
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let water = rows.iter().find(|row| &row[1] == "first watering");
    let water = water.unwrap_or_else(|| panic!("{out}{err}"));
    // 960 m² less the tree's, 25 mm deep.
    assert!(
        (23_900.0..24_000.0).contains(&water[2].parse::<f64>().unwrap()),
        "{water:?}"
    );
}

#[test]
fn a_price_without_tax_is_not_said_to_have_any() {
    let (with, _, _) = run(SHEET, &["--quiet"]);
    assert!(with.contains("with tax"), "{with}");
    let (without, _, _) = run(&SHEET.replace("tax_percent = 20\n", ""), &["--quiet"]);
    assert!(
        without.contains("GBP") && !without.contains("tax"),
        "{without}"
    );
}

/// Whoever pays can check rate and amount: the sheet says how much is charged for. A rate of the sheet's own by another measure
/// wins over the rates file's, too.
#[test]
fn what_is_charged_for_stands_beside_its_rate() {
    let sheet = SHEET.replace(
        "edging_per_piece",
        "soil_per_bag = 60\nturf_per_pallet = 300\nedging_per_piece",
    );
    let folder = tempfile::tempdir().unwrap();
    let sheets = folder.path().join("sheets");
    let (_, err, code) = run(&sheet, &["--out", sheets.to_str().unwrap(), "--quiet"]);
    assert_eq!(code, 0, "{err}");
    let page = fs::read_to_string(sheets.join("sheet.html")).unwrap();
    let document = document(&sheet);
    let lines = document["order"]["price"]["lines"].as_array().unwrap();
    for (item, unit, many) in [("topsoil", "bag", "bags"), ("turf", "pallet", "pallets")] {
        let line = lines.iter().find(|line| line["item"] == item).unwrap();
        assert_eq!(line["unit"], unit);
        let charged = format!("({} {many})", line["quantity"].as_str().unwrap());
        assert!(page.contains(&charged), "{charged}");
    }
    let kg = lines
        .iter()
        .find(|line| line["item"] == "fertiliser")
        .unwrap();
    let kg = format!("{} kg", kg["quantity"].as_str().unwrap());
    assert!(page.contains(&kg), "{kg}");
}

#[test]
fn a_wide_allowance_leads_the_sheet() {
    // 0.4 m a length: some 4.6 m² a sigma, 8 % of the net area at 95 %.
    let vague = SHEET.replace("sigma_m = 0.01", "sigma_m = 0.4");
    let (out, err, code) = run(&vague, &["--quiet", "--detail"]);
    assert_eq!(code, 3, "{err}");
    let told = "Tape every length a second time before ordering";
    assert!(out.starts_with(told), "{out}");
    let (screen, _, _) = run(&vague, &["--quiet"]);
    assert!(screen.contains(told), "{screen}");
    assert!(screen.contains("do not order on it yet"), "{screen}");
    let document = document(&vague);
    assert_eq!(document["status"], "check");
    assert_eq!(document["warnings"][0]["code"], "allowance");
}

/// What is paid, marked up where the sheet has no price of its own, by hand: 95 rolls at 2.10 are 199.50; 2.10 and 35 % are 2.835,
/// up to 2.84, and 95 of them 269.80; margin 70.30. The sheet's own 11.40 a piece of edging stays.
#[test]
fn cost_and_price_are_two_things_and_only_the_take_off_tells_the_margin() {
    let sheet = SHEET
        .replace("[price]\n", "[price]\nmarkup_percent = 35\n")
        .replace("rates = \"rates.toml\"\n", "")
        + "[cost]\nturf_per_piece = 2.1\nedging_per_piece = 8.2\n";
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("sheets");
    let (told, err, _) = run(&sheet, &["--out", out.to_str().unwrap(), "--quiet"]);
    let takeoff = fs::read(out.join("takeoff.csv")).unwrap_or_else(|e| panic!("{e}: {err}"));
    let mut table = csv::ReaderBuilder::new().from_reader(takeoff.as_slice());
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let amount = |item: &str, label: &str| {
        let row = rows.iter().find(|r| &r[0] == item && &r[1] == label);
        row.map(|row| row[2].to_owned()).unwrap_or_default()
    };
    assert_eq!(amount("cost", "turf"), "199.50");
    assert_eq!(amount("estimate", "turf"), "269.80");
    assert_eq!(amount("margin", "turf"), "70.30");
    assert_eq!(amount("estimate", "edging"), "216.60");
    assert_eq!(amount("margin", "edging"), "60.80");
    let [cost, price, margin] = ["cost", "estimate", "margin"]
        .map(|item| amount(item, "before tax").parse::<f64>().unwrap());
    approx::assert_abs_diff_eq!(price - cost, margin, epsilon = 1e-9);
    // What is sold without a known cost makes the sum of margins too large, and is named.
    let all = rows
        .iter()
        .find(|r| &r[0] == "margin" && &r[1] == "before tax");
    let basis = all.map(|row| row[7].to_owned()).unwrap_or_default();
    assert!(
        basis.ends_with("no cost is given for turf cutter hire"),
        "{basis}"
    );
    // Nothing else that is text says what is paid, or how much is put on it.
    assert!(
        !told.contains("199.50") && !told.contains("70.30"),
        "{told}"
    );
    for name in ["report.txt", "result.json", "sheet.html", "plan.svg"] {
        let text = fs::read_to_string(out.join(name)).unwrap();
        for never in ["199.50", "70.30", "markup_percent"] {
            assert!(!text.contains(never), "{never} in {name}");
        }
    }
}

/// What all jobs share stands in the rates file; the sheet wins, field by field.
#[test]
fn currency_tax_markup_and_firm_are_shared_and_the_sheet_wins() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::write(
        at("rates.toml"),
        "currency = \"EUR\"\ntax_percent = 19\nmarkup_percent = 50\n[cost]\nturf_per_piece = 2\n\
         [firm]\nname = \"Example Lawns\"\ntelephone = \"000 0001\"\n",
    )
    .unwrap();
    let sheet = "[[shape]]\nkind = \"rectangle\"\nlength_m = 10\nwidth_m = 10\nsigma_m = 0.001\nat_m = [0, 0]\n[order]\n\
                 [firm]\ntelephone = \"000 0002\"\n[price]\nrates = \"rates.toml\"\ntax_percent = 7\n";
    fs::write(at("job.toml"), sheet).unwrap();
    let path = at("job.toml");
    let (out, err, code) = call(&["tape", path.to_str().unwrap(), "--format", "json", "-q"]);
    assert_eq!(code, 0, "{err}");
    let document: Value = serde_json::from_str(&out).unwrap();
    let price = &document["order"]["price"];
    assert_eq!(
        (&price["currency"], &price["tax_percent"]),
        (&"EUR".into(), &"7".into())
    );
    assert_eq!(price["lines"][0]["rate"], "3.00");
    let (shown, _, _) = call(&["job", path.to_str().unwrap()]);
    for (key, said) in [
        ("firm.name", "rates file, line 7"),
        ("firm.telephone", "000 0002"),
        ("price.markup_percent", "rates file, line 3"),
        ("cost.turf_per_piece", "rates file, line 5"),
        ("price.tax_percent", "7"),
    ] {
        let line = shown.lines().find(|line| line.starts_with(key));
        assert!(line.is_some_and(|l| l.contains(said)), "{key} in {shown}");
    }
}

/// The rates file serves a sheet without a `[price]`, if `[job]` names it: 101 rolls, one of them for its error, at 3.00 and 19 % are 360.57. The firm stands on the
/// documents even where nothing is ordered.
#[test]
fn rates_named_in_the_job_need_no_price() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let rates = "currency = \"EUR\"\ntax_percent = 19\nturf_per_piece = 3\n[firm]\nname = \"Example Lawns\"\n";
    fs::write(at("rates.toml"), rates).unwrap();
    let shape = "[job]\nrates = \"rates.toml\"\n[[shape]]\nkind = \"rectangle\"\nlength_m = 10\nwidth_m = 10\n\
                 sigma_m = 0.001\nat_m = [0, 0]\n";
    let (path, out) = (at("job.toml"), at("sheets"));
    let [path, out] = [&path, &out].map(|path| path.to_str().unwrap());
    for order in ["[order]\n", ""] {
        fs::write(path, format!("{shape}{order}")).unwrap();
        let args = ["tape", path, "--format", "json", "-q", "--out", out];
        let (json, err, code) = call(&args);
        assert_eq!(code, 0, "{err}");
        let document: Value = serde_json::from_str(&json).unwrap();
        let total = &document["order"]["price"]["total"];
        assert_eq!(
            total.as_str(),
            (!order.is_empty()).then_some("360.57"),
            "{json}"
        );
        let page = fs::read_to_string(at("sheets").join("sheet.html")).unwrap();
        assert!(page.contains("Example Lawns"), "{page}");
    }
    let (shown, _, _) = call(&["job", path]);
    let line = shown
        .lines()
        .find(|line| line.starts_with("price.tax_percent"));
    assert!(
        line.is_some_and(|line| line.contains("rates file, line 2")),
        "{shown}"
    );
    fs::write(
        path,
        format!("{shape}[order]\n[price]\nrates = \"rates.toml\"\n"),
    )
    .unwrap();
    let (_, err, code) = call(&["tape", path]);
    assert_eq!(code, 2, "{err}");
    assert!(err.contains("named in [job] and in [price]"), "{err}");
}

#[test]
fn all_faults_of_an_order_are_told_at_once() {
    let wrong = SHEET
        .replace(
            "direction_deg = 90",
            "direction_deg = 90\nstager_m = 0.3\nmin_piece_m = 2",
        )
        .replace("lay_m2_per_hour = 15\n", "")
        .replace("rates.toml", "no.toml");
    let (out, err, code) = run(&wrong, &[]);
    assert_eq!((code, out.as_str()), (2, ""), "{err}");
    for part in [
        "stager_m is not known",
        "Did you mean stagger_m?",
        "no bond can be laid so",
        "has no lay_m2_per_hour",
        "rates file",
    ] {
        assert!(err.contains(part), "{part} in {err}");
    }
}

#[test]
fn a_price_without_an_order_and_a_quotation_without_a_date_are_faults() {
    let no_order =
        "[[shape]]\nkind = \"circle\"\ndiameter_m = 9\n[price]\ndocument = \"quotation\"\n";
    let (_, err, code) = run(no_order, &[]);
    assert_eq!(code, 2);
    assert!(
        err.contains("nothing to price") && err.contains("valid"),
        "{err}"
    );
}

#[test]
fn shapes_without_a_plan_are_ordered_by_percentage() {
    let document = document(
        "[[shape]]\nlabel = \"lawn\"\nkind = \"triangle\"\nsides_m = [10, 8, 7]\nsigma_m = 0.01\n[[shape]]\nlabel = \"other\"\nkind = \"circle\"\ndiameter_m = 5\nsigma_m = 0.01\n[order]\n",
    );
    let turf = &document["order"]["turf"];
    // 47.60 m² with 10 % for cutting: 52.36.
    assert_eq!(
        (&turf["method"], &turf["pieces"]),
        (&"percent".into(), &53.into())
    );
    assert_eq!(turf["rows"], Value::Null);
}

/// 12 % makes the ground 0.7 % longer along the fall: 1.00717 (square root of 1 + 0.12²).
#[test]
fn a_slope_said_in_the_sheet_is_ordered_for() {
    let sloping = SHEET.replace(
        "[order.turf]",
        "[order]\nslope_percent = 12\nfall_deg = 90\n[order.turf]",
    );
    let document = document(&sloping);
    let number = |pointer: &str| document.pointer(pointer).and_then(Value::as_f64).unwrap();
    let factor = (1.0_f64 + 0.12 * 0.12).sqrt();
    let net = number("/area/net_m2");
    approx::assert_abs_diff_eq!(number("/area/slope_m2"), net * factor, epsilon = 1e-9);
    let rows = &document["order"]["turf"]["rows"];
    approx::assert_abs_diff_eq!(
        rows["stretch"]["factor"].as_f64().unwrap(),
        factor,
        epsilon = 1e-9
    );
    let pieces = rows["layout"][0]["pieces"].as_array().unwrap();
    let end = pieces.last().and_then(|p| p["end_m"].as_f64()).unwrap();
    approx::assert_abs_diff_eq!(end, 12.0 * factor, epsilon = 1e-6);
    // Soil is by the plan, as its depth is measured upright.
    approx::assert_abs_diff_eq!(number("/order/soil/settled_m3"), 0.1 * net, epsilon = 1e-9);
}

/// The example survey carries an order, and its sheets hold it.
#[test]
fn the_example_garden_is_ordered() {
    let garden = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/garden");
    let (out, err, _) = call(&[
        "measure",
        garden.to_str().unwrap(),
        "--format",
        "json",
        "--quiet",
    ]);
    let document: Value = serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}{err}"));
    let (order, area) = (&document["order"], &document["area"]);
    let number = |v: &Value| v.as_f64().unwrap_or(f64::NAN);
    let (net, sigma) = (number(&area["net_m2"]), number(&area["sigma_m2"]));
    approx::assert_abs_diff_eq!(
        number(&order["cover_area_m2"]),
        net + 1.644_854 * sigma,
        epsilon = 1e-5
    );
    let turf = &order["turf"];
    let exact = number(&turf["rows"]["pieces"]) * number(&order["cover_area_m2"]) / net;
    assert_eq!(number(&turf["pieces"]), exact.ceil());
    assert!(number(&order["chance_short"]) <= 0.05);
    approx::assert_abs_diff_eq!(
        number(&order["soil"]["settled_m3"]),
        0.03 * net,
        epsilon = 1e-9
    );
}
