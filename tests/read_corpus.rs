//! Real logs from many makers' receivers, where they are at hand: each is read or refused with a reason.

use boundwalk::fix::{Quality, Source};
use boundwalk::read::{Input, Log, read};
use std::path::{Path, PathBuf};

/// The folder of real logs beside the project, if it is there.
fn corpus() -> Option<PathBuf> {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    ["../shared/corpus", "../../shared/corpus"]
        .iter()
        .map(|p| home.join(p))
        .find(|p| p.is_dir())
}

fn log(name: &str) -> Option<Result<Log, boundwalk::fault::Fault>> {
    let Some(folder) = corpus() else {
        println!("skipped: no folder of real logs beside the project");
        return None;
    };
    Some(read(&[Input::File(folder.join(name))]))
}

/// The log, or nothing where the corpus isn't there.
fn good(name: &str) -> Option<Log> {
    log(name).map(|result| match result {
        Ok(log) => log,
        Err(fault) => panic!("{name}: {fault}"),
    })
}

fn codes(log: &Log) -> Vec<&str> {
    log.warnings.iter().map(|w| w.code()).collect()
}

fn dropped(log: &Log, reason: &str) -> u64 {
    log.dropped
        .iter()
        .filter(|d| d.reason.to_string() == reason)
        .map(|d| d.count)
        .sum()
}

#[test]
fn every_file_is_read_or_refused_with_a_reason() {
    let Some(folder) = corpus() else {
        println!("skipped: no folder of real logs beside the project");
        return;
    };
    let mut names: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    names.sort();
    for path in names
        .iter()
        .filter(|p| p.extension().is_none_or(|e| e != "md"))
    {
        let name = path.file_name().unwrap().to_string_lossy();
        match read(&[Input::File(path.clone())]) {
            Ok(log) => {
                println!(
                    "{name}: {} fixes, {} marks",
                    log.fixes.len(),
                    log.marks.len()
                );
                for d in &log.dropped {
                    println!("    {} x {} ({:?})", d.count, d.reason, d.first);
                }
                for w in &log.warnings {
                    println!("    {}: {}", w.code(), w);
                }
                for fix in &log.fixes {
                    assert!(fix.lat_deg.abs() <= 90.0, "{name}");
                    assert!((-180.0..180.0).contains(&fix.lon_deg), "{name}");
                    assert!(fix.line > 0, "{name}");
                }
                let clocks: Vec<f64> = log.fixes.iter().filter_map(|f| f.clock_s).collect();
                assert!(clocks.is_sorted(), "{name}: clock not in order");
            }
            Err(fault) => {
                println!("{name}: refused: {fault}");
                assert!(
                    !fault.what().is_empty() && !fault.advice().is_empty(),
                    "{name}"
                );
            }
        }
    }
}

#[test]
fn a_simulator_is_refused() {
    if let Some(result) = log("simulator.nmea") {
        let fault = result.unwrap_err();
        assert_eq!(fault.code(), "simulated");
        assert_eq!(fault.kind(), boundwalk::fault::Kind::Withheld);
    }
}

#[test]
fn prefixes_and_suffixes_on_every_line() {
    if let Some(log) = good("closed-walk-phone.nmea") {
        assert_eq!(log.sentences["GPGGA"], log.fixes.len() as u64);
        assert!(log.dropped.is_empty(), "{:?}", log.dropped);
        assert_eq!(log.fixes[0].line, 1);
        assert_eq!(log.fixes[0].date.unwrap().to_string(), "2023-11-07");
    }
}

#[test]
fn a_type_whose_checksums_are_all_wrong_is_a_broken_logger() {
    if let Some(log) = good("wrong-gga-checksums.nmea") {
        assert!(codes(&log).contains(&"checksums-broken"));
        assert!(log.fixes.iter().all(|f| f.source == Source::GGA));
        assert_eq!(dropped(&log, "wrong checksum"), 0);
    }
}

#[test]
fn no_checksums_at_all() {
    if let Some(log) = good("no-checksums.nmea") {
        assert!(codes(&log).contains(&"checksums-missing"));
        assert_eq!(log.fixes.len() as u64, log.sentences["GPGGA"]);
    }
}

#[test]
fn gll_is_enough() {
    if let Some(log) = good("gll-only.nmea") {
        assert_eq!(log.fixes.len(), 122);
        assert!(
            log.fixes
                .iter()
                .all(|f| f.source == Source::GLL && f.quality == Quality::Differential)
        );
    }
}

#[test]
fn gns_between_ggas_gives_one_fix_a_second() {
    if let Some(log) = good("gns-every-second.nmea") {
        let clocks: Vec<f64> = log.fixes.iter().filter_map(|f| f.clock_s).collect();
        assert!(clocks.windows(2).all(|w| w[1] - w[0] > 0.5));
        assert!(log.fixes.len() > 60);
    }
}

#[test]
fn two_talkers_are_one_fix_per_epoch() {
    if let Some(log) = good("two-talkers-per-epoch.nmea") {
        let clocks: Vec<f64> = log.fixes.iter().filter_map(|f| f.clock_s).collect();
        assert!(clocks.windows(2).all(|w| w[1] > w[0]));
        assert_eq!(log.fixes.len() as u64, log.sentences["GPGGA"]);
    }
}

#[test]
fn accuracy_comes_from_gst_and_extensions() {
    if let Some(log) = good("rtk-float-walk.nmea") {
        let with = log
            .fixes
            .iter()
            .filter(|f| f.sigma_east_m.is_some())
            .count();
        assert!(with * 10 >= log.fixes.len() * 9);
        assert!(log.fixes.iter().any(|f| f.quality == Quality::RtkFloat));
    }
    if let Some(log) = good("gpx-accuracy-extensions.gpx") {
        let first = &log.fixes[0];
        // A radius of 68 %: 1.50959 sigma.
        assert!(
            first
                .sigma_east_m
                .is_some_and(|m| (1.50959 * m - 1.801_682).abs() < 1e-5)
        );
    }
}
