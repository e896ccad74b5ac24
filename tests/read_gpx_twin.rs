//! Track points read at a glance against the same points read by the XML parser: a comment before a point keeps it from
//! being read at a glance, and says nothing. On the seeds of the fuzz target, on an invented log, and on damaged copies.

use crate::seeded::Seeded;
use boundwalk::fix::Fix;
use boundwalk::notice::Notice;
use boundwalk::read::{Dropped, Input, Options, read_with};
use std::collections::BTreeMap;
use std::fmt::Write;

type Said = (
    Vec<Fix>,
    Vec<Dropped>,
    Vec<Notice>,
    BTreeMap<String, u64>,
    u64,
);

fn read(text: &str) -> Result<Said, String> {
    let input = Input::Bytes {
        name: "walk.gpx".into(),
        bytes: text.as_bytes().to_vec(),
    };
    let options = Options {
        keep_all: true,
        ..Options::default()
    };
    let log = read_with(&[input], &options).map_err(|fault| fault.to_string())?;
    let lines = log.files.first().map_or(0, |file| file.lines);
    Ok((log.fixes, log.dropped, log.warnings, log.sentences, lines))
}

/// With a comment before every point that follows another tag.
fn commented(text: &str) -> String {
    let mut commented = String::new();
    for (i, part) in text.split("<trkpt").enumerate() {
        if i > 0 {
            let after_tag = commented.trim_ascii_end().ends_with('>');
            commented.push_str(if after_tag { "<!----><trkpt" } else { "<trkpt" });
        }
        commented.push_str(part);
    }
    commented
}

/// How many points the two gave.
fn alike(what: &str, text: &str) -> usize {
    let (quick, slow) = (read(text), read(&commented(text)));
    assert_eq!(quick, slow, "{what}:\n{text}");
    quick.map_or(0, |said| said.0.len())
}

/// A track as a phone writes it.
fn invented(points: usize) -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\"><trk><name>round</name><trkseg>\n",
    );
    for i in 0..points {
        let _ = writeln!(
            text,
            "  <trkpt lat=\"52.1{i:05}\" lon=\"-1.2{:07}\">\n    <ele>{}.250</ele>\n    \
             <time>2026-05-14T{:02}:{:02}:{:02}.5Z</time>\n    <sat>18</sat>\n    <hdop>0.6</hdop>\n  </trkpt>",
            i * 37,
            80 + i % 7,
            i / 3_600,
            i / 60 % 60,
            i % 60,
        );
    }
    text + "</trkseg></trk></gpx>\n"
}

fn seeds() -> Vec<(String, String)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/fuzz/seeds/gpx");
    let mut seeds: Vec<(String, String)> = std::fs::read_dir(folder)
        .unwrap()
        .filter_map(|entry| {
            let path = entry.unwrap().path();
            let text = std::fs::read_to_string(&path).ok()?;
            Some((path.display().to_string(), text))
        })
        .collect();
    seeds.sort();
    seeds
}

#[test]
fn whole_logs() {
    // Longer than the reader's buffer, so that points are cut by its end.
    assert_eq!(alike("invented", &invented(2_000)), 2_000);
    let seeds = seeds();
    assert!(seeds.len() > 8);
    for (name, text) in seeds {
        alike(&name, &text);
    }
}

#[test]
fn damaged_logs() {
    const TOKENS: [&str; 32] = [
        "<",
        ">",
        "/",
        "\"",
        "'",
        "&",
        "&#49;",
        "&amp;",
        "\n",
        "\r\n",
        "\t",
        " ",
        "x",
        "é",
        "nan",
        "-",
        "9",
        ".",
        "<ele>",
        "</ele>",
        "<ele/>",
        "<time>",
        "</trkpt>",
        "</trkseg>",
        "<extensions>",
        "</extensions>",
        "<hacc>2</hacc>",
        "<fix>none</fix>",
        "<name>r=1</name>",
        "<x:sat>3</x:sat>",
        "<course>9</course>",
        "<trkpt lat=\"1\" lon=\"2\">",
    ];
    let mut texts: Vec<String> = seeds().into_iter().map(|seed| seed.1).collect();
    texts.push(invented(8));
    let mut dice = Seeded(45);
    let mut points = 0;
    for number in 0..4_000 {
        let mut text = texts[dice.below(texts.len())].clone();
        for _ in 0..=dice.below(6) {
            let ends: Vec<usize> = text.char_indices().map(|(i, _)| i).collect();
            let place = dice.below(ends.len());
            let from = ends[place];
            let to = ends[(place + dice.below(12)).min(ends.len() - 1)];
            let token = TOKENS[dice.below(TOKENS.len())];
            match dice.below(3) {
                0 => text.replace_range(from..to, ""),
                1 => text.insert_str(from, token),
                _ => text.replace_range(from..to, token),
            }
        }
        points += alike(&format!("damaged copy {number}"), &text);
    }
    assert!(points > 4_000, "{points}");
}
