"""Holds what the tests kept against the published schemas and against readers made elsewhere. Called by .ci/kept."""

import json
import pathlib
import sys

import gpxpy
import jsonschema
import pynmea2

KEPT = pathlib.Path(sys.argv[1])
failed = 0


def check(what, holds, why=""):
    global failed
    failed += not holds
    if not holds:
        print(f"FAILED {what}: {why}", flush=True)


def kept(kind, least):
    """The files of a kind; that some are missing is a failure too."""
    files = sorted((KEPT / kind).glob("*"))
    check(kind, len(files) >= least, f"{len(files)} of at least {least}")
    print(f"{kind:14} {len(files)}")
    return files


def documents(kind, least, spoil):
    """Each is as its schema says, and would not be with this spoilt."""
    schema = json.loads(pathlib.Path(f"docs/{kind}.schema.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for path in kept(kind, least):
        document = json.loads(path.read_text())
        for error in validator.iter_errors(document):
            check(path.name, False, f"{error.json_path}: {error.message}")
        check(path.name, not spoil(document) or not validator.is_valid(document), "the schema takes anything")


def area_on_a_withheld_result(document):
    document["status"] = "withheld"
    return document["area"] is not None


def unknown_kind(document):
    document["fault"]["kind"] = "whatever"
    return True


def logs():
    """What the simulator writes as a receiver would. The places are those of the tests in tests/trial/write.rs."""
    for path in kept("nmea", 1):
        for line in path.read_text().splitlines():
            sentence = pynmea2.parse(line, check=True)
            if sentence.sentence_type in ("GGA", "RMC"):
                place = (sentence.latitude, sentence.longitude)
                check(path.name, abs(place[0] + 40.25) < 1e-9 and abs(place[1] - 100.5) < 1e-9, place)
    for path in kept("gpx", 1):
        read = gpxpy.parse(path.read_text())
        segments = read.tracks[0].segments
        check(path.name, [mark.name for mark in read.waypoints] == ["birch & co"], read.waypoints)
        check(path.name, len(segments) == 2 and abs(segments[1].points[0].latitude - 45.00001) < 1e-9, segments)


def sheets():
    """The sheets of the tests in src/sheet/gpx.rs."""
    for path in kept("gpx-lawn", 1):
        read = gpxpy.parse(path.read_text())
        ring = [(point.latitude, point.longitude) for point in read.tracks[0].segments[0].points]
        check(path.name, read.version == "1.1" and len(ring) > 3 and ring[0] == ring[-1], ring)
        taken = [mark.name for mark in read.waypoints if mark.type == "taken off"]
        check(path.name, taken and set(taken) == {r"</name><script>\u{1}&"}, taken)
    for path in kept("gpx-withheld", 1):
        read = gpxpy.parse(path.read_text())
        check(path.name, not read.tracks and not read.waypoints, read)


documents("result", 20, area_on_a_withheld_result)
documents("fault", 15, unknown_kind)
logs()
sheets()
sys.exit(failed > 0)
