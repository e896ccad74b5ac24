//! Reads NMEA 0183 logs, the text that receivers speak: `scan` finds the sentences in the bytes, `addresses` judges their checksums,
//! `sentence` reads them, and `epoch` merges those of one instant into fixes.

pub mod addresses;
pub mod epoch;
pub mod field;
pub mod layout;
mod plain;
pub mod scan;
pub mod sentence;

use crate::left_out::LeftOut;
use crate::notice::Notice;
use crate::read::batch::{Batch, Limits};
use crate::read::sky::Sky;
use addresses::{Addresses, Policy, address_of};
use epoch::{From, Merged, Merger};
use scan::{Checksum, Found};
use sentence::{Bad, Parser};
use std::io::Read;

/// What one pass over a file gave, and the checksum policy that the whole file calls for.
pub(crate) struct Pass {
    pub batch: Batch,
    /// It differs from the policy that was used where the first part of the file misled; then the file is to be read again.
    pub policy: Policy,
}

/// The policy that the first part of a file calls for.
pub(crate) fn first_policy(head: &[u8]) -> Policy {
    let mut addresses = Addresses::new(Policy::default());
    scan::whole(head, scan::end_of_line(head), &mut |_, found| {
        if let Found::Sentence { body, checksum } = found {
            addresses.count(body, checksum);
        }
        true
    });
    addresses.policy()
}

/// Whether it is a sentence on the satellites in view.
fn is_sky(body: &[u8]) -> bool {
    let formatter = body.get(2..6).unwrap_or(&[]);
    formatter.eq_ignore_ascii_case(b"GSV,") || formatter.eq_ignore_ascii_case(b"GSA,")
}

/// Whether this can be the beginning of a sentence, with its address and a comma, rather than a stray `$`.
fn is_sentence(body: &[u8]) -> bool {
    let name = address_of(body);
    body.get(name.len()) == Some(&b',')
        && name.len() >= 5
        && name.iter().all(u8::is_ascii_alphanumeric)
        && name.first().is_some_and(u8::is_ascii_alphabetic)
}

/// A file's text: in memory, or to be read as it comes.
pub(crate) enum Text<'a> {
    Whole(&'a [u8]),
    Coming(&'a mut dyn Read),
}

/// Reads one file.
pub(crate) fn read(
    text: Text<'_>,
    end_of_line: u8,
    policy: Policy,
    file: u16,
    limits: &Limits,
) -> Pass {
    let mut addresses = Addresses::new(policy.clone());
    let mut merger = Merger::new(file, limits.keep_all);
    let mut stopped = false;
    let mut sky = Sky::default();
    let mut parser = Parser::default();
    let mut each = |line: u64, found: Found<'_>| {
        let line = u32::try_from(line).unwrap_or(u32::MAX);
        match found {
            Found::Sentence { body, checksum } => {
                if limits.keep_all && checksum != Checksum::Wrong && is_sky(body) {
                    sky.add(body);
                }
                let reader = (&mut addresses, &mut parser, &mut merger);
                one(reader, file, line, body, checksum);
            }
            Found::Torn { body } if is_sentence(body) => {
                merger.merged.tally.add(LeftOut::Torn, file, line);
            }
            Found::TooLong { body } if is_sentence(body) => {
                merger.merged.tally.add(LeftOut::OverLong, file, line);
            }
            // It was only a `$` in a comment or in binary.
            Found::Torn { .. } | Found::TooLong { .. } => {}
        }
        stopped = merger.merged.fixes.len() >= limits.most_fixes;
        !stopped
    };
    let (scanned, outcome) = match text {
        Text::Whole(text) => (scan::whole(text, end_of_line, &mut each), Ok(())),
        Text::Coming(from) => scan::scan(from, end_of_line, &mut each),
    };
    merger.end();
    sky.end();
    let mut batch = Batch {
        lines: scanned.lines,
        unknown: scanned.strays,
        stopped,
        broken: outcome.err(),
        sky,
        ..gathered(merger.merged, &addresses, limits.most_fixes)
    };
    if stopped {
        batch.lost_at_end_s = 0.0;
    }
    warn_of_checksums(&addresses, &policy, &mut batch);
    Pass {
        batch,
        policy: addresses.policy(),
    }
}

/// The batch of what was merged and counted, with no more than `most_fixes`.
fn gathered(mut merged: Merged, addresses: &Addresses, most_fixes: usize) -> Batch {
    merged.fixes.truncate(most_fixes);
    merged.streams.truncate(most_fixes);
    let mut all = addresses.all().iter();
    Batch {
        lost_at_end_s: merged.lost_at_end_s(),
        steady: merged.is_steady(),
        fixes: merged.fixes,
        streams: merged.streams,
        stream_names: addresses.all().iter().map(|a| a.name.clone()).collect(),
        sentences: addresses.sentences(),
        known: all.any(|a| a.kind.is_some() || a.right > 0),
        made_up: merged.made_up,
        tally: merged.tally,
        ..Batch::default()
    }
}

/// Takes one sentence: counts its address, and hands it to the merger if it may be used and can be read.
#[inline]
fn one(
    (addresses, parser, merger): (&mut Addresses, &mut Parser, &mut Merger),
    file: u16,
    line: u32,
    body: &[u8],
    checksum: Checksum,
) {
    let Some((number, address)) = addresses.count(body, checksum) else {
        return;
    };
    let (kind, talker) = (address.kind, address.talker);
    if !addresses.usable(number, checksum) {
        let reason = match checksum {
            Checksum::Missing => LeftOut::MissingChecksum,
            Checksum::Wrong | Checksum::Right => LeftOut::WrongChecksum,
        };
        // Sentences that are not read here, such as makers' own, are no damage where they have no checksum.
        if kind.is_some() || checksum == Checksum::Wrong {
            merger.merged.tally.add(reason, file, line);
        }
        return;
    }
    let Some(kind) = kind else { return };
    match parser.parse(kind, body) {
        Ok(parsed) => merger.add(
            From {
                kind,
                talker,
                stream: number,
                line,
            },
            parsed,
        ),
        Err(bad) => {
            let reason = match bad {
                Bad::Time => LeftOut::BadTime,
                Bad::Position => LeftOut::BadPosition,
                Bad::Short => LeftOut::Torn,
            };
            merger.merged.tally.add(reason, file, line);
        }
    }
}

/// Tells of sentences that were used although their checksum is wrong or missing.
fn warn_of_checksums(addresses: &Addresses, policy: &Policy, batch: &mut Batch) {
    let used: Vec<String> = addresses
        .all()
        .iter()
        .filter(|a| a.lenient && a.wrong + a.missing > 0)
        .map(|a| a.name.to_string())
        .collect();
    if !used.is_empty() {
        batch
            .warnings
            .push(Notice::ChecksumsBroken { sentences: used });
    }
    if policy.bare {
        batch.warnings.push(Notice::ChecksumsMissing {});
    }
}
