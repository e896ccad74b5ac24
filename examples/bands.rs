//! Prints how wide the band (the "plus or minus" beside an area) comes out, by receiver and size of lawn. The README holds this table.
//!
//! `cargo run --release --example bands`

#[path = "../tests/trial/mod.rs"]
mod trial;

use trial::bands::usual_part;
use trial::receiver::Class;

const SIZES_M2: [f64; 6] = [50.0, 100.0, 200.0, 500.0, 1000.0, 5000.0];
const RECEIVERS: [(Class, &str); 4] = [
    (Class::Autonomous, "lone, phone grade"),
    (Class::Differential, "with SBAS or differential corrections"),
    (Class::RtkFloat, "RTK, float"),
    (Class::RtkFixed, "RTK, fixed"),
];
const LAPS: [usize; 2] = [1, 2];

fn main() {
    print!("| receiver | laps |");
    for size_m2 in SIZES_M2 {
        print!(" {size_m2} m² |");
    }
    println!("\n|---|---|{}", "---|".repeat(SIZES_M2.len()));
    for (class, name) in RECEIVERS {
        for laps in LAPS {
            print!("| {name} | {laps} |");
            for size_m2 in SIZES_M2 {
                print!(" {} |", cell(class, size_m2, laps));
            }
            println!();
        }
    }
}

/// One cell of the table: the band in percent of the area, or `refused` where most walks got no area.
fn cell(class: Class, size_m2: f64, laps: usize) -> String {
    match usual_part(class, size_m2, laps) {
        Some(part) if part < 0.0995 => format!("{:.1} %", 100.0 * part),
        Some(part) => format!("{:.0} %", 100.0 * part),
        None => "refused".to_owned(),
    }
}
