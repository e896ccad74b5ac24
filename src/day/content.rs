//! Tells whether a file that lies in a folder is a log, by what is in it and not by its name. A folder of a day's surveys has other
//! things as well: photos, price lists, and sheets that this program wrote, which must not be taken for a walk.

use crate::read::sniff::{self, Form};
use crate::read::{self, Input, archive, unpacked};
use crate::regular;
use crate::sheet::csv::MARK;
use flate2::read::MultiGzDecoder;
use memchr::memmem;
use std::io::Read;
use std::path::Path;

/// How the tables begin that this program writes. They hold places but are no walk.
const OWN_TABLES: [&[u8]; 3] = [
    b"name,lat,lon,x_m,y_m,sigma_m",
    b"item,label,quantity",
    b"survey,status,net_m2",
];
/// How many bytes of a file's beginning are looked at. It is not less since some loggers write their settings first.
const HEAD: u64 = 64 * 1024;

/// `Ok` where the file's content is a log's; else why not, in words for the end of a sentence.
pub(super) fn content(path: &Path) -> Result<(), String> {
    let head = head(path).map_err(|error| format!("it cannot be read ({error})"))?;
    if head.is_empty() {
        return Err("it is empty".into());
    }
    if head.starts_with(archive::MAGIC) {
        return match unpacked::logs_in(path) {
            Some(Err(fault)) => Err(lower(fault.what())),
            _ => Ok(()),
        };
    }
    // In files the tables begin with the mark that says UTF-8.
    let table = head.strip_prefix(MARK.as_bytes()).unwrap_or(&head);
    if OWN_TABLES.iter().any(|own| table.starts_with(own)) || is_own_document(&head) {
        return Err("boundwalk wrote it".into());
    }
    // This comes before its form is looked at, since a name in brackets, with which a sheet may begin, looks like JSON.
    if path.extension().is_some_and(|e| e == "toml") {
        return Err("a sheet is only looked for under the name job.toml: name it outright".into());
    }
    match sniff::form(&head) {
        Err(fault) => Err(lower(fault.what())),
        Ok(Form::Gpx | Form::Tcx | Form::Ubx | Form::Pos | Form::Gpsd | Form::Android) => Ok(()),
        Ok(Form::Nmea) if has_sentence(&head) => Ok(()),
        Ok(Form::Nmea) => Err("there is no position in it".into()),
        // Any table or map may look like these, so it is tried whether a position can be read.
        Ok(Form::Table | Form::GeoJson | Form::Wkt | Form::Kml) => {
            let few = read::Options {
                max_fixes: Some(2),
                ..read::Options::default()
            };
            match read::read_with(&[Input::File(path.to_owned())], &few) {
                Ok(log) if !log.fixes.is_empty() => Ok(()),
                Ok(_) => Err("there is no position in it".into()),
                Err(fault) => Err(lower(fault.what())),
            }
        }
    }
}

/// A sentence as a reason to stand after a colon: with a small letter first and no full stop.
fn lower(text: &str) -> String {
    let text = text.trim_end_matches('.');
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}

/// Whether these bytes begin a result document or a map that this program wrote.
pub(super) fn is_own_document(head: &[u8]) -> bool {
    memmem::find(head, b"\"boundwalk/result/").is_some()
        || memmem::find(head, b"creator=\"boundwalk sheet ").is_some()
        || memmem::find(head, read::kml::OWN.as_bytes()).is_some()
        || (memmem::find(head, b"\"FeatureCollection\"").is_some()
            && ["\"net_m2\"", "\"cut_from\""]
                .iter()
                .any(|key| memmem::find(head, key.as_bytes()).is_some()))
}

/// Whether an NMEA 0183 sentence begins anywhere in it: `$`, five letters or digits and a comma (IEC 61162-1).
fn has_sentence(head: &[u8]) -> bool {
    memchr::memchr_iter(b'$', head).any(|at| {
        head.get(at + 1..at + 7).is_some_and(|word| {
            word.get(5) == Some(&b',') && word.iter().take(5).all(u8::is_ascii_alphanumeric)
        })
    })
}

/// The first bytes of a file, unpacked where it is gzipped.
pub(super) fn head(path: &Path) -> std::io::Result<Vec<u8>> {
    let mut head = Vec::new();
    regular::open(path)?.take(HEAD).read_to_end(&mut head)?;
    if head.starts_with(&[0x1f, 0x8b]) {
        let mut plain = Vec::new();
        // What was read is only the beginning of the packed file, so unpacking ends with an error; what came out before is enough.
        let _ = MultiGzDecoder::new(head.as_slice())
            .take(HEAD)
            .read_to_end(&mut plain);
        return Ok(plain);
    }
    Ok(head)
}
