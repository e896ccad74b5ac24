//! Many small objects of a PDF packed into one compressed stream (ISO 32000-1:2008, 7.5.7), which takes a tenth of the room. A PDF has
//! a list of where each object is. The library writes that list for the objects it knows; this module appends a second
//! list (7.5.8) for the packed ones, as if they had been added to the file later.

use flate2::{Compression, write::ZlibEncoder};
use pdf_writer::{Chunk, Filter, Finish, Name, Pdf, Ref, Settings, XRefFilter};
use std::io::Write;

/// The bytes compressed in the zlib format, which PDF calls FlateDecode.
pub(crate) fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::new(6));
    // Writing to memory does not fail.
    let _ = encoder.write_all(bytes);
    encoder.finish().unwrap_or_default()
}

/// Objects to be packed. Their numbers must follow each other without a gap.
#[derive(Default)]
pub struct Objects(Vec<(Ref, Chunk)>);

impl Objects {
    /// An empty place for the object with this number, to be written by the caller.
    pub(crate) fn add(&mut self, id: Ref) -> &mut Chunk {
        let chunk = Chunk::with_settings(Settings { pretty: false });
        self.0.push((id, chunk));
        let last = self.0.len() - 1;
        &mut self.0[last].1
    }

    /// The finished file with these objects. `id` gives the next free number.
    pub(crate) fn finish(
        self,
        mut pdf: Pdf,
        (catalog, info): (Ref, Ref),
        mut id: impl FnMut() -> Ref,
    ) -> Vec<u8> {
        let (stream, first_list, list) = (id(), id(), id());
        let (mut heads, mut bodies) = (String::new(), Vec::new());
        for (id, chunk) in &self.0 {
            heads.push_str(&format!("{} {} ", id.get(), bodies.len()));
            bodies.extend(body(chunk.as_bytes()));
            bodies.push(b'\n');
        }
        let bytes = packed(&[heads.as_bytes(), &bodies].concat());
        let mut written = pdf.stream(stream, &bytes);
        written.filter(Filter::FlateDecode);
        written.pair(Name(b"Type"), Name(b"ObjStm"));
        written.pair(Name(b"N"), whole(self.0.len()));
        written.pair(Name(b"First"), whole(heads.len()));
        written.finish();
        let flate = XRefFilter::Single(Filter::FlateDecode);
        let mut file =
            pdf.finish_with_xref_stream_and_filter(first_list, |rows| (packed(rows), flate));

        let before = list_of(&file);
        file.push(b'\n');
        let start = file.len();
        // A row of the list: its kind, a place, and an index. Kind 1 is an object at a place in the file; kind 2 is one in a packed
        // stream, where the place is that stream's number and the index is the object's within it.
        let row = |kind: u8, at: usize, one: usize| {
            let [at, one] = [at, one].map(|number| (whole(number) as u32).to_be_bytes());
            [&[kind], &at[..], &one[..]].concat()
        };
        let at = usize::try_from(stream.get()).unwrap_or(0);
        let mut rows: Vec<u8> = (0..self.0.len()).flat_map(|one| row(2, at, one)).collect();
        rows.extend(row(1, start, 0));
        let rows = packed(&rows);
        let mut chunk = Chunk::new();
        let mut written = chunk.stream(list, &rows);
        written.filter(Filter::FlateDecode);
        written.pair(Name(b"Type"), Name(b"XRef"));
        written.pair(Name(b"Size"), list.get() + 1);
        written.pair(Name(b"Root"), catalog);
        written.pair(Name(b"Info"), info);
        written.pair(Name(b"Prev"), before);
        written.insert(Name(b"W")).array().items([1, 4, 4]);
        let first = self.0.first().map_or(list, |(id, _)| *id);
        let index = [first.get(), whole(self.0.len()), list.get(), 1];
        written.insert(Name(b"Index")).array().items(index);
        written.finish();
        file.extend(chunk.as_bytes());
        file.extend(format!("startxref\n{start}\n%%EOF").into_bytes());
        file
    }
}

fn whole(number: usize) -> i32 {
    i32::try_from(number).unwrap_or(i32::MAX)
}

/// An object without its number: what is between `obj` and `endobj`.
fn body(object: &[u8]) -> &[u8] {
    let start = object.windows(3).position(|part| part == b"obj");
    let object = object.trim_ascii_end();
    let object = object.strip_suffix(b"endobj").unwrap_or(object);
    object[start.map_or(0, |start| start + 3)..].trim_ascii()
}

/// Where in the file its list of objects begins, as the last lines of the file say; 0 where they do not.
fn list_of(file: &[u8]) -> i32 {
    let end = String::from_utf8_lossy(&file[file.len().saturating_sub(40)..]).into_owned();
    let said = end.split("startxref").nth(1).unwrap_or_default();
    said.split_whitespace()
        .next()
        .and_then(|at| at.parse().ok())
        .unwrap_or(0)
}
