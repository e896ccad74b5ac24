//! Results change only together with the number of their method: what was kept before a change is then measured again.

use crate::trial::yard;
use boundwalk::asked::METHOD;
use boundwalk::job::Job;
use boundwalk::survey::{Depth, Input, Request, measure};
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::fmt::Write;
use std::path::Path;

/// The method, and the hash of what it makes of the examples below.
const PINNED: (u32, &str) = (21, "3b455e96b737e46e");

/// The garden as it is and as a phone would have claimed, and two of the yard's logs.
fn examples() -> Vec<Request> {
    let garden = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/garden/job.toml");
    let garden = Request {
        job: Job::from_file(&garden).unwrap_or_else(|faults| panic!("{faults}")),
        depth: Depth::Document,
        ..Request::default()
    };
    let phone = Request {
        sigma_m: Some(1.5),
        ..garden.clone()
    };
    let yard = (0..2).map(|number| Request {
        logs: vec![Input::Bytes {
            name: format!("{number}.nmea"),
            bytes: yard::log(number, 60_000),
        }],
        depth: Depth::Document,
        ..Request::default()
    });
    [garden, phone].into_iter().chain(yard).collect()
}

/// A document as text, its numbers to six digits: less is rounding, which may differ from one machine to the next.
fn told(value: &Value, into: &mut String) {
    match value {
        Value::Number(number) => {
            let number = number.as_f64().unwrap_or(f64::NAN);
            let number = if number.abs() < 1e-7 { 0.0 } else { number };
            let _ = write!(into, "{number:.5e} ");
        }
        Value::Array(items) => items.iter().for_each(|item| told(item, into)),
        Value::Object(entries) => {
            for (key, item) in entries {
                let _ = write!(into, "{key} ");
                told(item, into);
            }
        }
        other => {
            let _ = write!(into, "{other} ");
        }
    }
}

#[test]
fn results_change_only_with_the_method() {
    let mut text = String::new();
    for request in examples() {
        let measured = measure(&request).unwrap_or_else(|fault| panic!("{fault}"));
        told(
            &serde_json::to_value(&measured).unwrap_or_default(),
            &mut text,
        );
    }
    let hash: String = Sha256::digest(text.as_bytes())
        .iter()
        .take(8)
        .map(|byte| format!("{byte:02x}"))
        .collect();
    assert_eq!(
        (METHOD, hash.as_str()),
        PINNED,
        "the examples' results are no longer those of this method: raise METHOD (src/asked.rs) and pin both here"
    );
}
