"""Net areas of lawns from GNSS walks round their edges, each with an honest error band.

The wheel carries the program `boundwalk`; this module calls it and gives back what it says, as the plain values of JSON. Lengths
are metres, areas square metres, times seconds; keys say so (`_m`, `_m2`, `_s`). What was read but gives no honest number is a
result with the status "withheld" and no area, never an exception.
"""

from __future__ import annotations

import difflib
import itertools
import json
import os
import shutil
import subprocess
import sys
import sysconfig
from collections.abc import Iterable, Iterator, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypedDict, Union

if TYPE_CHECKING:
    from typing_extensions import Unpack

__all__ = ["Fault", "Request", "day", "geojson", "lawns", "measure", "program"]
__version__ = version("boundwalk")

_Path = Union[str, "os.PathLike[str]"]
#: So many paths go to one run of the program: its start is soon paid for, and the results of no more wait in memory.
_AT_ONCE = 256


class Request(TypedDict, total=False):
    """What may be asked beside the log; what is left out is as the job sheet or the log says."""

    job: _Path
    """The job sheet."""
    deduct: Sequence[_Path]
    """Logs of what was walked round inside the lawn, to be taken off."""
    carry_m: float
    """How far from the edge the antenna was carried, with `carry_side`."""
    carry_side: Literal["inside", "outside"]
    carry_sigma_m: float
    """How truly it was held to the edge all the way round, one sigma."""
    sigma_m: float
    """Position error of each axis, one sigma, instead of what the log says."""
    correlation_s: float
    """For how long position errors last."""
    confidence: float
    """How often the true area should lie within the band, 0.5 to 0.999."""
    grid: str
    """Where lists of points lie, such as "EPSG:32630", or "local"."""
    by_time: bool
    """Several logs of one walk in the order of their times."""
    max_fixes: int
    """Stop after so many fixes of each log."""
    strict: bool
    """Withhold the result if anything is doubtful."""


#: The program's option for each key.
_OPTIONS = {key: "--" + key.removesuffix("_m").removesuffix("_s").replace("_", "-") for key in Request.__annotations__}
#: A survey's own; a day has many.
_OF_ONE = ("job", "deduct")


class Fault(Exception):
    """The program could do nothing with what it was given, and says what was wrong, where, and what to do next."""

    def __init__(self, document: dict[str, Any]) -> None:
        #: As `docs/fault.schema.json` describes it.
        self.document = document
        fault = document["fault"]
        self.kind: str = fault["kind"]
        self.code: str = fault["code"]
        self.message: str = fault["message"]
        self.file: str | None = fault["file"]
        self.line: int | None = fault["line"]
        self.remedy: str = fault["remedy"]
        place = "".join(f"{part}: " for part in (self.file, self.line and f"line {self.line}") if part)
        super().__init__(f"{place}{self.message} {self.remedy}".strip())

    def __reduce__(self) -> tuple[type[Fault], tuple[dict[str, Any]]]:
        # So that it comes back whole from another process.
        return Fault, (self.document,)


def measure(log: _Path | bytes | Sequence[_Path], **request: Unpack[Request]) -> dict[str, Any]:
    """Measures one survey: a log (its path or its bytes), several logs of one walk, a job sheet, or a folder with one.

    Gives the result document (`docs/result.schema.json`). Raises `Fault` where nothing could be read or the call is wrong.
    """
    return _one(_run("measure", "json", log, request))


def geojson(log: _Path | bytes | Sequence[_Path], **request: Unpack[Request]) -> dict[str, Any]:
    """The same survey as GeoJSON: lawn, what was taken off, walk and band, told apart by the property `role`."""
    ended = _run("measure", "geojson", log, request)
    if ended.returncode in (0, 3):
        return _one(ended)
    # Only as JSON does the program say what was wrong in a document.
    return measure(log, **request)


def day(paths: Iterable[_Path], **request: Unpack[Request]) -> Iterator[dict[str, Any]]:
    """Measures many surveys and gives their result documents in order, as they are done.

    Each path is a log, a job sheet, or a folder of any number of both. What cannot be read has its document too, with the
    status "withheld" and the reason among its warnings. Paths are taken as they are needed, some hundreds ahead.
    """
    _only(request, "day", _OF_ONE)
    for ended in _batches(paths, "json", request):
        for line in ended.stdout.splitlines():
            yield json.loads(line)


def lawns(paths: Iterable[_Path], **request: Unpack[Request]) -> Iterator[dict[str, Any]]:
    """The lawns of many surveys as features of GeoJSON, one for each survey, in order, as they are done."""
    _only(request, "lawns", _OF_ONE)
    for ended in _batches(paths, "geojson", request):
        yield from _one(ended)["features"]


def program() -> str:
    """Where the program lies."""
    name = "boundwalk.exe" if os.name == "nt" else "boundwalk"
    schemes = [sysconfig.get_path("scripts"), sysconfig.get_path("scripts", sysconfig.get_preferred_scheme("user"))
               if sys.version_info >= (3, 10) else None]
    # Beside a module that was put into a folder of its own (pip install --target).
    places = [Path(place) for place in schemes if place] + [Path(__file__).resolve().parent.parent / "bin"]
    for place in places:
        if (place / name).is_file():
            return str(place / name)
    found = shutil.which(name)
    if found is None:
        raise FileNotFoundError(f"the program {name} is not where the wheel puts it, nor on the path: install the wheel again")
    return found


def _batches(paths: Iterable[_Path], form: str, request: Request) -> Iterator[subprocess.CompletedProcess[bytes]]:
    if isinstance(paths, (str, bytes, os.PathLike)):
        raise TypeError("day takes many paths: name one in a list")
    rest = iter(paths)
    while batch := list(itertools.islice(rest, _AT_ONCE)):
        # As JSON, so that a name may have any letter, line ends too.
        listed = "".join(json.dumps(os.fspath(path)) + "\n" for path in batch)
        # Only as JSON does the program say what was wrong in a document, which is one of many lines.
        for printed in dict.fromkeys((form, "json")):
            ended = _call(["day", "--quiet", f"--format={printed}", *_words(request), "--", "-"], listed.encode())
            if ended.stdout.startswith(b"{\n"):
                _one(ended)
            if ended.stdout:
                break
        else:
            raise _broke(ended)
        yield ended


def _run(
    command: str, form: str, log: _Path | bytes | Sequence[_Path], request: Request
) -> subprocess.CompletedProcess[bytes]:
    call = [command, "--quiet", f"--format={form}", *_words(request), "--"]
    if isinstance(log, (bytes, bytearray, memoryview)):
        return _call([*call, "-"], bytes(log))
    logs = [log] if isinstance(log, (str, os.PathLike)) else list(log)
    return _call([*call, *(_named(path) for path in logs)], b"")


def _named(path: _Path) -> str:
    # "-" alone would be standard input.
    name = os.fspath(path)
    return os.path.join(os.curdir, name) if name == "-" else name


def _words(request: Request) -> list[str]:
    words = []
    for key, value in request.items():
        if key not in _OPTIONS:
            near = difflib.get_close_matches(key, _OPTIONS, 1)
            raise TypeError(f"{key} cannot be asked for" + (f"; {near[0]} can" if near else ""))
        option = _OPTIONS[key]
        if value is None or value is False:
            continue
        if value is True:
            words.append(option)
        elif isinstance(value, (list, tuple)):
            words += [f"{option}={os.fspath(part)}" for part in value]
        else:
            words.append(f"{option}={value}")
    return words


def _only(request: Request, function: str, without: Sequence[str]) -> None:
    for key in without:
        if key in request:
            raise TypeError(f"{key} is of one survey: {function} takes it from each survey's job sheet")


def _call(words: list[str], given: bytes) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run([program(), *words], input=given, capture_output=True, check=False)


def _one(ended: subprocess.CompletedProcess[bytes]) -> dict[str, Any]:
    if ended.returncode not in (0, 1, 2, 3) or not ended.stdout:
        raise _broke(ended)
    document: dict[str, Any] = json.loads(ended.stdout)
    if str(document.get("schema", "")).startswith("boundwalk/fault/"):
        raise Fault(document)
    return document


def _broke(ended: subprocess.CompletedProcess[bytes]) -> RuntimeError:
    said = ended.stderr.decode(errors="replace").strip()
    return RuntimeError(f"boundwalk ended with {ended.returncode} and no result: {said}")
