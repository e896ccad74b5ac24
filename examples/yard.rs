//! Writes invented logs, to see how a day of many surveys goes: a hundred to each folder, and the same bytes every time.
//!
//! `cargo run --release --example yard -- DIR COUNT [BYTES]`

#[path = "../tests/trial/mod.rs"]
mod trial;

use rayon::prelude::*;
use std::path::Path;
use std::process::ExitCode;
use trial::yard::log;

/// About how many bytes one log has where none are given.
const BYTES: usize = 150_000;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let number = |at: usize| args.get(at).and_then(|text| text.parse::<usize>().ok());
    let (Some(dir), Some(count)) = (args.first(), number(1)) else {
        eprintln!("usage: yard DIR COUNT [BYTES]");
        return ExitCode::from(2);
    };
    let bytes = number(2).unwrap_or(BYTES);
    let written: std::io::Result<u64> = (0..count)
        .into_par_iter()
        .map(|n| {
            let folder = Path::new(dir).join(format!("{:04}", n / 100));
            std::fs::create_dir_all(&folder)?;
            let log = log(n as u64, bytes);
            std::fs::write(folder.join(format!("{n:06}.nmea")), &log)?;
            Ok(log.len() as u64)
        })
        .try_reduce(|| 0, |a, b| Ok(a + b));
    match written {
        Ok(bytes) => {
            println!("{count} logs, {bytes} bytes");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("error: {dir}: {error}");
            ExitCode::FAILURE
        }
    }
}
