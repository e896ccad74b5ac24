use super::call;
use std::path::{Path, PathBuf};

/// The folder of real logs beside the project, if it is there.
fn corpus() -> Option<PathBuf> {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let found = ["../shared/corpus", "../../shared/corpus"]
        .map(|p| home.join(p))
        .into_iter()
        .find(|p| p.is_dir());
    if found.is_none() {
        println!("skipped: no folder of real logs beside the project");
    }
    found
}

/// An area or a clear refusal, never a panic.
#[test]
fn every_real_log_gives_an_area_or_a_clear_refusal() {
    let Some(folder) = corpus() else { return };
    let mut seen = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.display().to_string();
        let (stdout, stderr, code) = call(&["measure", &name]);
        assert!(!stderr.contains("panicked"), "{name}: {stderr}");
        match code {
            0 | 3 => assert!(
                stdout.contains("Net area") || stdout.contains("NO AREA IS GIVEN"),
                "{name}: {stdout}"
            ),
            1 => assert!(
                stderr.starts_with("error: ") && stderr.trim().ends_with('.'),
                "{name}: {stderr}"
            ),
            _ => panic!("{name}: exit code {code}: {stderr}"),
        }
        // A refused log says what to do; none says nothing.
        if code == 3 && stdout.contains("NO AREA") {
            assert!(stdout.contains("\n  ! "), "{name}: {stdout}");
        }
        seen += 1;
    }
    assert!(seen > 10);
}

/// A closed walk with a phone. About 18 780 m² is a plain local-plane computation by those who collected the log; nobody surveyed
/// the edge.
#[test]
fn a_closed_walk_with_a_phone() {
    let Some(folder) = corpus() else { return };
    let path = folder.join("closed-walk-phone.nmea").display().to_string();
    let (stdout, _, code) = call(&["measure", &path, "--format", "json", "--quiet"]);
    assert_eq!(code, 0);
    let document: serde_json::Value = serde_json::from_str(&stdout).unwrap();
    let (net, band) = (
        document["area"]["net_m2"].as_f64().unwrap(),
        document["area"]["band_m2"].as_f64().unwrap(),
    );
    assert!((net - 18_780.0).abs() < 0.01 * 18_780.0, "{net}");
    assert!(
        band > (net - 18_780.0).abs() && band > 0.01 * net && band < 0.15 * net,
        "{band}"
    );
}
