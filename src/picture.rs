//! A picture that the user gave, such as a firm's logo, as a grid of dots: read from PNG, or drawn from SVG. The file may
//! be anything, so sizes are limited, nothing is fetched from elsewhere, and what cannot be shown is refused with a reason.

use data_encoding::BASE64;
use std::sync::Arc;

/// The most dots a picture may have in each direction. A logo printed 30 mm high at 600 dots an inch has some 700.
const MOST_DOTS: u32 = 3000;
/// How many dots the longer side of a picture drawn from SVG gets.
const DRAWN_DOTS: f32 = 900.0;

/// A picture: its dots row by row from the top, each as red, green, blue and how opaque it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    pub width: u32,
    pub height: u32,
    pub rgba: Arc<Vec<u8>>,
}

impl Picture {
    /// The picture in a file's bytes.
    ///
    /// # Errors
    /// Why it cannot be shown, as the end of a sentence.
    pub(crate) fn read(bytes: &[u8]) -> Result<Picture, String> {
        if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
            return from_png(bytes);
        }
        match std::str::from_utf8(bytes) {
            Ok(text) if text.contains("<svg") => from_svg(text),
            _ => Err("it is neither PNG nor SVG".to_owned()),
        }
    }

    /// The picture as an address to use in a page (a `data:` URL). It holds the whole picture, so nothing is fetched.
    pub(crate) fn address(&self) -> Option<String> {
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, self.width, self.height);
        encoder.set_color(png::ColorType::Rgba);
        let mut file = encoder.write_header().ok()?;
        file.write_image_data(&self.rgba).ok()?;
        file.finish().ok()?;
        Some(format!("data:image/png;base64,{}", BASE64.encode(&bytes)))
    }
}

fn from_png(bytes: &[u8]) -> Result<Picture, String> {
    let broken = |error: png::DecodingError| format!("the PNG is broken ({error})");
    let mut decoder = png::Decoder::new(std::io::Cursor::new(bytes));
    decoder.set_transformations(png::Transformations::ALPHA | png::Transformations::STRIP_16);
    let mut file = decoder.read_info().map_err(broken)?;
    let (width, height) = (file.info().width, file.info().height);
    if width.max(height) > MOST_DOTS {
        return Err(format!(
            "it has {width} by {height} dots, and {MOST_DOTS} each way are the most"
        ));
    }
    let size = file.output_buffer_size().unwrap_or(0);
    let mut dots = vec![0; size];
    let frame = file.next_frame(&mut dots).map_err(broken)?;
    dots.truncate(frame.buffer_size());
    let rgba = match frame.color_type {
        png::ColorType::Rgba => dots,
        // Grey and how opaque: the only other form the decoder gives with the transformations set above.
        _ => dots
            .chunks_exact(2)
            .flat_map(|dot| [dot[0], dot[0], dot[0], dot[1]])
            .collect(),
    };
    Ok(Picture {
        width,
        height,
        rgba: Arc::new(rgba),
    })
}

/// Elements for which an SVG is refused, each with the end of the sentence that says so. Fonts and other files would make the picture
/// look different on another machine; copies of copies and effects worked out dot by dot could take for ever.
const NOT_DRAWN: [(&str, &str); 7] = [
    ("text", "letters as text; save them as paths"),
    ("image", "a picture in it; save that by itself, as PNG"),
    ("use", "copies of a part; save them as paths"),
    ("filter", "blurs or shadows; save it as PNG"),
    ("mask", "masks; save it as PNG"),
    ("pattern", "patterns; save it as PNG"),
    ("!ENTITY", "entities; save it plainly"),
];

fn from_svg(text: &str) -> Result<Picture, String> {
    for (element, instead) in NOT_DRAWN {
        if text.contains(&format!("<{element}")) || text.contains(&format!(":{element}")) {
            return Err(format!("the SVG has {instead}"));
        }
    }
    let tree = resvg::usvg::Tree::from_str(text, &resvg::usvg::Options::default())
        .map_err(|error| format!("the SVG is broken ({error})"))?;
    let size = tree.size();
    let scale = DRAWN_DOTS / size.width().max(size.height());
    let dots = |side: f32| ((side * scale).round() as u32).clamp(1, MOST_DOTS);
    let (width, height) = (dots(size.width()), dots(size.height()));
    let mut canvas =
        tiny_skia::Pixmap::new(width, height).ok_or_else(|| "the SVG has no size".to_owned())?;
    let fit = tiny_skia::Transform::from_scale(scale, scale);
    resvg::render(&tree, fit, &mut canvas.as_mut());
    let rgba = (canvas.pixels().iter())
        .map(|dot| dot.demultiply())
        .flat_map(|dot| [dot.red(), dot.green(), dot.blue(), dot.alpha()])
        .collect();
    Ok(Picture {
        width,
        height,
        rgba: Arc::new(rgba),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drawing_becomes_dots_and_what_cannot_be_shown_says_why() {
        let half = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"20\" height=\"10\"><path d=\"M0 0H10V10H0Z\" fill=\"#102030\"/></svg>";
        let drawn = Picture::read(half.as_bytes()).expect("a picture");
        assert_eq!((drawn.width, drawn.height), (900, 450));
        let dot = |x: usize, y: usize| &drawn.rgba[4 * (900 * y + x)..][..4];
        assert_eq!(dot(100, 200), [0x10, 0x20, 0x30, 255]);
        assert_eq!(dot(700, 200)[3], 0);
        // Packed and unpacked it is the same.
        let mut packed = Vec::new();
        let mut encoder = png::Encoder::new(&mut packed, 900, 450);
        encoder.set_color(png::ColorType::Rgba);
        let mut file = encoder.write_header().expect("begun");
        file.write_image_data(&drawn.rgba).expect("written");
        file.finish().expect("ended");
        assert_eq!(Picture::read(&packed).as_ref(), Ok(&drawn));
        for (bytes, why) in [
            (&b"GIF89a"[..], "neither PNG nor SVG"),
            (&packed[..packed.len() / 2], "PNG is broken"),
            (b"<svg><text>x</text></svg>", "letters as text"),
            (b"<svg", "SVG is broken"),
        ] {
            let said = Picture::read(bytes).expect_err("no picture");
            assert!(said.contains(why), "{said}");
        }
    }
}
