//! The last part of the fifth step: how each layer is drawn when a person opens the file in a GIS. It is written twice, once in the form
//! that desktop programs keep in this table and once as a Styled Layer Descriptor (OGC 02-070), which other programs read.

use crate::records::tables::{LATEST, Trouble};
use rusqlite::{Transaction, params};

/// Red, green, blue and how opaque, each from 0 to 255.
type Colour = [u8; 4];

/// How one layer is drawn.
struct Style {
    layer: &'static str,
    about: &'static str,
    /// `None` for a layer of lines.
    fill: Option<Colour>,
    stroke: Colour,
    width_mm: f64,
}

/// The colours are those of the plan on the sheets. Older revisions are pale, so that the latest lawns stand out.
const STYLES: [Style; 5] = [
    Style {
        layer: LATEST,
        about: "Lawns as last measured, with their net areas",
        fill: Some([0xdd, 0xec, 0xd3, 200]),
        stroke: [0x1f, 0x4d, 0x2b, 255],
        width_mm: 0.5,
    },
    Style {
        layer: "lawns",
        about: "Every revision",
        fill: Some([0xdd, 0xec, 0xd3, 0]),
        stroke: [0x8a, 0xa8, 0x90, 255],
        width_mm: 0.2,
    },
    Style {
        layer: "deductions",
        about: "What was taken off",
        fill: Some([0xff, 0xff, 0xff, 180]),
        stroke: [0x6b, 0x3f, 0x1d, 255],
        width_mm: 0.3,
    },
    Style {
        layer: "walks",
        about: "The walked lines",
        fill: None,
        stroke: [0x77, 0x77, 0x77, 255],
        width_mm: 0.2,
    },
    Style {
        layer: "bands",
        about: "The low and the high end of the band",
        fill: Some([0, 0, 0, 0]),
        stroke: [0x8a, 0x5a, 0x00, 255],
        width_mm: 0.2,
    },
];

/// Writes the styles of all layers into the file.
pub(crate) fn write(transaction: &Transaction<'_>) -> Result<(), Trouble> {
    let mut insert = transaction.prepare(
        "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, styleQML, \
         styleSLD, useAsDefault, description, owner) VALUES ('', '', ?1, 'geom', ?1, ?2, ?3, 1, ?4, '')",
    )?;
    for style in &STYLES {
        insert.execute(params![style.layer, style.qml(), style.sld(), style.about])?;
    }
    Ok(())
}

impl Style {
    /// The style in the form of desktop programs; the latest lawns also get their area as a label.
    fn qml(&self) -> String {
        let told = |[r, g, b, a]: Colour| format!("{r},{g},{b},{a}");
        let option = |name: &str, value: &str| {
            format!("<Option type=\"QString\" name=\"{name}\" value=\"{value}\"/>")
        };
        let width = self.width_mm.to_string();
        let stroke = told(self.stroke);
        let (kind, class, options) = match self.fill {
            Some(fill) => (
                "fill",
                "SimpleFill",
                [
                    option("color", &told(fill)),
                    option("outline_color", &stroke),
                    option("outline_width", &width),
                    option("outline_style", "solid"),
                    option("style", "solid"),
                ]
                .concat(),
            ),
            None => (
                "line",
                "SimpleLine",
                [
                    option("line_color", &stroke),
                    option("line_width", &width),
                    option("line_style", "solid"),
                ]
                .concat(),
            ),
        };
        let (categories, labels) = match self.layer == LATEST {
            true => (
                "Symbology|Labeling",
                "<labeling type=\"simple\"><settings><text-style isExpression=\"1\" fontSize=\"9\" textColor=\"29,43,31,255\" \
                 fieldName=\"format_number(net_m2, 1) || ' m²'\"/><placement placement=\"1\"/></settings></labeling>",
            ),
            false => ("Symbology", ""),
        };
        format!(
            "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n\
             <qgis version=\"3.22\" styleCategories=\"{categories}\" labelsEnabled=\"{}\"><renderer-v2 type=\"singleSymbol\"><symbols>\
             <symbol type=\"{kind}\" name=\"0\" alpha=\"1\"><layer class=\"{class}\" enabled=\"1\" pass=\"0\" locked=\"0\">\
             <Option type=\"Map\">{options}</Option></layer></symbol></symbols></renderer-v2>{labels}</qgis>\n",
            u8::from(!labels.is_empty())
        )
    }

    /// The style as a Styled Layer Descriptor.
    fn sld(&self) -> String {
        let parameter = |name: &str, value: &str| {
            format!("<CssParameter name=\"{name}\">{value}</CssParameter>")
        };
        let hex = |[r, g, b, _]: Colour| format!("#{r:02x}{g:02x}{b:02x}");
        // Widths are in pixels, and a pixel of the standard is 0.28 mm.
        let stroke = format!(
            "<Stroke>{}{}</Stroke>",
            parameter("stroke", &hex(self.stroke)),
            parameter("stroke-width", &format!("{:.2}", self.width_mm / 0.28))
        );
        let symbolizer = match self.fill {
            Some(fill) => format!(
                "<PolygonSymbolizer><Fill>{}{}</Fill>{stroke}</PolygonSymbolizer>",
                parameter("fill", &hex(fill)),
                parameter(
                    "fill-opacity",
                    &format!("{:.2}", f64::from(fill[3]) / 255.0)
                )
            ),
            None => format!("<LineSymbolizer>{stroke}</LineSymbolizer>"),
        };
        format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
             <StyledLayerDescriptor version=\"1.0.0\" xmlns=\"http://www.opengis.net/sld\"><NamedLayer><Name>{0}</Name><UserStyle>\
             <Name>{0}</Name><FeatureTypeStyle><Rule>{symbolizer}</Rule></FeatureTypeStyle></UserStyle></NamedLayer>\
             </StyledLayerDescriptor>\n",
            self.layer
        )
    }
}
