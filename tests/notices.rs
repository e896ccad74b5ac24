//! `docs/notices.md` lists every code that a result can carry: the tables there are held against the code.

use boundwalk::notice::{Notice, Weight};
use boundwalk::refusal::Refusal;
use std::collections::BTreeSet;
use std::fmt::Write;
use std::fs;
use std::path::Path;

const DOCS: &str = include_str!("../docs/notices.md");

#[test]
fn the_table_of_notices_is_that_of_the_code() {
    let mut table = String::from(
        "| code | status | data | what it means, and what to do |\n|---|---|---|---|\n",
    );
    for entry in Notice::TABLE {
        let status = match entry.weight {
            Weight::Note => "stays",
            Weight::Doubt => "`check`",
        };
        let data = entry.data.iter().map(|key| format!("`{key}`"));
        let data = data.collect::<Vec<_>>().join(" ");
        let meaning = entry.meaning.trim();
        writeln!(
            table,
            "| `{}` | {status} | {data} | {meaning} |",
            entry.code
        )
        .unwrap();
    }
    assert!(
        DOCS.contains(&table),
        "docs/notices.md should hold this table:\n{table}"
    );
}

#[test]
fn the_table_of_reasons_is_that_of_the_code() {
    let mut table =
        String::from("| code | data | what it means, and what to do |\n|---|---|---|\n");
    for reason in Refusal::TABLE {
        let data = reason.data.iter().map(|key| format!("`{key}`"));
        let data = data.collect::<Vec<_>>().join(" ");
        let meaning = reason.meaning.trim();
        writeln!(table, "| `{}` | {data} | {meaning} |", reason.code).unwrap();
    }
    assert!(
        DOCS.contains(&table),
        "docs/notices.md should hold this table:\n{table}"
    );
}

/// Every other code that the library withholds an area with, as its source has them.
fn withheld(folder: &Path, codes: &mut BTreeSet<String>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            withheld(&path, codes);
            continue;
        }
        let source = fs::read_to_string(&path).unwrap_or_default();
        let own = source.split("#[cfg(test)]").next().unwrap_or_default();
        for made in own.split("Fault::withheld(").skip(1) {
            let code = made
                .trim_start()
                .strip_prefix('"')
                .and_then(|made| made.split('"').next());
            codes.extend(code.map(str::to_owned));
        }
    }
}

#[test]
fn every_other_reason_to_give_no_area_is_listed() {
    let mut codes = BTreeSet::new();
    withheld(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("src"),
        &mut codes,
    );
    assert!(codes.contains("simulated") && codes.len() > 10, "{codes:?}");
    let (_, reasons) = DOCS.split_once("Reasons found while reading").unwrap();
    let listed: BTreeSet<String> = reasons
        .lines()
        .filter_map(|line| line.strip_prefix("| `")?.split('`').next())
        .map(str::to_owned)
        .collect();
    assert_eq!(codes, listed);
}

/// A number in the data says its unit, or is a count or a share.
#[test]
fn keys_of_the_data_say_their_unit() {
    let document = boundwalk::measure(&boundwalk::Request::of([boundwalk::Input::File(
        "fixtures/forms/lawn.kml".into(),
    )]))
    .unwrap();
    let json: serde_json::Value =
        serde_json::from_slice(&boundwalk::sheet::json::document(&document).unwrap()).unwrap();
    let told = json["warnings"].as_array().unwrap();
    assert!(
        told.iter().any(|notice| notice["data"]["label"] == "tap"),
        "{told:?}"
    );
    for notice in told {
        assert!(notice["data"].is_object(), "{notice}");
    }
    let units = [
        "_m", "_m2", "_m_s", "_s", "_t", "_percent", "share", "times", "turns", "long",
    ];
    for entry in Notice::TABLE {
        let notice = format!("{}: {:?}", entry.code, entry.data);
        for key in entry.data {
            let figure = key.contains("area") || key.contains("apart") || key.contains("sigma");
            assert!(
                !figure || units.iter().any(|unit| key.ends_with(unit)),
                "{notice}"
            );
        }
    }
}
