"""The bench of the drawing: its figures against numpy, in a real browser; and what is written."""

import json
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import psutil
import pytest
from playwright.sync_api import Browser

from geometry.grid import Detail
from materials.shelf import Shelf
from render.browser.model import model_of
from render.browser.stage_json import Json
from render.common.problems import RequestProblem
from render.common.sealed_html import json_text
from render.measure.browser_page import main
from render.measure.frame_bench import BenchSettings, bench_html, frame_times, model_in
from render.measure.page_work import processor_time
from render.measure.timings import Timing, timing_table
from render.output.compare import shared_camera
from render.request.subject import Subject
from scenes.files import samples
from scenes.light.lights import LightKind
from tests.render.conftest import coarsely_meshed

SIZE = (48, 27)
FRAMES = 2
SETTINGS = BenchSettings(sizes=(SIZE,), frames=FRAMES, warm_up=1, seconds=60.0)


def measured_page(**changes: object) -> str:
    row = {"model": "a", "what": "moving", "size": [1920, 1080], "times": [1], "graphics": []}
    held = {"model": "a", "size": [1920, 1080], "held": 2, "most": 3}
    told = {"renderer": "R", "timer": False, "rows": [row], "memory": [held], "failure": ""}
    return f'<script type="application/json" id="measured">{json_text(told | changes)}</script>'


# ---- Figures


def test_percentiles_are_those_of_numpy(rng: np.random.Generator) -> None:
    times = rng.gamma(2.0, 5.0, 101).tolist()
    timing = Timing("frame", times, times[:3], wanted=float(np.percentile(times, 95)) + 0.01)
    for percent in (0, 50, 95, 100):
        assert timing.percentile(percent) == np.percentile(times, percent)
    assert timing.holds
    assert Timing("frame", times, [], wanted=float(np.percentile(times, 95)) - 0.01).holds is False
    assert Timing("frame", times, []).holds is None
    # Nothing measured meets no target.
    assert Timing("frame", [], [], wanted=16.0).holds is False


def test_the_table_has_every_time() -> None:
    timings = [Timing("one", [1.0, 2.0, 4.0], [0.5], 3.0), Timing("two", [], [])]
    table = timing_table("Times", timings)
    rows = list(zip(*(list(column.cells) for column in table.columns), strict=True))
    # The median of 1, 2, 4; and 0.9 of the way from 2 to 4.
    assert rows[0] == ("one", "3", "2.0", "3.8", "0.5", "0.5", "3", "NO")
    assert rows[1] == ("two", "0", "", "", "", "", "", "")


def test_what_the_page_measured_is_read() -> None:
    found = frame_times(measured_page())
    assert found.renderer == "R"
    assert found.rows == [Timing("a: moving, 1920 x 1080", [1], [], 16.0)]
    assert (found.memory[0].held, found.memory[0].most) == (2, 3)
    with pytest.raises(RuntimeError, match="no WebGL2"):
        frame_times(measured_page(failure="Error: no WebGL2 </script>"))
    with pytest.raises(RuntimeError, match="not measured"):
        frame_times(bench_html({}))


def test_processor_time_counts_what_ended() -> None:
    burning = "import time\nwhile time.process_time() < 0.4: pass"
    before = processor_time(psutil.Process())
    subprocess.run([sys.executable, "-c", burning], check=True)
    # Four clocks of 0.01 s each (POSIX, sysconf(_SC_CLK_TCK) of Linux).
    assert processor_time(psutil.Process()) - before >= 0.36


# ---- What is written


class Parts(HTMLParser):
    """Takes a page apart: its script and style elements, and what it asks for."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.inside = ""
        self.held: dict[str, str] = {}
        self.addresses: list[str] = []
        self.policy = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.inside = given.get("id") or tag
        self.addresses += [given[name] or "" for name in ("src", "href") if name in given]
        if given.get("http-equiv") == "Content-Security-Policy":
            self.policy = given["content"] or ""

    def handle_endtag(self, tag: str) -> None:
        self.inside = ""

    def handle_data(self, data: str) -> None:
        self.held[self.inside] = self.held.get(self.inside, "") + data


def test_the_page_is_whole() -> None:
    hostile = "</script><script>alert(1)</script>"
    text = bench_html({hostile: {"blobs": {}}}, SETTINGS)
    parts = Parts(text)
    assert json.loads(parts.held["models"]) == [{"name": hostile, "model": {"blobs": {}}}]
    assert json.loads(parts.held["settings"])["sizes"] == [list(SIZE)]
    # Every function that the bench calls is in it, and nothing of it comes from elsewhere.
    for name in ("drawingOf", "openContext", "benchModel"):
        assert f"function {name}(" in parts.held["bench"]
    assert all(address.startswith("data:") for address in parts.addresses)
    whole = parts.held["bench"] + parts.held["style"]
    assert not re.search(r"https?:|url\(|@import|fetch\(|XMLHttp|eval\(|innerHTML", whole)
    assert parts.policy.startswith("default-src 'none'")
    assert "unsafe" not in parts.policy
    assert "$" not in re.sub(r"<script.*?</script>", "", text, flags=re.DOTALL)


def test_a_customers_page_gives_its_model(tmp_path: Path) -> None:
    page = tmp_path / "spin.html"
    model = {"note": "<b>", "blobs": {"a": "AA=="}}
    page.write_text(f'<script type="application/json" id="model">{json_text(model)}</script>')
    assert model_in(page) == model
    page.write_text("<p>Nothing.</p>")
    with pytest.raises(RequestProblem, match="no rod that a browser can draw"):
        model_in(page)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--size", "big"], '"big" is not a size'),
        (["--seconds", "nan"], "seconds: nan"),
        (["--turned", "-1"], "turned: -1"),
        (["-o", "bench.txt"], "give .html"),
        (["--what"], "--what"),
        (["sample:none-such"], "none-such"),
    ],
)
def test_what_is_wrong_is_told(
    capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    assert main(arguments) == 2
    assert words in capsys.readouterr().err


# ---- In a browser


@pytest.fixture(scope="module")
def model() -> Json:
    subject = Subject(samples.load("half-scale").without_variants(), Shelf.shipped())
    camera = shared_camera([subject.plan()], 16 / 9)
    with coarsely_meshed():
        return model_of([subject], camera, SIZE, Detail.DRAFT, lights=(LightKind.LOW_SUN,)).data


@pytest.mark.browser
def test_the_page_measures_and_shows_a_table(browser: Browser, tmp_path: Path, model: Json) -> None:
    path = tmp_path / "bench.html"
    path.write_text(bench_html({"rod": model}, SETTINGS), encoding="utf-8", newline="\n")
    page = browser.new_page()
    page.goto(path.as_uri(), wait_until="commit")
    page.locator("html[data-state]").wait_for(state="attached")
    found = frame_times(page.content())
    assert found.renderer
    kinds = [timing.what.removeprefix("rod: ").removesuffix(", 48 x 27") for timing in found.rows]
    assert kinds == [
        "first picture",
        "moving",
        "moving, 5 x",
        "light moved",
        "other light",
        "colours swapped",
        "still",
        "still, 5 x",
    ]
    assert [len(timing.times) for timing in found.rows] == [1] + 7 * [FRAMES]
    # What the page shows is what numpy makes of its times.
    lines = page.locator("#table").inner_text().splitlines()
    shown = [line for line in lines if line.startswith("rod ")]
    for line, timing in zip(shown, found.rows, strict=True):
        figures = line.split("48 x 27")[1].split()
        assert int(figures[0]) == len(timing.times)
        assert float(figures[1]) == pytest.approx(timing.percentile(50), abs=0.006)
        assert float(figures[2]) == pytest.approx(timing.percentile(95), abs=0.006)
    # At least the maps that a wrap is drawn with: colours, slopes and rows of each texel.
    texels = np.prod(model["maps"][0]["textures"])
    assert 28 * texels < found.memory[0].held <= found.memory[0].most < 500e6
    # A picture proves that something was drawn, and what is large is gone.
    assert page.locator("#pictures img").count() == 1
    assert len(page.content()) < 100_000
    page.close()
