//! A failure as JSON, schema `boundwalk/fault/1`; its JSON Schema is `docs/fault.schema.json`.

use super::{Fault, Kind};
use crate::visible::in_json;
use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};
use serde_json::json;

/// Name of the document and its version.
pub const SCHEMA: &str = "boundwalk/fault/1";

/// What a fault is about, for a program that decides what to do next. The list is fixed: a fault that fits nothing narrower is
/// `usage` or `unreadable`, by its exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum About {
    /// An option or argument is wrong or missing.
    Usage,
    /// Something in a job sheet, a tape sheet or the rates file is wrong; `file` and `line` say where.
    JobSheet,
    /// A file or folder is not there, or holds nothing to measure.
    NotFound,
    /// A file may not be read.
    NotPermitted,
    /// A file is there, but is no log that can be read.
    NotALog,
    /// A log was read, and there is no usable position in it.
    NoPositions,
    /// A file or standard input cannot be read for another reason.
    Unreadable,
    /// A result cannot be written, or would replace a file that this program did not write.
    Unwritable,
    /// The records cannot be read, or hold nothing of that name.
    Records,
    /// A national grid is not known or not to be had.
    Grid,
}

impl About {
    /// All there are.
    pub const ALL: [About; 10] = [
        About::Usage,
        About::JobSheet,
        About::NotFound,
        About::NotPermitted,
        About::NotALog,
        About::NoPositions,
        About::Unreadable,
        About::Unwritable,
        About::Records,
        About::Grid,
    ];

    /// What this fault is about, told by its code, else by how it ends the work.
    #[must_use]
    pub fn of(fault: &Fault) -> About {
        match fault.code() {
            "job-sheet" | "unknown-key" | "not-toml" | "not-text" | "too-large" | "no-shapes"
            | "no-such-corner" | "chance" | "bed-radius" | "path-width" => About::JobSheet,
            code if ["shape", "tape-", "order-"]
                .iter()
                .any(|of| code.starts_with(of)) =>
            {
                About::JobSheet
            }
            "no-such-file" | "nothing-found" | "directory" | "device" | "a-folder" => {
                About::NotFound
            }
            "not-permitted" => About::NotPermitted,
            "not-a-log" | "no-columns" | "wkt-broken" | "geojson-broken" | "broken-gzip" => {
                About::NotALog
            }
            "no-fixes" | "empty" => About::NoPositions,
            "unwritable" | "in-use" | "would-overwrite" | "not-ours" | "is-an-input" => {
                About::Unwritable
            }
            "not-records" | "no-such-record" | "one-revision" => About::Records,
            code if code.starts_with("records-") => About::Records,
            code if code.starts_with("grid-") || code == "needs-grid" => About::Grid,
            _ => match fault.kind() {
                Kind::Usage => About::Usage,
                Kind::Unreadable | Kind::Withheld => About::Unreadable,
            },
        }
    }
}

/// As another program reads it: `message` is what was wrong, without the place and the advice, which have fields of their own.
impl Serialize for Fault {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut fault = to.serialize_struct("Fault", 6)?;
        fault.serialize_field("kind", &About::of(self))?;
        fault.serialize_field("code", self.code())?;
        fault.serialize_field("message", self.what())?;
        fault.serialize_field("file", &self.file())?;
        fault.serialize_field("line", &self.line())?;
        fault.serialize_field("remedy", self.advice())?;
        fault.end()
    }
}

/// The document of a run that failed with these faults, the first of which decided how it ended; with a newline at its end.
/// Empty where there is no fault.
#[must_use]
pub fn document(faults: &[Fault]) -> Vec<u8> {
    let Some((fault, more)) = faults.split_first() else {
        return Vec::new();
    };
    let mut document = json!({"schema": SCHEMA, "status": "failed", "fault": fault});
    if !more.is_empty() {
        // A job sheet may have several.
        document["more"] = json!(more);
    }
    in_json(format!("{document:#}\n").into_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kept::keep;
    use serde_json::Value;

    fn schema() -> Value {
        serde_json::from_str(include_str!("../../docs/fault.schema.json")).unwrap()
    }

    #[test]
    fn the_kinds_are_those_of_the_schema() {
        let schema = schema();
        assert_eq!(
            schema["$defs"]["fault"]["properties"]["kind"]["enum"],
            json!(About::ALL)
        );
    }

    #[test]
    fn a_document_has_each_fault_with_its_place() {
        let faults = [
            Fault::usage("unknown-key", "wolk is not known.", "Did you mean walk?")
                .in_file("job.toml")
                .at_line(3),
            Fault::unreadable("no-such-file", "There is no such file.", ""),
        ];
        let read = |faults: &[Fault]| -> Value {
            let bytes = document(faults);
            keep("fault", &bytes);
            serde_json::from_slice(&bytes).unwrap()
        };
        let two = read(&faults);
        assert_eq!(two["fault"]["kind"], "job-sheet");
        assert_eq!(two["fault"]["line"], 3);
        assert_eq!(two["fault"]["remedy"], "Did you mean walk?");
        assert_eq!(two["more"][0]["kind"], "not-found");
        let one = read(&faults[1..]);
        assert!(one.get("more").is_none(), "{one:#}");
        assert_eq!(one["fault"]["file"], Value::Null);
    }

    #[test]
    fn what_fits_nothing_narrower_goes_by_its_exit_code() {
        let of = |fault: Fault| About::of(&fault);
        assert_eq!(of(Fault::usage("never-heard-of", "", "")), About::Usage);
        assert_eq!(
            of(Fault::unreadable("never-heard-of", "", "")),
            About::Unreadable
        );
    }
}
