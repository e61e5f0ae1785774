"""Makes the README's pictures anew: docs/pictures/app.png, the sound page of the example in the app, and docs/pictures/page.png, a
page of its crew pack.

    LOAMLINE_BIN=target/release/loamline python checks/pictures.py

Wants the built program with the web app in it, Chromium, poppler-utils, pillow and websockets (checks/requirements.txt). Fonts differ a little from one system to
another, so that ./test does not compare pictures; look at them when the app or the papers have changed.
"""

import base64
import io
import itertools
import json
import pathlib
import subprocess
import sys
import tempfile
import time
import urllib.request

from PIL import Image
from websockets.sync.client import connect

from tool import ROOT, run, served

PICTURES = ROOT / "docs" / "pictures"
EXAMPLE = ROOT / "examples" / "guesthouse-garden"
# How long the page may take for its map and figures, s, and after how many pictures alike, one a second, it has them.
WAIT_S, QUIET = 60, 6
# The page of the crew pack that shows where loudspeakers stand and point.
PAGE = 6
CHROMIUM = ["chromium", "--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--hide-scrollbars",
            "--disable-background-networking", "--window-size=1280,800", "--remote-debugging-port=0", "about:blank"]


def kept(picture, path, width):
    """Writes a picture at a width, in 256 colours: small, and plans and text stay sharp."""
    height = round(picture.height * width / picture.width)
    small = picture.convert("RGB").resize((width, height), Image.Resampling.LANCZOS)
    small.quantize(256, dither=Image.Dither.NONE).save(path, optimize=True)
    print(f"{path.relative_to(ROOT)}: {width} x {height}, {path.stat().st_size // 1024} kB")


def photographed(scratch, page):
    """A page as Chromium shows it once nothing in it changes any more."""
    folder = scratch / "browser"
    browser = subprocess.Popen([*CHROMIUM, f"--user-data-dir={folder}"], stderr=subprocess.DEVNULL)
    try:
        port = folder / "DevToolsActivePort"
        until(lambda: port.exists() and len(port.read_text().split()) == 2)
        with urllib.request.urlopen(f"http://127.0.0.1:{port.read_text().split()[0]}/json") as answer:
            tab = next(t for t in json.load(answer) if t["type"] == "page")
        with connect(tab["webSocketDebuggerUrl"], max_size=None) as channel:
            numbers = itertools.count(1)

            def ask(method, **parameters):
                n = next(numbers)
                channel.send(json.dumps({"id": n, "method": method, "params": parameters}))
                while (told := json.loads(channel.recv())).get("id") != n:
                    pass
                return told.get("result", {})

            ask("Page.navigate", url=page)
            seen = []

            def quiet():
                # While a page takes another's place there is none to be seen.
                seen.append(ask("Page.captureScreenshot").get("data"))
                return seen[-1] and len(seen) > QUIET and len(set(seen[-QUIET:])) == 1

            until(quiet)
            return base64.b64decode(seen[-1])
    finally:
        browser.terminate()
        browser.wait(30)


def until(happened):
    for _ in range(WAIT_S):
        if happened():
            return
        time.sleep(1)
    sys.exit(f"nothing came within {WAIT_S} s")


def app(scratch):
    server, told = served(scratch / "jobs")
    try:
        body = json.dumps({"name": "Guesthouse garden", "from": "example"}).encode()
        request = urllib.request.Request(told["address"] + "api/jobs", body, {"content-type": "application/json"})
        with urllib.request.urlopen(request) as answer:
            job = json.load(answer)["id"]
        shot = photographed(scratch, f"{told['address']}#/{job}/sound")
        kept(Image.open(io.BytesIO(shot)), PICTURES / "app.png", 1000)
    finally:
        server.terminate()
        server.wait(30)


def page(scratch):
    done = run("pack", EXAMPLE, "--only", "crew", "--out", scratch / "pack")
    if done.returncode == 2:
        sys.exit(done.stderr)
    start = ["pdftoppm", "-png", "-singlefile", "-r", "110", "-f", str(PAGE), "-l", str(PAGE)]
    subprocess.run([*start, scratch / "pack" / "crew-pack.pdf", scratch / "page"], check=True)
    kept(Image.open(scratch / "page.png"), PICTURES / "page.png", 700)


def main():
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="pictures-") as scratch:
        page(pathlib.Path(scratch))
        app(pathlib.Path(scratch))


if __name__ == "__main__":
    main()
