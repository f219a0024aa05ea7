"""page.html in a real browser: its poses against the mechanism's, no errors, nothing from outside.

The browser is the system's headless Chromium, the accessibility rules are axe-core's (from the
registry). The reports are gathered by scripts that the tests add to a copy of the page.
"""

import json
import re
import shutil
import subprocess
from collections.abc import Callable
from html import unescape
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests import examples
from trace2pop.formats.page import page_html
from trace2pop.formats.scene import panels
from trace2pop.mechanism.linkage import pose
from trace2pop.model.guide import Guide
from trace2pop.model.settings import CutterSettings, GuideSettings
from trace2pop.stages.guide import guide
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import sheets

CHROMIUM = next(
    (
        found
        for name in ("chromium", "chromium-browser", "google-chrome")
        if (found := shutil.which(name))
    ),
    None,
)
needs_browser = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium is installed here")
FLAGS = [
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"),
    *("--no-first-run", "--disable-component-update", "--disable-sync", "--disable-extensions"),
    "--hide-scrollbars",
]
ANGLES = (0, 12, 31, 57, 78, 90, 109, 133, 160, 180)

Report = Callable[..., Any]


@pytest.fixture(scope="module")
def book() -> Guide:
    made = parts(examples.plan(), examples.STOCKS, examples.CUTTER)
    return guide(sheets(made, examples.CUTTER, CutterSettings()), GuideSettings(), 0.1)


@pytest.fixture(scope="module")
def page(book: Guide) -> str:
    return page_html(book).decode()


@pytest.fixture(scope="module")
def report(page: str, tmp_path_factory: pytest.TempPathFactory) -> Report:
    """Run a script in a copy of the page; it returns what the script puts into ``report``."""
    folder = tmp_path_factory.mktemp("browser")

    def run(script: str, size: str = "1280,900") -> Any:
        watch = (
            "<script>const heard=[];addEventListener('error',e=>heard.push(e.message));"
            "addEventListener('securitypolicyviolation',e=>heard.push(e.blockedURI));</script>"
        )
        tell = (
            "<pre id='report'></pre><script>(async()=>{const report={};"
            + script
            + ";report.heard=heard;document.getElementById('report').textContent="
            "JSON.stringify(report)})()</script>"
        )
        copy = page.replace("<style>", watch + "<style>", 1).replace("</body>", tell + "</body>")
        file = folder / "page.html"
        file.write_text(copy, "utf-8")
        command = [
            str(CHROMIUM),
            *FLAGS,
            f"--user-data-dir={folder / 'profile'}",
            f"--window-size={size}",
            "--virtual-time-budget=8000",
            "--dump-dom",
            file.as_uri(),
        ]
        done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
        found = re.search(r'<pre id="report">(.*?)</pre>', done.stdout, re.DOTALL)
        assert found and found[1], done.stderr[-2000:]
        result = json.loads(unescape(found[1]))
        assert result["heard"] == []
        return result

    return run


CORNERS = """
const slider = document.getElementById('opening'), seen = {};
for (const angle of %s) {
  slider.value = angle; slider.dispatchEvent(new Event('input')); draw();
  for (const node of document.querySelectorAll('.panel')) {
    if (node.id.endsWith('-back')) continue;
    const [, , wide, high] = node.getAttribute('viewBox').split(' ').map(Number);
    const k = Number(node.getAttribute('width')) / wide;
    const m = new DOMMatrix(getComputedStyle(node).transform);
    (seen[node.id] ??= {})[angle] = [[0, 0], [wide, 0], [wide, high], [0, high]].map(([x, y]) => {
      const p = m.transformPoint(new DOMPoint(x * k, y * k, 0));
      return [p.x / k, p.y / k, p.z / k];
    });
  }
}
report.seen = seen;
"""


@needs_browser
def test_corners_are_the_mechanisms_at_ten_angles(book: Guide, report: Report) -> None:
    for layer in ("sag", "window"):
        assert f'data-layer="{layer}"' in page_html(book).decode()
    show_all = (
        "for (const b of document.querySelectorAll('[data-layer]')) { b.checked = true; } layers();"
    )
    seen = report(show_all + CORNERS % list(ANGLES))["seen"]
    plan = book.sheets.parts.plan
    web = plan.cut.placed.card.web
    drawn = panels(book.sheets)
    assert {panel.name for panel in drawn} <= set(seen)
    worst = 0.0
    for angle in ANGLES:
        placed = pose(web, plan.beams, angle, spine=plan.closed.spine)
        for panel in drawn:
            x0, y0, x1, y1 = panel.shape.bounds
            flat = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
            expected = panel.frame(placed).at(flat, panel.lift)
            off = np.abs(np.array(seen[panel.name][str(angle)]) - expected).max()
            worst = max(worst, float(off))
    assert worst < 0.1


@needs_browser
def test_spine_moves_the_outer_card_as_the_mechanism_has_it(report: Report, book: Guide) -> None:
    """The law of the outer card with a spine, put into the page's own data."""
    script = "plan.spine = 6;" + CORNERS % [70]
    seen = report(script)["seen"]["outer-left"]["70"]
    card = book.sheets.parts.plan.cut.placed.card
    placed = pose(card.web, (), 70, spine=6.0)
    panel = next(p for p in panels(book.sheets) if p.name == "outer-left")
    near = placed.outer[0].at(
        np.array([[panel.shape.bounds[2], panel.shape.bounds[1]]]), panel.lift
    )
    assert np.allclose(seen[1], near[0], atol=0.1)


@needs_browser
def test_nothing_comes_from_outside(page: str, report: Report) -> None:
    assert not re.search(
        r'(?:src|href|url)\s*[=(]\s*["\']?(?!#|data:)[\w/.]+', page.split("<script")[0]
    )
    assert "https://" not in page and "http://" not in page.replace("http://www.w3.org", "")
    names = report("report.names = performance.getEntriesByType('resource').map(e => e.name)")
    assert [name for name in names["names"] if not name.startswith("data:")] == []


@needs_browser
@pytest.mark.parametrize(("size", "dark"), [("1280,900", "false"), ("390,844", "true")])
def test_axe_finds_nothing(report: Report, size: str, dark: str) -> None:
    """Rules: axe-core, all of them but "region" for the tests' own report."""
    rules = files("axe_core_python").joinpath("axe.min.js").read_text("utf-8")
    script = (
        f"theme({dark});" + rules + ";const found=await axe.run(document,{exclude:['#report']})"
        ".catch(e=>({violations:[{id:String(e)}]}));"
        "report.found=found.violations.map(v=>[v.id,v.impact,v.nodes?.map(n=>n.html.slice(0,120))])"
    )
    assert report(script, size)["found"] == []


@needs_browser
def test_keys_and_slider_move_the_card(report: Report) -> None:
    script = """
    const stage = document.getElementById('stage'), slider = document.getElementById('opening');
    const press = key => stage.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
    press('Home'); report.home = [slider.value, document.getElementById('reach').textContent];
    press('End'); report.end = [slider.value, document.getElementById('height').textContent];
    press('ArrowLeft'); report.left = slider.value;
    report.text = slider.getAttribute('aria-valuetext');
    const box = document.querySelector('[data-layer=motif]'); box.click();
    report.off = getComputedStyle(document.getElementById('motif-left')).display;
    report.wide = document.documentElement.scrollWidth <= innerWidth;
    """
    seen = report(script, "390,844")
    assert seen["home"] == ["0", "110.3\u00a0mm of 121.0\u00a0mm"]
    assert seen["end"] == ["180", "20.0\u00a0mm"]
    assert seen["left"] == "175" and "175" in seen["text"]
    assert seen["off"] == "none" and seen["wide"]


def test_page_is_small_and_the_same_each_time(book: Guide, page: str) -> None:
    without_art = re.sub(r"data:image/jpeg;base64,[^\"]+", "", page)
    assert len(without_art.encode()) < 1.5e6
    assert page_html(book).decode() == page


def test_page_holds_no_path_of_this_machine(page: str) -> None:
    assert str(Path.cwd()) not in page
