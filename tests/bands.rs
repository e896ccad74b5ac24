//! The bands promised in the README are those the program gives.

use crate::trial::{bands::usual_part, receiver::Class};
use std::fs;
use std::path::Path;

#[test]
fn the_bands_in_the_readme_are_computed() {
    let readme =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let cells = |line: &str| -> Vec<String> {
        line.trim_matches('|')
            .split('|')
            .map(|cell| cell.trim().to_owned())
            .collect()
    };
    let mut rows = readme
        .lines()
        .skip_while(|line| !line.starts_with("| receiver | laps |"));
    let head = cells(rows.next().expect("the README has a table of bands"));
    let column = head
        .iter()
        .position(|cell| cell == "100 m²")
        .expect("a column for 100 m²");
    let rows: Vec<Vec<String>> = rows.skip(1).take(8).map(cells).collect();
    let classes = [
        Class::Autonomous,
        Class::Differential,
        Class::RtkFloat,
        Class::RtkFixed,
    ];
    for (row, class) in rows
        .iter()
        .zip(classes.iter().flat_map(|class| [class, class]))
    {
        let laps: usize = row[1].parse().unwrap();
        let shown: f64 = row[column].trim_end_matches(" %").parse().unwrap();
        let computed = 100.0 * usual_part(*class, 100.0, laps).expect("an area");
        // To the figures shown; half a unit of the last, and as much again for another machine's arithmetic.
        let last = if shown < 10.0 { 0.1 } else { 1.0 };
        assert!(
            (shown - computed).abs() <= last,
            "{} {laps}: shown {shown}, computed {computed}",
            row[0]
        );
    }
}
