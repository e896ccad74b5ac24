//! Laws of the job sheet's reader: whatever is in it, an answer and never a panic; lengths written and read back.

use boundwalk::job::Job;
use boundwalk::job::read::looks_like_sheet;
use boundwalk::units::{length_m, scan_length};
use proptest::prelude::*;
use std::path::Path;

/// Pieces of sheets, right and wrong, put together by chance.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        prop::sample::select(vec![
            "[walk]\n",
            "[job]\n",
            "[[bed]]\n",
            "[[lawn]]\n",
            "[[edge]]\n",
            "[[deduct]]\n",
            "[[path]]\n",
            "[[tape]]\n",
            "[[shape]]\n",
            "[bed]\n",
            "[walk.files]\n",
            "files = [\"a\"]\n",
            "files = [1, \"\", [2]]\n",
            "carry_m = 0.2\n",
            "carry_side = \"inside\"\n",
            "carry_m = \"12ft 6\"\n",
            "lat = 91\n",
            "lon = -1.2\n",
            "time = 25:00:00\n",
            "time = 10:42:30\n",
            "pause = -1\n",
            "pause = 99999999999999999999\n",
            "radius_m = 1e400\n",
            "radius_m = nan\n",
            "diameter_m = \"70cm\"\n",
            "length_m = 0x7fffffffffffffff\n",
            "date = 2026-02-30\n",
            "from = \"A\"\nto = \"A\"\n",
            "a.b.c = { d = [ { e = 1 } ] }\n",
            "\"\" = 1\n",
            "= 2\n",
            "\u{feff}",
            "'''\n",
            "\"\\u0000\" = 1\n",
        ])
        .prop_map(str::to_owned),
        "\\PC{0,20}\n",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_sheet_is_read_or_its_faults_are_told(pieces in prop::collection::vec(piece(), 0..12)) {
        let text = pieces.concat();
        looks_like_sheet(text.as_bytes());
        let lines = text.matches('\n').count() as u64 + 1;
        if let Err(faults) = Job::from_text(&text, "job.toml", Path::new("")) {
            prop_assert!(!faults.0.is_empty());
            for fault in &faults.0 {
                let told = fault.to_string();
                prop_assert!(told.starts_with("job.toml line "), "{}", told);
                let line: u64 = told["job.toml line ".len()..].split(':').next().unwrap_or("").parse().unwrap_or(0);
                prop_assert!((1..=lines).contains(&line), "{} of {}", told, lines);
            }
        }
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        looks_like_sheet(&bytes);
        let _ = Job::from_bytes(&bytes, "job.toml", Path::new(""));
    }

    #[test]
    fn any_text_is_a_length_or_is_refused(text in "\\PC{0,30}") {
        if let Ok((m, used)) = scan_length(&text) {
            prop_assert!(m.is_finite() && m >= 0.0);
            prop_assert!(text.is_char_boundary(used) && used <= text.len());
        }
        let _ = length_m(&text);
    }

    /// What is written in one unit is read in metres, by the exact definitions of the inch and the foot.
    #[test]
    fn a_length_comes_back(mm in 0u32..200_000, feet in 0u32..500, inches in 0u32..12) {
        let metres = f64::from(mm) / 1000.0;
        for text in [format!("{metres}"), format!("{metres} m"), format!("{mm} mm"), format!("{}cm", f64::from(mm) / 10.0)] {
            let read = length_m(&text).map_err(|fault| TestCaseError::fail(fault.to_string()))?;
            prop_assert!((read - metres).abs() <= 1e-9 * metres.max(1.0), "{}: {}", text, read);
        }
        let imperial = f64::from(12 * feet + inches) * 0.0254;
        for text in [format!("{feet}ft {inches}in"), format!("{feet}' {inches}\"")] {
            let read = length_m(&text).map_err(|fault| TestCaseError::fail(fault.to_string()))?;
            prop_assert!((read - imperial).abs() <= 1e-9 * imperial.max(1.0), "{}: {}", text, read);
        }
    }
}

/// What costs more than in proportion to its number is bounded, and said with its line.
/// A part of one where percent are asked for brought a tax of 0.19 %, with no word.
#[test]
fn a_part_of_one_is_no_percentage() {
    for line in [
        "[price]\ntax_percent = 0.19",
        "[price]\nmarkup_percent = 0.35",
        "[order]\nslope_percent = 0.12",
        "[order.turf]\ncutting_percent = 0.1",
        "[order.soil]\nsettlement_percent = 0.2",
        "[order.old_turf]\nswell_percent = 0.25",
    ] {
        let sheet = |line: &str| format!("[walk]\nfiles = [\"a\"]\n{line}\n");
        let read = |text: &str| Job::from_text(text, "job.toml", Path::new(""));
        let told = read(&sheet(line)).map(|_| ()).unwrap_err().to_string();
        assert!(told.contains("0, or percent from 1 to"), "{told}");
        let (key, _) = line.split_once('=').unwrap();
        for right in ["0", "19", "1.5"] {
            let told = read(&sheet(&format!("{key}= {right}"))).err();
            let told = told.map_or(String::new(), |faults| faults.to_string());
            assert!(!told.contains("percent from"), "{told}");
        }
    }
}

#[test]
fn more_cuts_or_readings_than_any_garden_has_are_refused() {
    let path = "[[path]]\nfiles = [\"path.gpx\"]\nwidth_m = 1\n";
    let tape = "[[tape]]\nfrom = \"A\"\nto = \"B\"\nlength_m = 10\n";
    for (table, most) in [(path, 200), (tape, 500)] {
        let sheet = |count| format!("[walk]\nfiles = [\"lawn.nmea\"]\n{}", table.repeat(count));
        let read = |count| Job::from_text(&sheet(count), "job.toml", Path::new(""));
        assert!(read(most).is_ok());
        let faults = read(most + 1).expect_err("one too many");
        let told = faults.to_string();
        assert!(told.contains(&format!("{} ", most + 1)), "{told}");
        assert!(told.contains("line 3"), "{told}");
    }
}
