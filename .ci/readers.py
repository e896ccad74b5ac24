"""Holds every kind of file that boundwalk writes against two readers made elsewhere. Called by .ci/readers."""

import csv
import io
import json
import math
import pathlib
import re
import subprocess
import sys

import ezdxf
import ezdxf.units
import fastkml
import flatgeobuf
import geopandas
import gpxpy
import html5lib
import jsonschema
import lxml.etree
import pandas
import pikepdf
import PIL.Image
import png
import pyogrio
import pypdf
import pyproj
import shapely
import shapely.geometry
import svgelements

WORK = pathlib.Path(sys.argv[1])
SHEETS, DAY, RECORDS = WORK / "garden" / "sheets", WORK / "day", WORK / "lawns.gpkg"
RESULT = json.loads((SHEETS / "result.json").read_text())
AREA = RESULT["area"]
FACTOR = RESULT["plane"]["height_factor"] ** 2
GEOD = pyproj.Geod(ellps="WGS84")
# Degrees have eight decimals, about a millimetre: of an edge of 57 m and 207 m² that may be a few cm².
OF_DEGREES_M2 = 0.02
passed = failed = 0


def check(what, holds, why=""):
    global passed, failed
    passed, failed = passed + bool(holds), failed + (not holds)
    if not holds:
        print(f"FAILED {what}: {why}", flush=True)


def same(file, reader, m2, expected, within=OF_DEGREES_M2):
    check(f"{file} by {reader}", abs(m2 - expected) <= within, f"{m2} m² against {expected}")
    print(f"{file:14} {reader:34} {m2:10.4f} m², written {expected:10.4f}")


def opened(file, reader, holds, said):
    check(f"{file} by {reader}", holds, said)
    print(f"{file:14} {reader:34} {said}")


def on_the_ground(shape):
    """Square metres of degrees: PROJ's geodesic routines, brought up to the site's height."""
    return abs(GEOD.geometry_area_perimeter(shapely.geometry.polygon.orient(shape) if shape.geom_type == "Polygon" else shape)[0]) * FACTOR


def gdal(path, **options):
    """A layer through GDAL; its warnings are errors here."""
    return pyogrio.read_dataframe(path, **options)


GDAL = f"GDAL {'.'.join(map(str, pyogrio.__gdal_version__))}"
OLD_GDAL = re.search(r"GDAL ([\d.]+)", subprocess.run(["ogrinfo", "--version"], capture_output=True, text=True).stdout)[0]


def quiet(*command):
    """What a program of GDAL's prints; it must have nothing to warn of."""
    done = subprocess.run(command, capture_output=True, text=True)
    trouble = [line for line in (done.stdout + done.stderr).splitlines() if re.match(r"(Warning|ERROR) ", line)]
    check(" ".join(map(str, command)), done.returncode == 0 and not trouble, trouble or done.stderr)
    return done.stdout


# ---- one survey's sheets

def maps():
    path = SHEETS / "lawn.geojson"
    with_gdal = gdal(path)
    same(path.name, GDAL, on_the_ground(with_gdal[with_gdal.role == "lawn"].geometry.iloc[0]), AREA["net_m2"])
    plain = {f["properties"]["role"]: f for f in json.loads(path.read_text())["features"]}
    same(path.name, f"shapely {shapely.__version__}", on_the_ground(shapely.geometry.shape(plain["lawn"]["geometry"])), AREA["net_m2"])
    # As a table of a data frame library, in metres of the zone's projection.
    frame = geopandas.GeoDataFrame.from_features(json.loads(path.read_text()), crs=4326)
    zone = frame.to_crs(frame.estimate_utm_crs())
    scale = pyproj.Proj(zone.crs).get_factors(RESULT["plane"]["lon"], RESULT["plane"]["lat"]).areal_scale
    same(path.name, f"geopandas {geopandas.__version__}", zone[zone.role == "lawn"].area.iloc[0] / scale * FACTOR, AREA["net_m2"])

    path = SHEETS / "rows.geojson"
    laid = sum((p["end_m"] - p["start_m"]) for row in RESULT["order"]["turf"]["rows"]["layout"] for p in row["pieces"]) * 0.4
    same(path.name, GDAL, sum(map(on_the_ground, (p := gdal(path))[p.role == "piece"].geometry)), laid, 0.05)
    pieces = [f for f in json.loads(path.read_text())["features"] if f["properties"]["role"] == "piece"]
    same(path.name, "shapely", sum(on_the_ground(shapely.geometry.shape(f["geometry"])) for f in pieces), laid, 0.05)

    path = SHEETS / "lawn.kml"
    layers = [gdal(path, layer=name) for name, _ in pyogrio.list_layers(path)]
    lawn = pandas.concat(layers).set_index("Name").loc["lawn"].geometry
    same(path.name, GDAL, on_the_ground(shapely.force_2d(lawn)), AREA["net_m2"])
    document = fastkml.KML.parse(io.BytesIO(path.read_bytes()))
    marks = {mark.name: mark for mark in fastkml.utils.find_all(document, of_type=fastkml.Placemark)}
    same(path.name, "fastkml", on_the_ground(shapely.geometry.shape(marks["lawn"].geometry)), AREA["net_m2"])

    path = SHEETS / "lawn.gpx"
    tracks = gdal(path, layer="tracks").set_index("name")
    ring = shapely.Polygon(tracks.loc["lawn"].geometry.geoms[0])
    same(path.name, GDAL, on_the_ground(ring), AREA["gross_m2"])
    read = {track.name: track for track in gpxpy.parse(path.read_text()).tracks}
    same(path.name, "gpxpy", on_the_ground(shapely.Polygon([(p.longitude, p.latitude) for p in read["lawn"].segments[0].points])), AREA["gross_m2"])


def drawing():
    path = SHEETS / "lawn.dxf"
    document = ezdxf.readfile(path)
    check("DXF units", document.units == ezdxf.units.M, document.units)
    ring = next(e for e in document.modelspace() if e.dxf.layer == "LAWN")
    same(path.name, f"ezdxf {ezdxf.__version__}, in {ezdxf.units.unit_name(document.units)}",
         shapely.Polygon([v.dxf.location.vec2 for v in ring.vertices]).area, AREA["gross_m2"], 1e-3)
    entities = gdal(path)
    lawn = entities[entities.Layer == "LAWN"].geometry.iloc[0]
    same(path.name, GDAL, shapely.Polygon(shapely.force_2d(lawn).coords).area, AREA["gross_m2"], 1e-3)


def tables():
    takeoff = pandas.read_csv(SHEETS / "takeoff.csv").set_index("item")
    same("takeoff.csv", f"pandas {pandas.__version__}", takeoff.loc["net area", "quantity"], AREA["net_m2"], 1e-6)
    rows = gdal(SHEETS / "takeoff.csv")
    # The mark of UTF-8 is no part of the first column's name.
    check("the first column of takeoff.csv", rows.columns[0] == "item", rows.columns[0])
    same("takeoff.csv", GDAL, float(rows.set_index("item").loc["net area", "quantity"]), AREA["net_m2"], 1e-6)
    points = pandas.read_csv(SHEETS / "points.csv")
    edge = points[points.what == "edge"]
    same("points.csv", "pandas", shapely.Polygon(edge[["x_m", "y_m"]]).area, AREA["gross_m2"], 0.01)
    rows = gdal(SHEETS / "points.csv")
    edge = rows[rows.what == "edge"]
    same("points.csv", GDAL, shapely.Polygon([(float(x), float(y)) for x, y in zip(edge.x_m, edge.y_m)]).area, AREA["gross_m2"], 0.01)
    pieces = sum(len(row["pieces"]) for row in RESULT["order"]["turf"]["rows"]["layout"])
    for reader, count in (("pandas", len(pandas.read_csv(SHEETS / "rows.csv"))), (GDAL, len(gdal(SHEETS / "rows.csv")))):
        opened("rows.csv", reader, count == pieces, f"{count} pieces")


def papers():
    said = re.search(r"Net area +([\d. ]+) m² ± ([\d.]+) m²", (SHEETS / "report.txt").read_text())
    number = f"{said[1]} ± {said[2]} m²"
    for path in sorted(SHEETS.glob("*.pdf")):
        pages = pypdf.PdfReader(path).pages
        text = " ".join(" ".join(page.extract_text().split()) for page in pages)
        # The merchant and the crew are told what to deliver and lay, not how large the lawn is.
        wanted = "215" if path.name in ("order.pdf", "crew.pdf") else said[1]
        opened(path.name, f"pypdf {pypdf.__version__}", wanted in text, f"{len(pages)} pages, with {wanted}")
        with pikepdf.open(path) as document:
            trouble = document.check_pdf_syntax()
            opened(path.name, f"pikepdf (qpdf {pikepdf.__libqpdf_version__})", not trouble and len(document.pages) == len(pages),
                   f"{len(document.pages)} pages, {len(trouble)} complaints")
            check(f"{path.name} title", str(document.docinfo.get("/Title", "")), "none")
            with document.open_outline() as outline:
                marks = [item.title for item in outline.root]
        read = pypdf.PdfReader(path)
        found = [mark.title for mark in read.outline]
        reached = [read.get_destination_page_number(mark) for mark in read.outline]
        check(f"{path.name} bookmarks", found and found == marks and reached == sorted(reached), (found, marks, reached))
        # Each leads to the page that has it.
        for mark, page in zip(found, reached):
            first = mark.split()[0].rstrip(":")
            check(f"{path.name} bookmark {mark}", first in pages[page].extract_text(), page)
        tagged(path)
    page = (SHEETS / "sheet.html").read_text()
    builder = html5lib.HTMLParser(strict=False)
    text = " ".join("".join(builder.parse(page).itertext()).split())
    opened("sheet.html", f"html5lib {html5lib.__version__}", number in text and not builder.errors, f"{number}; {len(builder.errors)} errors")
    text = " ".join(lxml.etree.HTML(page).itertext())
    opened("sheet.html", "lxml (libxml2)", number in " ".join(text.split()), number)


def tagged(path):
    """What one who has a PDF read out gets (ISO 32000-1:2008, 14.7 and 14.8)."""
    with pikepdf.open(path) as document:
        root = document.Root
        check(f"{path.name} marked, and its language", root.MarkInfo.Marked and str(root.Lang) == "en", root.MarkInfo)
        # Everything is drawn within a run; each run that is read out has one element, which the page's list of owners names as well.
        owners = {int(n): list(refs) for n, refs in zip(*[iter(root.StructTreeRoot.ParentTree.Nums)] * 2)}
        drawn, pages = set(), {page.obj.objgen: k for k, page in enumerate(document.pages)}
        for number, page in enumerate(document.pages):
            depth = 0
            for operands, operator in pikepdf.parse_content_stream(page):
                depth += {"BDC": 1, "BMC": 1, "EMC": -1}.get(str(operator), 0)
                check(f"{path.name} run in a run", depth in (0, 1), (number, depth))
                if str(operator) == "BDC":
                    drawn.add((number, int(operands[1].MCID)))
                if str(operator) in ("Tj", "f*", "B*", "S", "Do"):
                    check(f"{path.name} drawn outside a run", depth == 1, (number, operator))
        found, kinds = set(), {}

        def visit(element, page):
            kind = str(element.S)
            kinds.setdefault(kind, []).append(element)
            page = pages[element.Pg.objgen] if "/Pg" in element else page
            inner = element.get("/K", [])
            for part in inner:
                if isinstance(part, pikepdf.Dictionary) and "/MCID" not in part:
                    check(f"{path.name} parent", part.P.objgen == element.objgen, kind)
                    visit(part, page)
                    continue
                at = (page, int(part)) if isinstance(part, int) else (pages[part.Pg.objgen], int(part.MCID))
                check(f"{path.name} run {at} twice", at not in found, kind)
                found.add(at)
                check(f"{path.name} owner of {at}", owners[at[0]][at[1]].objgen == element.objgen, kind)

        visit(root.StructTreeRoot.K, None)
        check(f"{path.name} runs", found == drawn, found ^ drawn)
        check(f"{path.name} figures are told", all(str(figure.get("/Alt", "")) for figure in kinds.get("/Figure", [])), "one is not")
        for table in kinds.get("/Table", []):
            wide = {len(row.K) for row in table.K}
            check(f"{path.name} rows as wide as each other", len(wide) == 1, wide)
        with document.open_outline() as outline:
            headings = len(kinds["/H2"]) + len(kinds.get("/Figure", []))
            check(f"{path.name} title and headings", len(kinds["/H1"]) == 1 and len(kinds["/H2"]) <= len(outline.root) <= headings, kinds.keys())
    said = subprocess.run(["pdfinfo", "-struct-text", path], capture_output=True, text=True)
    lines = [line.strip() for line in said.stdout.splitlines()]
    bare = subprocess.run(["pdfinfo", path], capture_output=True, text=True).stdout
    opened(path.name, "poppler", "Tagged:          yes" in bare and lines[:2] == ["Document", "H1 (block)"] and not said.stderr,
           f"tagged, {sum(len(v) for v in kinds.values())} elements")


def pictures():
    for path in sorted(SHEETS.glob("*.svg")):
        shapes = len(list(svgelements.SVG.parse(io.StringIO(path.read_text())).elements(lambda e: isinstance(e, svgelements.Shape))))
        opened(path.name, "svgelements", shapes > 5, f"{shapes} shapes")
        elements = sum(1 for _ in lxml.etree.parse(path).iter())
        opened(path.name, "lxml (libxml2)", elements > 5, f"{elements} elements")
    with PIL.Image.open(SHEETS / "plan.png") as picture:
        picture.verify()
        size = picture.size
    opened("plan.png", f"Pillow {PIL.__version__}", min(size) > 500, size)
    width, height, rows, _ = png.Reader(bytes=(SHEETS / "plan.png").read_bytes()).read()
    opened("plan.png", "pypng", (width, height) == size and sum(1 for _ in rows) == height, (width, height))


def documents():
    schema = json.loads(pathlib.Path("docs/result.schema.json").read_text())
    jsonschema.Draft202012Validator(schema).validate(RESULT)
    for line in (DAY / "day.ndjson").read_text().splitlines():
        jsonschema.Draft202012Validator(schema).validate(json.loads(line))
    opened("result.json", "jsonschema", True, "by docs/result.schema.json")
    frame = pandas.json_normalize([RESULT])
    same("result.json", "pandas", frame["area.net_m2"].iloc[0], AREA["net_m2"], 0)
    frame = pandas.read_json(DAY / "day.ndjson", lines=True)
    opened("day.ndjson", "pandas", len(frame) == len(day()), f"{len(frame)} surveys")


# ---- a day, and records

def day():
    with open(DAY / "day.ndjson", encoding="utf-8") as lines:
        return {r["survey"]["name"]: r for r in map(json.loads, lines)}


def of_a_day(frame, file, reader):
    """Each lawn against its own result; the drawn outline may differ from the estimate by less than the band."""
    results = day()
    drawn = wanted = 0.0
    for name, net, shape in zip(frame["survey"], frame["net_m2"], frame.geometry):
        result = results[name]
        if result["area"] is None:
            check(f"{file}: {name} has no lawn", shape is None or shape.is_empty)
            continue
        check(f"{file}: {name} net", net == result["area"]["net_m2"], net)
        m2 = on_the_ground(shape) / FACTOR * result["plane"]["height_factor"] ** 2
        check(f"{file}: {name} drawn", abs(m2 - net) < result["area"]["band_m2"], (m2, net))
        drawn, wanted = drawn + m2, wanted + net
    same(file, reader, drawn, wanted, 0.002 * wanted)


def surveys():
    of_a_day(gdal(DAY / "day.geojson"), "day.geojson", GDAL)
    of_a_day(geopandas.GeoDataFrame.from_features(json.loads((DAY / "day.geojson").read_text()), crs=4326), "day.geojson", "geopandas")
    # As a shapefile: one kind of geometry, and no name is cut.
    quiet("ogr2ogr", "-f", "ESRI Shapefile", WORK / "day.shp", DAY / "day.geojson", "-lco", "ENCODING=UTF-8")
    names = set(gdal(DAY / "day.geojson").columns)
    check("a day's names in a shapefile", names == set(gdal(WORK / "day.shp").columns), names)
    # RFC 8142: each text begins with the record separator.
    sequence = (WORK / "day.geojsonl").read_bytes()
    check("geojson-seq separators", sequence.count(b"\x1e") == len(day()) and sequence.startswith(b"\x1e"), sequence[:20])
    (WORK / "day.geojsons").write_bytes(sequence)
    of_a_day(gdal(WORK / "day.geojsons"), "geojson-seq", GDAL)
    texts = [json.loads(text) for text in sequence.decode().split("\x1e")[1:]]
    of_a_day(geopandas.GeoDataFrame.from_features(texts, crs=4326), "geojson-seq", "geopandas")
    lawns = gdal(WORK / "day.fgb")
    check("day.fgb has every lawn", len(lawns) == sum(r["area"] is not None for r in day().values()), len(lawns))
    of_a_day(lawns, "day.fgb", GDAL)
    with open(WORK / "day.fgb", "rb") as file:
        lawns = flatgeobuf.load(file)
    of_a_day(geopandas.GeoDataFrame.from_features(lawns, crs=4326), "day.fgb", "flatgeobuf")
    table = pandas.read_csv(DAY / "day.csv")
    total = sum(r["area"]["net_m2"] for r in day().values() if r["area"])
    same("day.csv", "pandas", table["net_m2"].sum(), total, 1e-3)
    rows = gdal(DAY / "day.csv")
    same("day.csv", GDAL, sum(float(v) for v in rows["net_m2"] if v not in (None, "")), total, 1e-3)
    page = (DAY / "day.html").read_text()
    builder = html5lib.HTMLParser()
    opened("day.html", "html5lib", builder.parse(page) is not None and not builder.errors, f"{len(builder.errors)} errors")
    opened("day.html", "lxml (libxml2)", len(lxml.etree.HTML(page).findall(".//tbody/tr")) == len(day()), f"{len(day())} rows")


def records():
    quiet("ogrinfo", "-ro", "-al", "-so", RECORDS)
    for name, kind in pyogrio.list_layers(RECORDS):
        gdal(RECORDS, layer=name)
    latest = gdal(RECORDS, layer="latest_lawns")
    check("only the latest", set(latest.revision) == {2}, set(latest.revision))
    check("band, date, job and site", latest.set_index("survey").loc["yard/garden", ["band_m2", "walked_on", "job", "site"]].notna().all(), latest)
    of_a_day(latest, "lawns.gpkg", f"{GDAL}, latest_lawns")
    # Another reader of GeoPackage geometries than GDAL; areas on the ellipsoid by its own routines.
    sql = ("SELECT survey, net_m2, AsWKT(GeomFromGPB(geom), 12) FROM latest_lawns;")
    said = subprocess.run(["spatialite", "-silent", "-separator", "|", RECORDS, sql], capture_output=True, text=True).stdout
    rows = [line.split("|") for line in said.splitlines() if line.count("|") == 2]
    frame = geopandas.GeoDataFrame({"survey": [r[0] for r in rows], "net_m2": [float(r[1]) for r in rows]},
                                   geometry=[shapely.from_wkt(r[2]) for r in rows], crs=4326)
    check("SpatiaLite sees as many", len(frame) == len(latest), len(frame))
    results = day()
    same("lawns.gpkg", "SpatiaLite, latest_lawns", sum(on_the_ground(g) / FACTOR * results[n]["plane"]["height_factor"] ** 2
         for n, g in zip(frame.survey, frame.geometry)), frame.net_m2.sum(), 0.002 * frame.net_m2.sum())
    # As a shapefile: one kind of geometry, and no name is cut.
    shapes = WORK / "latest.shp"
    quiet("ogr2ogr", "-f", "ESRI Shapefile", shapes, RECORDS, "latest_lawns", "-lco", "ENCODING=UTF-8")
    back = gdal(shapes)
    check("a shapefile's names", set(latest.columns) == set(back.columns), set(latest.columns) ^ set(back.columns))
    same("latest.shp", GDAL, sum(on_the_ground(g) for g in back.geometry), sum(on_the_ground(g) for g in latest.geometry), 1e-3)
    opened("lawns.gpkg", OLD_GDAL, True, "no warning")


def main():
    for part in (maps, drawing, tables, papers, pictures, documents, surveys, records):
        part()
    # What is read above, and plain text; whatever is new here needs its readers.
    known = {"lawn.geojson", "rows.geojson", "lawn.kml", "lawn.gpx", "lawn.dxf", "takeoff.csv", "points.csv", "rows.csv", "sheet.html",
             "sheet.pdf", "order.pdf", "crew.pdf", "record.pdf", "plan.svg", "rows.svg", "setout.svg", "plan.png", "result.json",
             "report.txt", "check.txt", "setout.txt", "boundwalk-files.json"}
    check("every file has readers", {p.name for p in SHEETS.iterdir()} == known, {p.name for p in SHEETS.iterdir()} ^ known)
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


main()
