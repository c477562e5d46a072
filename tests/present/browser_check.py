"""The pages in a real browser: no violation of WCAG 2 A and AA that a program can find, and nothing runs over.

    python tests/present/browser_check.py --axe PATH-OF/axe.min.js [--browser chromium]

Each page is shown in frames of 320 and 1280 pixels, light and dark, with the checker axe-core put inside. The frames
hold copies without the page's Content-Security-Policy, which would rightly keep the checker from running. A page that
is wrong on purpose shows that the check can fail.
"""

from __future__ import annotations

import argparse
import html
import json
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

WIDTHS = (320, 1280)
SCHEMES = ("light", "dark")

WRONG = """<!DOCTYPE html><html lang="en"><head><title>wrong</title></head><body><main>
<h1>Wrong on purpose</h1><img src="data:," width="9"><p style="color:#bbb;background:#fff">faint</p>
<div style="width:900px">wide</div></main></body></html>"""

RUN = """
window.addEventListener("load", function () {
  var over = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  axe.run(document, {runOnly: {type: "tag", values: TAGS}, iframes: false}).then(function (found) {
    var told = found.violations.map(function (v) {
      var places = v.nodes.slice(0, 3).map(function (n) { return n.html.slice(0, 160); });
      return v.id + " (" + v.impact + "): " + places.join(" | ");
    });
    parent.postMessage({name: NAME, over: over, passed: found.passes.length, violations: told}, "*");
  }, function (error) {
    parent.postMessage({name: NAME, over: over, passed: 0, violations: ["the checker failed: " + error]}, "*");
  });
});
"""

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def framed(text: str, name: str, scheme: str, width: int, axe: str) -> str:
    """A frame that holds a copy of a page with the checker inside."""
    text = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", text)
    dark = "(prefers-color-scheme: dark)"
    text = text.replace(dark, "all" if scheme == "dark" else "not all")
    script = RUN.replace("TAGS", json.dumps(TAGS)).replace("NAME", json.dumps(f"{name}, {scheme}, {width}"))
    both = f"<script>{axe}</script><script>{script}</script></head>".replace("\\", "\\\\")
    inside = re.sub("</head>", both, text, count=1)
    return f'<iframe title="page" width="{width}" height="900" srcdoc="{html.escape(inside, quote=True)}"></iframe>'


def checked(pages: dict[str, str], axe: str, browser: str, folder: Path) -> list[dict[str, Any]]:
    """What the browser says of each page in each frame."""
    found: list[dict[str, Any]] = []
    for name, text in pages.items():
        frames = [framed(text, name, scheme, width, axe) for scheme in SCHEMES for width in WIDTHS]
        harness = folder / "harness.html"
        harness.write_text(
            '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>check</title></head><body>'
            '<script type="application/json" id="told">[]</script><script>var told = [];'
            'window.addEventListener("message", function (e) { told.push(e.data);'
            'document.getElementById("told").textContent = JSON.stringify(told).replace(/</g, "\\\\u003c"); });'
            f"</script>{''.join(frames)}</body></html>",
            "utf-8",
        )
        done = subprocess.run(
            [
                browser, "--headless", "--disable-gpu", "--no-first-run", "--disable-extensions",
                *(["--no-sandbox"] if os.name == "posix" and os.geteuid() == 0 else []),
                f"--user-data-dir={folder / 'profile'}", "--window-size=1400,1000", "--virtual-time-budget=60000",
                "--dump-dom", harness.as_uri(),
            ],
            capture_output=True, text=True, encoding="utf-8", timeout=120, check=False,
        )  # fmt: skip
        match = re.search(r'id="told">(.*?)</script>', done.stdout, re.DOTALL)
        told = json.loads(match[1]) if match else []
        if len(told) != len(frames):
            sys.exit(f"{name}: {len(told)} of {len(frames)} frames answered\n{done.stderr[-2000:]}")
        found += told
    return found


def made(folder: Path) -> dict[str, str]:
    """The pages of the invented collection, with a damaged carrier, a sheet of labels, and pictures of disks."""
    os.environ["IMAGEKEEPER_CACHE"] = str(folder / "cache")
    from imagekeeper.jobs.pages.labelling import write_labels
    from imagekeeper.jobs.pages.reporting import write_report
    from imagekeeper.present.html.label_sheet import render_sheets
    from imagekeeper.present.html.pages import render
    from tests.present import collection

    archive = collection.build(folder)
    archive.content_path("tg85-u9", "carrier.json").write_bytes(b"{}")
    write_report(archive, str(folder / "pages"), collection.session(), render=render)
    ids = ["tg85-u4", "tg85-u5", "tg85-disk", "hostile"]
    write_labels(archive, ids, str(folder / "labels.html"), collection.session(), render=render_sheets)
    chosen = ["index.html", "machines/tg85.html", *(f"carriers/{i}.html" for i in (*ids, "tg85-u9", "tg85-u31"))]
    pages = {name: (folder / "pages" / name).read_text("utf-8") for name in chosen}
    return {**pages, "labels.html": (folder / "labels.html").read_text("utf-8"), **drawn(folder)}


def drawn(folder: Path) -> dict[str, str]:
    """The pictures of disks that are files of their own, each in a page that has nothing else."""
    from imagekeeper.cli import run
    from imagekeeper.jobs.specimen_disks import files

    for name, data in files().items():
        (folder / name).write_bytes(data)
    office, worn, listed = (str(folder / name) for name in ("office.img", "worn.img", "bad.csv"))
    told = Path(listed)
    told.write_text(told.read_text("utf-8") + "0,0,2,missing\n1,0,1,doubtful\n20,1,4,bad\n", "utf-8")
    damage, differing = str(folder / "damage.svg"), str(folder / "differing.svg")
    codes = run(["files", "map", office, "--bad-sectors", listed, "-o", damage]), run(
        ["compare", office, worn, "--picture", differing]
    )
    if codes != (0, 1):
        sys.exit(f"the pictures of disks were not drawn: {codes}")
    return {
        Path(name).name: '<!DOCTYPE html><html lang="en"><head><title>A picture of a disk</title>'
        '<meta name="viewport" content="width=device-width"><style>body { margin: 0; }</style></head><body><main>'
        f"<h1>A picture of a disk</h1>{Path(name).read_text('utf-8')}</main></body></html>"
        for name in (damage, differing)
    }

def main() -> int:
    """Check everything."""
    from tests import tools

    parser = argparse.ArgumentParser()
    parser.add_argument("--axe", required=True, type=Path)
    parser.add_argument("--browser", default=tools.find("chromium"), help="a Chromium or its like")
    options = parser.parse_args()
    if options.browser is None:
        sys.exit(f"no browser: {tools.why_not(('chromium',))}")
    axe = options.axe.read_text("utf-8")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as scratch:
        folder = Path(scratch)
        wrong = checked({"wrong": WRONG}, axe, options.browser, folder)
        names = " ".join(" ".join(one["violations"]) for one in wrong)
        if not ("image-alt" in names and "color-contrast" in names and any(one["over"] > 0 for one in wrong)):
            sys.exit(f"the check does not find what is wrong on purpose: {wrong}")
        found = checked(made(folder), axe, options.browser, folder)
    bad = 0
    for one in found:
        faults = list(one["violations"]) + ([f"{one['over']} pixels too wide"] if one["over"] > 0 else [])
        bad += len(faults)
        sys.stdout.write(f"{one['name']}: {one['passed']} rules kept\n" + "".join(f"  {fault}\n" for fault in faults))
    sys.stdout.write(f"{len(found)} views, {bad} faults\n")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
