//! Surveys that come whole on a stream, for senders that share no disk with this program. Each is one line of JSON with the survey's
//! `name`, its `log` in base64 (RFC 4648, 4) and, where there is one, the text of its `job` sheet.

use super::find::{Site, Source};
use crate::fault::Fault;
use crate::job::Job;
use data_encoding::BASE64;
use serde::Deserialize;
use std::borrow::Cow;
use std::io::{self, BufRead, Read};
use std::path::Path;

/// A line of more bytes than this is refused: a stream without line ends would fill the memory.
const MOST_LINE: u64 = 256 << 20;
/// At most so many surveys, or about so many bytes, are taken from the stream at once.
const MOST_SURVEYS: usize = 4096;
const MOST_BYTES: usize = 64 << 20;

/// What is read from a line. Other fields in it are the sender's own and are passed over.
#[derive(Deserialize)]
struct Given<'a> {
    #[serde(borrow)]
    name: Cow<'a, str>,
    #[serde(borrow)]
    log: Cow<'a, str>,
    #[serde(borrow, default)]
    job: Option<Cow<'a, str>>,
}

/// A stream of surveys that is being read.
pub struct Framed {
    from: Box<dyn BufRead>,
    lines: u64,
}

impl Framed {
    /// Looks at the first line. Where it holds a survey, the stream comes back ready to be read from that line on; else the plain stream comes
    /// back, whole again, as the inner `Err`.
    ///
    /// # Errors
    /// A stream that cannot be read.
    pub fn begin(mut from: impl BufRead + 'static) -> io::Result<Result<Framed, impl Read>> {
        let mut first = Vec::new();
        (&mut from).take(MOST_LINE).read_until(b'\n', &mut first)?;
        let is_framed = serde_json::from_slice::<Given<'_>>(&first).is_ok();
        let whole = io::Cursor::new(first).chain(from);
        if !is_framed {
            return Ok(Err(whole));
        }
        Ok(Ok(Framed {
            from: Box::new(whole),
            lines: 0,
        }))
    }

    /// The next surveys; none at the end of the stream. A line that cannot be used becomes a survey without an area, so that it is told of.
    ///
    /// # Errors
    /// A stream that cannot be read.
    pub fn batch(&mut self) -> io::Result<Vec<Site>> {
        let (mut sites, mut bytes) = (Vec::new(), 0);
        let mut line = Vec::new();
        while sites.len() < MOST_SURVEYS && bytes < MOST_BYTES {
            line.clear();
            let got = (&mut self.from)
                .take(MOST_LINE)
                .read_until(b'\n', &mut line)?;
            if got == 0 {
                break;
            }
            self.lines += 1;
            bytes += got;
            if got as u64 == MOST_LINE && line.last() != Some(&b'\n') {
                sites.push(self.broken("it is longer than 256 MB"));
                self.from.skip_until(b'\n')?;
            } else if !line.trim_ascii().is_empty() {
                sites.push(self.site(&line));
            }
        }
        Ok(sites)
    }

    fn site(&self, line: &[u8]) -> Site {
        let given: Given<'_> = match serde_json::from_slice(line) {
            Ok(given) => given,
            Err(error) => return self.broken(&error.to_string()),
        };
        let Ok(bytes) = BASE64.decode(given.log.as_bytes()) else {
            return self.broken("its log is no base64");
        };
        let name = given.name.into_owned();
        let job = given.job.map(|text| {
            let shown = format!("the job sheet of {name}");
            Job::from_text(&text, &shown, Path::new("")).map_err(|faults| faults.first(&shown))
        });
        let source = match job.transpose() {
            Ok(job) => Source::Given(bytes, job.map(Box::new)),
            Err(fault) => Source::Broken(fault),
        };
        Site { name, source }
    }

    /// The present line as a survey that cannot be measured.
    fn broken(&self, why: &str) -> Site {
        let name = format!("line {} of standard input", self.lines);
        let fault = Fault::unreadable(
            "no-survey",
            format!("this line is no survey: {why}."),
            "Each line is a JSON object with the survey's name and its log in base64: {\"name\": \"…\", \"log\": \"…\"}.",
        );
        Site {
            source: Source::Broken(fault.in_file(name.clone())),
            name,
        }
    }
}
