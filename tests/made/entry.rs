//! The doors by which foreign bytes come in, each with what must hold whatever they are: no panic, and an answer
//! no larger than it may be. The fuzz targets and the ordinary test of their seeds go through the same doors.

use boundwalk::job::Job;
use boundwalk::read::inspect::inspect;
use boundwalk::read::marks::radius_m;
use boundwalk::read::sniff::Form;
use boundwalk::read::{Input, Options, read_with};
use boundwalk::steps;
use boundwalk::survey::{Depth, Request, measure};
use std::path::Path;

/// Fixes that a trial may keep.
const MOST_FIXES: u64 = 5_000;
/// Each kind of fault is said once, and there are not so many kinds.
const MOST_WARNINGS: usize = 60;
/// Names of sentences in one file: no more addresses are told apart.
const MOST_NAMES: usize = 256;
/// Places quoted for one reason.
const MOST_PLACES: usize = 10;
/// Characters of one message.
const LONGEST_MESSAGE: usize = 4_000;

/// A log of any kind, read for measuring and looked into.
pub fn log(bytes: &[u8]) {
    let input = Input::Bytes {
        name: "log".into(),
        bytes: bytes.to_vec(),
    };
    read_as(&input, None);
}

/// A log read as the form that its first byte says (`a` for the first, in the order of [`Form::ALL`]), or as what it looks like (an
/// archive, with any other).
pub fn form(bytes: &[u8]) {
    let Some((first, bytes)) = bytes.split_first() else {
        return;
    };
    let number = usize::from(first.wrapping_sub(b'a'));
    let input = Input::Bytes {
        name: "log".into(),
        bytes: bytes.to_vec(),
    };
    read_as(&input, Form::ALL.get(number).copied());
}

fn read_as(input: &Input, form: Option<Form>) {
    let options = Options {
        max_fixes: Some(MOST_FIXES),
        form,
        ..Options::default()
    };
    match read_with(std::slice::from_ref(input), &options) {
        Ok(log) => {
            assert!(log.fixes.len() as u64 <= MOST_FIXES);
            assert!(log.warnings.len() <= MOST_WARNINGS);
            assert!(log.sentences.len() <= MOST_NAMES);
            for warning in &log.warnings {
                assert!(warning.to_string().len() <= LONGEST_MESSAGE, "{warning:?}");
            }
            for dropped in &log.dropped {
                assert!(dropped.first.len() <= MOST_PLACES, "{dropped:?}");
            }
            for fix in &log.fixes {
                assert!(fix.lat_deg.abs() <= 90.0, "{fix:?}");
                assert!(fix.lon_deg.abs() <= 180.0, "{fix:?}");
            }
        }
        Err(fault) => assert!(fault.to_string().len() <= LONGEST_MESSAGE, "{fault}"),
    }
    match inspect(input, &options) {
        Ok(seen) => {
            assert!(seen.fixes <= MOST_FIXES);
            assert!(!seen.why.is_empty());
            assert!(seen.why.iter().all(|why| why.len() <= LONGEST_MESSAGE));
        }
        Err(fault) => assert!(fault.to_string().len() <= LONGEST_MESSAGE, "{fault}"),
    }
}

/// A job sheet or a tape sheet.
pub fn job(bytes: &[u8]) {
    if let Err(faults) = Job::from_bytes(bytes, "job.toml", Path::new("nowhere")) {
        assert!(!faults.0.is_empty());
        // A fault needs at least a key and a value of the sheet to be about, or stands for one of the few needed
        // keys of a table.
        assert!(faults.0.len() <= 10 + bytes.len());
        for fault in &faults.0 {
            assert!(fault.to_string().len() <= LONGEST_MESSAGE, "{fault}");
        }
    }
}

/// Between a job sheet and the log that is measured by it.
const BETWEEN: &[u8] = b"\n=====\n";
/// Steps of the loops that a file can make long, for each byte of it, and for the few that are looked at whatever there is.
const STEPS_A_BYTE: u64 = 4_000;
const STEPS_ANYWAY: u64 = 2_000_000;
/// Bytes of the result for each byte of the input, and those that every result has.
const RESULT_A_BYTE: usize = 60;
const RESULT_ANYWAY: usize = 500_000;

/// A log, with a job sheet before it or without, through the whole of measuring: an area or a reason, in as many steps as
/// its size allows.
pub fn measured(bytes: &[u8]) {
    let cut = bytes.windows(BETWEEN.len()).position(|at| at == BETWEEN);
    let (sheet, log) = match cut {
        Some(at) => (&bytes[..at], &bytes[at + BETWEEN.len()..]),
        None => (&[][..], bytes),
    };
    let request = Request {
        logs: vec![Input::Bytes {
            name: "log".into(),
            bytes: log.to_vec(),
        }],
        job: Job::from_bytes(sheet, "job.toml", Path::new("nowhere")).unwrap_or_default(),
        max_fixes: Some(MOST_FIXES),
        depth: Depth::Document,
        ..Request::default()
    };
    let _ = steps::taken();
    let result = measure(&request);
    let taken = steps::taken();
    let most = STEPS_ANYWAY + STEPS_A_BYTE * bytes.len() as u64;
    assert!(taken <= most, "{taken} steps for {} bytes", bytes.len());
    let Ok(measured) = result else {
        return;
    };
    let text = serde_json::to_vec(&measured).unwrap_or_default();
    assert!(text.len() <= RESULT_ANYWAY + RESULT_A_BYTE * bytes.len());
    if let Some(area) = &measured.area {
        for number in [area.net_m2, area.sigma_m2, area.low_m2, area.high_m2] {
            assert!(number.is_finite() && number >= 0.0, "{area:?}");
        }
        assert!(area.low_m2 <= area.net_m2 && area.net_m2 <= area.high_m2);
    }
}

/// The name or comment of a waypoint, in which a radius may stand.
pub fn mark(bytes: &[u8]) {
    if let Some(radius) = radius_m(&String::from_utf8_lossy(bytes)) {
        assert!(radius > 0.0 && radius <= 200.0, "{radius}");
    }
}
