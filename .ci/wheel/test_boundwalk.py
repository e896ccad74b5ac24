"""The module of the wheel, as it is installed: `python test_boundwalk.py FIXTURES`, with nothing but the wheel beside it."""

import itertools
import json
import pathlib
import pickle
import subprocess
import sys
import tempfile
import unittest

import boundwalk

FIXTURES = pathlib.Path(sys.argv.pop(1)) if len(sys.argv) > 1 else pathlib.Path("fixtures")
GARDEN = FIXTURES / "garden"
# The example garden is invented with this net area (its PROVENANCE.md).
TRUE_NET_M2 = 206.67


class Measure(unittest.TestCase):
    def test_a_job_gives_what_the_command_prints(self):
        result = boundwalk.measure(GARDEN)
        printed = subprocess.run([boundwalk.program(), "measure", "--format", "json", "--quiet", GARDEN], capture_output=True)
        self.assertEqual(result, json.loads(printed.stdout))
        self.assertLessEqual(abs(result["area"]["net_m2"] - TRUE_NET_M2), result["area"]["band_m2"])
        self.assertEqual(result["status"], "ok")

    def test_bytes_are_a_log(self):
        path = GARDEN / "lawn.nmea"
        of_path, of_bytes = boundwalk.measure(path), boundwalk.measure(path.read_bytes())
        self.assertEqual(of_path["area"], of_bytes["area"])

    def test_what_is_asked_reaches_the_program(self):
        log = GARDEN / "lawn.nmea"
        plain = boundwalk.measure(log)["area"]
        self.assertGreater(boundwalk.measure(log, sigma_m=0.5)["area"]["band_m2"], plain["band_m2"])
        self.assertAlmostEqual(boundwalk.measure(log, confidence=0.68)["area"]["confidence"], 0.68)
        carried = boundwalk.measure(log, carry_m=0.5, carry_side="inside")["area"]
        self.assertGreater(carried["net_m2"], plain["net_m2"] + 20)
        without_patio = boundwalk.measure(log, deduct=[GARDEN / "patio.nmea"])["area"]
        self.assertLess(without_patio["net_m2"], plain["net_m2"] - 8)
        self.assertEqual(boundwalk.measure(log, strict=False, grid=None)["area"], plain)

    def test_no_honest_area_is_a_result(self):
        lines = (GARDEN / "lawn.nmea").read_bytes().splitlines(keepends=True)
        result = boundwalk.measure(b"".join(lines[: len(lines) // 6]))
        self.assertEqual(result["status"], "withheld")
        self.assertIsNone(result["area"])
        self.assertTrue(result["warnings"])

    def test_what_cannot_be_asked_is_told_with_the_nearest(self):
        with self.assertRaisesRegex(TypeError, "sigma_m can"):
            boundwalk.measure(GARDEN, sigma=0.3)
        with self.assertRaisesRegex(TypeError, "of one survey"):
            next(boundwalk.day([GARDEN], job="job.toml"))
        with self.assertRaises(TypeError):
            next(boundwalk.day(str(GARDEN)))


class Faults(unittest.TestCase):
    def test_each_carries_its_document(self):
        wrong = [
            (lambda: boundwalk.measure("no.nmea"), "not-found", "no.nmea"),
            (lambda: boundwalk.measure(GARDEN / "PROVENANCE.md"), "not-a-log", "PROVENANCE.md"),
            (lambda: boundwalk.measure(GARDEN, confidence=95), "usage", None),
            (lambda: boundwalk.measure(GARDEN, sigma_m=-1), "usage", None),
            (lambda: boundwalk.geojson("no.nmea"), "not-found", "no.nmea"),
            (lambda: boundwalk.measure("-"), "not-found", None),
            (lambda: boundwalk.measure(b""), "no-positions", None),
            (lambda: list(boundwalk.day([GARDEN], confidence=95)), "usage", None),
            (lambda: list(boundwalk.lawns([GARDEN], confidence=95)), "usage", None),
        ]
        for call, kind, file in wrong:
            with self.assertRaises(boundwalk.Fault) as raised:
                call()
            fault = raised.exception
            self.assertEqual(fault.kind, kind, fault)
            self.assertEqual(fault.document["schema"], "boundwalk/fault/1")
            if file:
                self.assertEqual(fault.file, file)
            self.assertIn(fault.message, str(fault))
            # Comes back whole from a worker.
            self.assertEqual(pickle.loads(pickle.dumps(fault)).document, fault.document)


class Day(unittest.TestCase):
    def test_what_cannot_be_read_has_its_document_and_touches_no_other(self):
        with tempfile.TemporaryDirectory() as folder:
            odd = pathlib.Path(folder) / "a \u00e9\nb.nmea"
            odd.write_bytes((GARDEN / "lawn.nmea").read_bytes())
            results = list(boundwalk.day([GARDEN, "no.nmea", odd]))
        self.assertEqual([result["status"] for result in results], ["ok", "withheld", "ok"])
        self.assertEqual(results[0]["area"], boundwalk.measure(GARDEN)["area"])

    def test_a_stream_without_an_end_is_taken_as_it_is_needed(self):
        taken = 0

        def endless():
            nonlocal taken
            while True:
                taken += 1
                yield GARDEN / "lawn.nmea"

        results = list(itertools.islice(boundwalk.day(endless(), sigma_m=0.05), 3))
        self.assertEqual(len(results), 3)
        self.assertLess(taken, 1000)

    def test_nothing_gives_nothing(self):
        self.assertEqual(list(boundwalk.day([])), [])


class Shapes(unittest.TestCase):
    def test_one_survey_has_its_parts(self):
        shapes = boundwalk.geojson(GARDEN)
        self.assertEqual(shapes["type"], "FeatureCollection")
        roles = {feature["properties"]["role"] for feature in shapes["features"]}
        self.assertEqual(roles, {"lawn", "walked", "bed", "walk", "band-low", "band-high"})

    def test_many_surveys_have_a_lawn_each(self):
        features = list(boundwalk.lawns([GARDEN, "no.nmea"]))
        self.assertEqual([f["properties"]["status"] for f in features], ["ok", "withheld"])
        self.assertEqual(features[0]["geometry"]["type"], "Polygon")
        self.assertIsNone(features[1]["geometry"])


if __name__ == "__main__":
    unittest.main()
