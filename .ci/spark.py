"""Spark's rows against a plain run's, read by DuckDB; the outlines' areas by Shapely."""

import math
import sys

import duckdb
import shapely


def main(results, plain, expected):
    db = duckdb.connect()
    db.execute(f"CREATE VIEW spark AS SELECT *, regexp_extract(survey, 'yard/.*') AS name FROM '{results}/*.parquet'")
    db.execute(f"CREATE VIEW plain AS SELECT * FROM read_ndjson_auto('{plain}')")
    one = lambda sql: db.execute(sql).fetchone()
    assert one("SELECT count(*), count(DISTINCT name) FROM spark") == (expected, expected)
    figures = ["status", "net_m2", "band_m2", "low_m2", "high_m2", "checks", "outline_off_m"]
    same = " AND ".join(f"s.{f} IS NOT DISTINCT FROM p.{f}" for f in figures)
    (same,) = one(f"SELECT count(*) FROM spark s JOIN plain p ON p.survey = s.name WHERE {same} AND s.wkb IS NOT DISTINCT FROM from_base64(p.wkb)")
    assert same == expected, f"{same} of {expected} rows are those of a plain run"
    areas = db.execute("SELECT net_m2, outline_off_m, wkb FROM spark WHERE wkb IS NOT NULL ORDER BY name LIMIT 2000").fetchall()
    for net_m2, off_m, wkb in areas:
        lawn = shapely.from_wkb(bytes(wkb))
        lat = math.radians(lawn.centroid.y)
        # Metres of a degree: the series of Snyder, Map Projections, 1987, p. 25, for WGS 84 (from memory).
        north = 111132.954 - 559.822 * math.cos(2 * lat) + 1.175 * math.cos(4 * lat)
        east = 111412.84 * math.cos(lat) - 93.5 * math.cos(3 * lat)
        flat = shapely.transform(lawn, lambda at: at * [east, north])
        assert abs(flat.area - net_m2) < 0.003 * net_m2 + off_m * flat.length, (flat.area, net_m2, off_m)
    query = "SELECT status, count(*) AS surveys, round(sum(net_m2), 1) AS m2, round(median(band_m2 / net_m2) * 100, 2) AS band_percent FROM spark GROUP BY ALL ORDER BY ALL"
    print(db.sql(query))
    print(f"{expected} rows, none twice, as in a plain run; {len(areas)} outlines have the area of their rows")


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
