//! Grids that are known here without PROJ, as the EPSG register has them (version 11.022): name, projection, and the box in which each
//! is meant to be used. Zones of UTM are worked out from their number; the others are rows of a table.

/// Zones of UTM on ETRS89 that are in the register.
pub(super) const ETRS_ZONES: std::ops::RangeInclusive<u32> = 28..=38;

/// One grid.
#[derive(Debug, Clone)]
pub(super) struct Known {
    pub code: u32,
    /// Whether it stands on a datum of its own, metres to hundreds of metres off WGS 84. Its projection alone then finds the neighbourhood
    /// and no more.
    pub shifted: bool,
    pub name: String,
    /// The projection as a PROJ string, without unit.
    pub projection: String,
    /// West, south, east, north, degrees.
    pub used: [f64; 4],
}

/// A row of the table: code, `shifted`, name, projection and box, as in [`Known`].
type Row = (u32, bool, &'static str, &'static str, [f64; 4]);

/// First the grids on ETRS89 or another frame within a metre of WGS 84, then those on a datum of their own.
#[rustfmt::skip]
const ROWS: [Row; 52] = [
    (2154, false, "RGF93 v1 / Lambert-93", "+proj=lcc +lat_0=46.5 +lon_0=3 +lat_1=49 +lat_2=44 +x_0=700000 +y_0=6600000 +ellps=GRS80", [-9.86, 41.15, 10.38, 51.56]),
    (2157, false, "IRENET95 / Irish Transverse Mercator", "+proj=tmerc +lat_0=53.5 +lon_0=-8 +k=0.99982 +x_0=600000 +y_0=750000 +ellps=GRS80", [-10.56, 51.39, -5.34, 55.43]),
    (2180, false, "ETRF2000-PL / CS92", "+proj=tmerc +lat_0=0 +lon_0=19 +k=0.9993 +x_0=500000 +y_0=-5300000 +ellps=GRS80", [14.14, 49.0, 24.15, 55.93]),
    (2193, false, "NZGD2000 / New Zealand Transverse Mercator 2000", "+proj=tmerc +lat_0=0 +lon_0=173 +k=0.9996 +x_0=1600000 +y_0=10000000 +ellps=GRS80", [166.37, -47.33, 178.63, -34.1]),
    (3006, false, "SWEREF99 TM", "+proj=utm +zone=33 +ellps=GRS80", [10.03, 54.96, 24.17, 69.07]),
    (3007, false, "SWEREF99 12 00", "+proj=tmerc +lat_0=0 +lon_0=12 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [10.93, 56.74, 13.11, 60.13]),
    (3008, false, "SWEREF99 13 30", "+proj=tmerc +lat_0=0 +lon_0=13.5 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [12.12, 55.28, 14.79, 62.28]),
    (3009, false, "SWEREF99 15 00", "+proj=tmerc +lat_0=0 +lon_0=15 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [13.54, 55.95, 16.15, 61.62]),
    (3010, false, "SWEREF99 16 30", "+proj=tmerc +lat_0=0 +lon_0=16.5 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [15.41, 56.15, 17.63, 62.26]),
    (3011, false, "SWEREF99 18 00", "+proj=tmerc +lat_0=0 +lon_0=18 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [17.08, 58.66, 19.61, 60.7]),
    (3012, false, "SWEREF99 14 15", "+proj=tmerc +lat_0=0 +lon_0=14.25 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [11.93, 61.55, 15.55, 64.39]),
    (3013, false, "SWEREF99 15 45", "+proj=tmerc +lat_0=0 +lon_0=15.75 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [13.66, 60.44, 17.01, 65.13]),
    (3014, false, "SWEREF99 17 15", "+proj=tmerc +lat_0=0 +lon_0=17.25 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [14.31, 62.12, 19.04, 67.19]),
    (3015, false, "SWEREF99 18 45", "+proj=tmerc +lat_0=0 +lon_0=18.75 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [17.18, 56.86, 20.22, 66.17]),
    (3016, false, "SWEREF99 20 15", "+proj=tmerc +lat_0=0 +lon_0=20.25 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [16.08, 63.45, 23.28, 69.07]),
    (3017, false, "SWEREF99 21 45", "+proj=tmerc +lat_0=0 +lon_0=21.75 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [19.63, 65.01, 22.91, 66.43]),
    (3018, false, "SWEREF99 23 15", "+proj=tmerc +lat_0=0 +lon_0=23.25 +k=1 +x_0=150000 +y_0=0 +ellps=GRS80", [21.85, 65.49, 24.17, 68.14]),
    (3059, false, "LKS-92 / Latvia TM", "+proj=tmerc +lat_0=0 +lon_0=24 +k=0.9996 +x_0=500000 +y_0=-6000000 +ellps=GRS80", [19.06, 55.67, 28.24, 58.09]),
    (3067, false, "ETRS89 / TM35FIN(E,N)", "+proj=utm +zone=35 +ellps=GRS80", [19.08, 58.84, 31.59, 70.09]),
    (3301, false, "Estonian Coordinate System of 1997", "+proj=lcc +lat_0=57.51755393055556 +lon_0=24 +lat_1=59.33333333333334 +lat_2=58 +x_0=500000 +y_0=6375000 +ellps=GRS80", [20.37, 57.52, 28.2, 60.0]),
    (3346, false, "LKS94 / Lithuania TM", "+proj=tmerc +lat_0=0 +lon_0=24 +k=0.9998 +x_0=500000 +y_0=0 +ellps=GRS80", [19.02, 53.89, 26.82, 56.45]),
    (3763, false, "ETRS89 / Portugal TM06", "+proj=tmerc +lat_0=39.66825833333333 +lon_0=-8.133108333333334 +k=1 +x_0=0 +y_0=0 +ellps=GRS80", [-9.56, 36.95, -6.19, 42.16]),
    (3765, false, "HTRS96 / Croatia TM", "+proj=tmerc +lat_0=0 +lon_0=16.5 +k=0.9999 +x_0=500000 +y_0=0 +ellps=GRS80", [13.43, 42.34, 19.43, 46.54]),
    (3794, false, "Slovenia 1996 / Slovene National Grid", "+proj=tmerc +lat_0=0 +lon_0=15 +k=0.9999 +x_0=500000 +y_0=-5000000 +ellps=GRS80", [13.38, 45.42, 16.61, 46.88]),
    (3812, false, "ETRS89 / Belgian Lambert 2008", "+proj=lcc +lat_0=50.797815 +lon_0=4.359215833333333 +lat_1=49.83333333333334 +lat_2=51.16666666666666 +x_0=649328 +y_0=665262 +ellps=GRS80", [2.5, 49.5, 6.4, 51.51]),
    (3942, false, "RGF93 v1 / CC42", "+proj=lcc +lat_0=42 +lon_0=3 +lat_1=41.25 +lat_2=42.75 +x_0=1700000 +y_0=1200000 +ellps=GRS80", [-1.06, 41.31, 9.63, 43.07]),
    (3943, false, "RGF93 v1 / CC43", "+proj=lcc +lat_0=43 +lon_0=3 +lat_1=42.25 +lat_2=43.75 +x_0=1700000 +y_0=2200000 +ellps=GRS80", [-1.79, 42.33, 7.65, 44.01]),
    (3944, false, "RGF93 v1 / CC44", "+proj=lcc +lat_0=44 +lon_0=3 +lat_1=43.25 +lat_2=44.75 +x_0=1700000 +y_0=3200000 +ellps=GRS80", [-1.79, 42.92, 7.71, 45.0]),
    (3945, false, "RGF93 v1 / CC45", "+proj=lcc +lat_0=45 +lon_0=3 +lat_1=44.25 +lat_2=45.75 +x_0=1700000 +y_0=4200000 +ellps=GRS80", [-1.46, 44.0, 7.71, 46.0]),
    (3946, false, "RGF93 v1 / CC46", "+proj=lcc +lat_0=46 +lon_0=3 +lat_1=45.25 +lat_2=46.75 +x_0=1700000 +y_0=5200000 +ellps=GRS80", [-2.21, 45.0, 7.16, 47.0]),
    (3947, false, "RGF93 v1 / CC47", "+proj=lcc +lat_0=47 +lon_0=3 +lat_1=46.25 +lat_2=47.75 +x_0=1700000 +y_0=6200000 +ellps=GRS80", [-4.77, 46.0, 7.63, 48.0]),
    (3948, false, "RGF93 v1 / CC48", "+proj=lcc +lat_0=48 +lon_0=3 +lat_1=47.25 +lat_2=48.75 +x_0=1700000 +y_0=7200000 +ellps=GRS80", [-4.87, 47.0, 8.23, 49.0]),
    (3949, false, "RGF93 v1 / CC49", "+proj=lcc +lat_0=49 +lon_0=3 +lat_1=48.25 +lat_2=49.75 +x_0=1700000 +y_0=8200000 +ellps=GRS80", [-4.87, 48.0, 8.23, 50.0]),
    (3950, false, "RGF93 v1 / CC50", "+proj=lcc +lat_0=50 +lon_0=3 +lat_1=49.25 +lat_2=50.75 +x_0=1700000 +y_0=9200000 +ellps=GRS80", [-2.03, 49.0, 8.08, 51.14]),
    (2056, true, "CH1903+ / LV95", "+proj=somerc +lat_0=46.9524055555556 +lon_0=7.43958333333333 +k_0=1 +x_0=2600000 +y_0=1200000 +ellps=bessel", [5.96, 45.82, 10.49, 47.81]),
    (2100, true, "GGRS87 / Greek Grid", "+proj=tmerc +lat_0=0 +lon_0=24 +k=0.9996 +x_0=500000 +y_0=0 +ellps=GRS80", [19.57, 34.88, 28.3, 41.75]),
    (3003, true, "Monte Mario / Italy zone 1", "+proj=tmerc +lat_0=0 +lon_0=9 +k=0.9996 +x_0=1500000 +y_0=0 +ellps=intl", [5.93, 36.53, 12.0, 47.04]),
    (3004, true, "Monte Mario / Italy zone 2", "+proj=tmerc +lat_0=0 +lon_0=15 +k=0.9996 +x_0=2520000 +y_0=0 +ellps=intl", [12.0, 34.76, 18.99, 47.1]),
    (3844, true, "Pulkovo 1942(58) / Stereo70", "+proj=sterea +lat_0=46 +lon_0=25 +k=0.99975 +x_0=500000 +y_0=500000 +ellps=krass", [20.26, 43.44, 31.41, 48.27]),
    (21781, true, "CH1903 / LV03", "+proj=somerc +lat_0=46.9524055555556 +lon_0=7.43958333333333 +k_0=1 +x_0=600000 +y_0=200000 +ellps=bessel", [5.96, 45.82, 10.49, 47.81]),
    (23700, true, "HD72 / EOV", "+proj=somerc +lat_0=47.1443937222222 +lon_0=19.0485717777778 +k_0=0.99993 +x_0=650000 +y_0=200000 +ellps=GRS67", [16.11, 45.74, 22.9, 48.58]),
    (27700, true, "OSGB36 / British National Grid", "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=airy", [-9.01, 49.75, 2.01, 61.01]),
    (28992, true, "Amersfoort / RD New", "+proj=sterea +lat_0=52.1561605555556 +lon_0=5.38763888888889 +k=0.9999079 +x_0=155000 +y_0=463000 +ellps=bessel", [3.2, 50.75, 7.22, 53.7]),
    (29903, true, "TM75 / Irish Grid", "+proj=tmerc +lat_0=53.5 +lon_0=-8 +k=1.000035 +x_0=200000 +y_0=250000 +a=6377340.189 +rf=299.3249646", [-10.56, 51.39, -5.34, 55.43]),
    (31254, true, "MGI / Austria GK West", "+proj=tmerc +lat_0=0 +lon_0=10.3333333333333 +k=1 +x_0=0 +y_0=-5000000 +ellps=bessel", [9.53, 46.77, 11.84, 47.61]),
    (31255, true, "MGI / Austria GK Central", "+proj=tmerc +lat_0=0 +lon_0=13.3333333333333 +k=1 +x_0=0 +y_0=-5000000 +ellps=bessel", [11.83, 46.4, 14.84, 48.79]),
    (31256, true, "MGI / Austria GK East", "+proj=tmerc +lat_0=0 +lon_0=16.3333333333333 +k=1 +x_0=0 +y_0=-5000000 +ellps=bessel", [14.83, 46.56, 17.17, 49.02]),
    (31287, true, "MGI / Austria Lambert", "+proj=lcc +lat_0=47.5 +lon_0=13.3333333333333 +lat_1=49 +lat_2=46 +x_0=400000 +y_0=400000 +ellps=bessel", [9.53, 46.4, 17.17, 49.02]),
    (31370, true, "BD72 / Belgian Lambert 72", "+proj=lcc +lat_0=90 +lon_0=4.36748666666667 +lat_1=51.1666672333333 +lat_2=49.8333339 +x_0=150000.013 +y_0=5400088.438 +ellps=intl", [2.5, 49.5, 6.4, 51.51]),
    (31466, true, "DHDN / 3-degree Gauss-Kruger zone 2", "+proj=tmerc +lat_0=0 +lon_0=6 +k=1 +x_0=2500000 +y_0=0 +ellps=bessel", [5.86, 49.11, 7.51, 53.81]),
    (31467, true, "DHDN / 3-degree Gauss-Kruger zone 3", "+proj=tmerc +lat_0=0 +lon_0=9 +k=1 +x_0=3500000 +y_0=0 +ellps=bessel", [7.5, 47.27, 10.51, 55.09]),
    (31468, true, "DHDN / 3-degree Gauss-Kruger zone 4", "+proj=tmerc +lat_0=0 +lon_0=12 +k=1 +x_0=4500000 +y_0=0 +ellps=bessel", [10.5, 47.39, 13.51, 54.59]),
];

/// The grid of a code.
pub(super) fn of(code: u32) -> Option<Known> {
    let zone = |zone: u32, datum: &str, ellipsoid: &str, south: bool| {
        let west = f64::from(zone) * 6.0 - 186.0;
        let (letter, below) = if south { ("S", " +south") } else { ("N", "") };
        Known {
            code,
            shifted: false,
            name: format!("{datum} / UTM zone {zone}{letter}"),
            projection: format!("+proj=utm +zone={zone}{below} +ellps={ellipsoid}"),
            used: match south {
                true => [west, -80.0, west + 6.0, 0.0],
                false => [west, 0.0, west + 6.0, 84.0],
            },
        }
    };
    match code {
        32601..=32660 => Some(zone(code - 32600, "WGS 84", "WGS84", false)),
        32701..=32760 => Some(zone(code - 32700, "WGS 84", "WGS84", true)),
        _ if code >= 25800 && ETRS_ZONES.contains(&(code - 25800)) => {
            Some(zone(code - 25800, "ETRS89", "GRS80", false))
        }
        _ => ROWS.iter().find(|row| row.0 == code).map(known),
    }
}

fn known((code, shifted, name, projection, used): &Row) -> Known {
    Known {
        code: *code,
        shifted: *shifted,
        name: (*name).to_owned(),
        projection: (*projection).to_owned(),
        used: *used,
    }
}

/// All national grids of the table.
pub(super) fn national() -> impl Iterator<Item = Known> {
    ROWS.iter().map(known)
}

/// All zones of UTM.
pub(super) fn zones() -> impl Iterator<Item = Known> {
    let wgs = (32601..=32660).chain(32701..=32760);
    wgs.chain(ETRS_ZONES.map(|zone| 25800 + zone))
        .filter_map(of)
}
