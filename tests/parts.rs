//! Each room of the library by itself, against sources outside the project.

#[path = "made/entry.rs"]
mod entry;
#[path = "made/kept.rs"]
mod kept;
#[path = "made/logs.rs"]
mod logs;
#[path = "made/seeded.rs"]
mod seeded;
#[path = "made/forms.rs"]
mod written;

mod bounded;
mod forms;
mod fuzz_seeds;
mod grid;
mod job_sheet;
mod lawn;
mod lists;
mod notices;
mod order;
mod plane;
mod read_corpus;
mod read_gpx;
mod read_gpx_twin;
mod read_nmea;
mod read_points;
mod read_scan_twin;
mod tape_adjust;
mod tape_shapes;
