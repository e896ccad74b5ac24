"""Reads a file of records as any GIS would, and holds it against what `boundwalk day` printed."""

import json
import sys
import warnings

import pyogrio
import pyogrio.raw
import pyproj
import shapely

warnings.simplefilter("error")
path, printed = sys.argv[1:]
with open(printed, encoding="utf-8") as lines:
    results = {line["survey"]["name"]: line for line in map(json.loads, lines)}
layers = dict(pyogrio.list_layers(path))
expected = {"latest_lawns": "MultiPolygon", "lawns": "MultiPolygon", "deductions": "MultiPolygon", "walks": "MultiLineString", "bands": "MultiPolygon"}
for name, kind in expected.items():
    assert layers[name] == kind, (name, layers[name])
tables = {"surveys", "gardens", "garden_names", "orders", "log_files", "settings", "warnings", "versions", "record_schema", "layer_styles"}
for name in tables:
    assert layers[name] is None, (name, layers[name])
assert set(layers) == set(expected) | tables

meta, _, shapes, fields = pyogrio.raw.read(path, layer="lawns")
assert meta["crs"] == "EPSG:4326", meta["crs"]
column = dict(zip(meta["fields"], fields))
ellipsoid = pyproj.Geod(ellps="WGS84")
checked = 0
for wkb, survey, revision, net in zip(shapes, column["survey"], column["revision"], column["net_m2"]):
    lawn = shapely.from_wkb(wkb)
    assert shapely.is_valid(lawn), survey
    if revision == 1:
        result = results[survey]
        # Full precision, as printed.
        assert net == result["area"]["net_m2"], (survey, net, result["area"]["net_m2"])
    # Its area on the ellipsoid (PROJ's geodesic routines), brought up to the site's height. The estimate and the
    # drawn outline may differ, but by less than the band.
    drawn = abs(ellipsoid.geometry_area_perimeter(lawn)[0]) * results[survey]["plane"]["height_factor"] ** 2
    band = results[survey]["area"]["band_m2"]
    assert abs(drawn - net) < band, (survey, drawn, net, band)
    checked += 1
assert checked >= 30, checked

# Through the index: only what lies there.
one = shapely.from_wkb(shapes[0])
west, south, east, north = one.bounds
found = pyogrio.raw.read(path, layer="lawns", bbox=(west, south, east, north))[2]
assert 2 <= len(found) < checked, len(found)
low = pyogrio.raw.read(path, layer="bands", where="edge = 'low'")[2]
high = pyogrio.raw.read(path, layer="bands", where="edge = 'high'")[2]
assert len(low) == len(high) == checked
for inner, outer in zip(low, high):
    assert shapely.area(shapely.from_wkb(inner)) < shapely.area(shapely.from_wkb(outer))
print(f"GDAL {'.'.join(map(str, pyogrio.__gdal_version__))} reads the records: {checked} lawns as printed.")
