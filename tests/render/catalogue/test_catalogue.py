"""A catalogue is made, made anew, kept and refused; nothing is drawn: the results are made up."""

import io
import json
from collections.abc import Callable, Iterable, Iterator
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from render.catalogue.catalogue import Outcome, make_catalogue
from render.catalogue.cluster import Work
from render.catalogue.designs import CatalogueSettings
from render.catalogue.tasks import SUFFIXES, Task
from render.cli import main as cli
from render.common.problems import DrawingProblem, RequestProblem
from scenes.files import samples
from scenes.problems import DesignProblem

SLIM = samples.load("half-scale").variants[0].name
"""A variant that only the first design has."""
SETTINGS = CatalogueSettings((64, 36), (64, 36), (64, 36), frames=2, detail="draft")
HOSTILE = "</title></script><script>alert(1)</script>\"'><img src=x onerror=alert(1)>$x&"


class MadeUp:
    """Workers that make up results of the right kind, and count what they are asked for."""

    count = 2

    def __init__(self, broken: Callable[[Task], bool] = lambda task: False) -> None:
        self.tasks: list[Task] = []
        self._broken = broken

    def results(self, works: Iterable[Work]) -> Iterator[tuple[int, dict[str, Any]]]:
        for work in works:
            plain = work.load()
            task = Task.from_plain(plain)
            self.tasks.append(task)
            if self._broken(task):
                yield work.number, {"results": {}, "notes": [], "problem": "worker: it broke."}
                continue
            file = io.BytesIO()
            Image.new("RGB", task.size, task.design.threads[0][3]).save(file, "WEBP")
            made = {suffix: file.getvalue() for suffix in SUFFIXES[task.kind]}
            yield work.number, {"results": made, "notes": [], "problem": ""}


def made(
    folder: Path, *files: Path, workers: MadeUp | None = None, title: str = "Rods"
) -> tuple[Outcome, MadeUp]:
    used = workers or MadeUp()
    names = [str(file) for file in files]
    outcome = make_catalogue(
        names, folder, lambda: nullcontext(used), settings=SETTINGS, title=title
    )
    return outcome, used


def contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.fixture
def designs(tmp_path: Path) -> list[Path]:
    """Two designs in files; the first has variants."""
    found = []
    for name in ("half-scale", "two-start-band"):
        path = tmp_path / f"{name}.toml"
        path.write_text(samples.text(name), encoding="utf-8")
        found.append(path)
    return found


def variants_of(name: str) -> int:
    return len(samples.load(name).variants)


def changed(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


# ---- What it makes


def test_every_design_has_a_page_and_every_page_its_files(
    designs: list[Path], tmp_path: Path
) -> None:
    site = tmp_path / "site"
    outcome, used = made(site, *designs)
    assert (outcome.designs, outcome.problems) == (2, {})
    variants = [variants_of(path.stem) for path in designs]
    assert all(variants)
    # A still and a spin page of each version, a turntable of each design.
    assert len(used.tasks) == sum(2 * (1 + count) + 1 for count in variants)
    files = contents(site)
    for name in ("half-scale", "two-start-band"):
        page = files[f"designs/{name}.html"].decode()
        shown = [part.split('"')[0].split()[0] for part in page.split("../files/")[1:]]
        assert shown
        assert all(f"files/{each}" in files for each in shown)
        assert f'href="designs/{name}.html"' in files["index.html"].decode()
    cards = json.loads(files["catalogue.json"])["designs"]
    listed = {name for card in cards for name in card["files"]}
    assert {f"files/{name}" for name in listed} == {name for name in files if "files/" in name}


def test_a_second_run_does_nothing(designs: list[Path], tmp_path: Path) -> None:
    site = tmp_path / "site"
    made(site, *designs)
    before = {path: path.stat().st_mtime_ns for path in site.rglob("*")}
    outcome, used = made(site, *designs)
    assert used.tasks == []
    assert (outcome.made, outcome.pages, outcome.removed) == (0, 0, 0)
    assert {path: path.stat().st_mtime_ns for path in site.rglob("*")} == before


def test_a_changed_design_redoes_its_own(designs: list[Path], tmp_path: Path) -> None:
    site = tmp_path / "site"
    made(site, *designs)
    before = contents(site)
    changed(designs[1], "coats = 2", "coats = 3")
    outcome, used = made(site, *designs)
    title = samples.load("two-start-band").title
    assert all(json.loads(task.design.document)["title"].startswith(title) for task in used.tasks)
    assert outcome.made == len(used.tasks) == 2 * (1 + variants_of("two-start-band")) + 1
    after = contents(site)
    assert after["designs/half-scale.html"] == before["designs/half-scale.html"]
    # What no page shows any more is gone.
    assert len(after) == len(before)


def test_the_order_of_the_files_is_that_of_the_index(designs: list[Path], tmp_path: Path) -> None:
    site = tmp_path / "site"
    made(site, *reversed(designs))
    index = (site / "index.html").read_text(encoding="utf-8")
    assert index.index("two-start-band") < index.index("half-scale")


def test_pages_of_designs_that_are_not_named_are_removed(
    designs: list[Path], tmp_path: Path
) -> None:
    site = tmp_path / "site"
    made(site, *designs)
    outcome, _ = made(site, designs[1])
    assert outcome.removed == 1
    assert list(site.glob("designs/*")) == [site / "designs" / "two-start-band.html"]
    assert "half-scale" not in (site / "index.html").read_text(encoding="utf-8")


# ---- What goes wrong


def test_a_broken_design_stops_no_other_and_keeps_its_page(
    designs: list[Path], tmp_path: Path
) -> None:
    site = tmp_path / "site"
    made(site, *designs)
    before = contents(site)
    changed(designs[0], "title", "titel")
    changed(designs[1], "coats = 2", "coats = 3")
    outcome, _ = made(site, *designs)
    assert list(outcome.problems) == [str(designs[0])]
    assert "titel" in outcome.problems[str(designs[0])]
    after = contents(site)
    assert after["designs/half-scale.html"] == before["designs/half-scale.html"]
    assert after["designs/two-start-band.html"] != before["designs/two-start-band.html"]
    assert outcome.designs == 2


def test_a_picture_that_fails_keeps_the_others_for_the_next_run(
    designs: list[Path], tmp_path: Path
) -> None:
    site = tmp_path / "site"
    outcome, first = made(site, *designs, workers=MadeUp(lambda task: task.design.variant == SLIM))
    assert outcome.problems == {str(designs[0]): "still: worker: it broke."}
    assert not (site / "designs" / "half-scale.html").exists()
    assert "half-scale" not in (site / "index.html").read_text(encoding="utf-8")
    outcome, second = made(site, *designs)
    assert outcome.problems == {}
    again = [task.key for task in first.tasks if task.design.variant == SLIM]
    assert sorted(task.key for task in second.tasks) == sorted(again)


def test_a_full_disk_is_said_and_the_site_stays(
    designs: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = tmp_path / "site"
    made(site, *designs)
    before = contents(site)
    changed(designs[1], "coats = 2", "coats = 3")

    def full(folder: object, name: str, data: bytes) -> None:
        raise DrawingProblem("output: there is no room left on the disk.")

    monkeypatch.setattr("render.catalogue.site_folder.SiteFolder.put", full)
    outcome, _ = made(site, *designs)
    assert list(outcome.problems) == [str(designs[1])]
    assert "no room left" in outcome.problems[str(designs[1])]
    assert contents(site) == before


def test_a_run_that_is_stopped_leaves_the_site_whole_and_goes_on_later(
    designs: list[Path], tmp_path: Path
) -> None:
    class Stopped(MadeUp):
        def results(self, works: Iterable[Work]) -> Iterator[tuple[int, dict[str, Any]]]:
            for place, result in enumerate(super().results(works)):
                if place == 2:
                    raise KeyboardInterrupt
                yield result

    site = tmp_path / "site"
    made(site, *designs)
    before = contents(site)
    changed(designs[1], "coats = 2", "coats = 3")
    changed(designs[0], "coats = 2", "coats = 3")
    with pytest.raises(KeyboardInterrupt):
        made(site, *designs, workers=Stopped())
    after = contents(site)
    assert {name: after[name] for name in before} == before
    assert len(after) > len(before)
    outcome, _ = made(site, *designs)
    assert outcome.present >= 2
    assert outcome.problems == {}
    assert not any(path.name.startswith(".turnlight-") for path in site.rglob("*"))


# ---- What a customer must not see


PRIVATE = """
[order]
customer = "Wren Alder"
rod = "ROD-77"
builder = "Lake Ossery Rods"
price = 480

[bench]
rate = 41.37
other_materials = 12.59
currency = "EUR"

[[agreed]]
date = "2026-11-30"
number = "7K3Q-9XMA"
customer = "Hazel Fenn"
remark = "a secret remark"
"""
SECRETS = ("Wren", "Alder", "ROD-77", "41.37", "12.59", "Hazel", "Fenn", "secret remark", "7K3Q")


def private(path: Path, title: str = "Heath") -> None:
    text = samples.text("two-start-band")
    head, _, rest = text.partition("[")
    lines = [line for line in head.splitlines() if not line.startswith("title")]
    path.write_text(
        "\n".join([*lines, f"title = {json.dumps(title)}", "["]) + rest + PRIVATE, encoding="utf-8"
    )


def test_nothing_private_reaches_a_worker_or_a_page(tmp_path: Path) -> None:
    private(tmp_path / "a.toml")
    outcome, used = made(tmp_path / "site", tmp_path / "a.toml")
    assert outcome.problems == {}
    public = repr([task.plain() for task in used.tasks])
    public += repr(contents(tmp_path / "site"))
    assert [secret for secret in SECRETS if secret.casefold() in public.casefold()] == []
    page = (tmp_path / "site" / "designs" / "a.html").read_text(encoding="utf-8")
    assert "480 EUR" in page
    assert "Lake Ossery Rods" in page


def test_a_design_that_names_its_customer_is_not_shown(tmp_path: Path) -> None:
    private(tmp_path / "a.toml", "For wren  alder")
    private(tmp_path / "b.toml", "The rod of Wren")
    outcome, _ = made(tmp_path / "site", tmp_path / "a.toml", tmp_path / "b.toml")
    assert "title" in outcome.problems[str(tmp_path / "a.toml")]
    assert "names the customer" in outcome.problems[str(tmp_path / "a.toml")]
    assert any("title has a word of the customer's name" in note for note in outcome.notes)


def test_hostile_titles_are_text(tmp_path: Path) -> None:
    private(tmp_path / "a.toml", HOSTILE)
    made(tmp_path / "site", tmp_path / "a.toml", title=HOSTILE)
    for name in ("index.html", "designs/a.html"):
        page = (tmp_path / "site" / name).read_text(encoding="utf-8")
        assert "<script" not in page
        assert "<img src=x" not in page
        assert "&lt;img src=x onerror=alert(1)&gt;$x&amp;" in page


# ---- What is refused


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert cli.main(["catalogue", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    return err


def test_refusals(
    designs: list[Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    first, site = str(designs[0]), str(tmp_path / "site")
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "mine.txt").write_text("mine")
    (tmp_path / "twin").mkdir()
    (tmp_path / "twin" / "Half scale.toml").write_text(samples.text("half-scale"))
    cases = {
        "none is given": ["-o", site],
        "would have one page": [first, str(tmp_path / "twin" / "Half scale.toml"), "-o", site],
        "missing.toml": [str(tmp_path / "missing.toml"), "-o", site],
        "is no catalogue": [first, "-o", str(tmp_path / "other")],
        "is a file": [first, "-o", first],
        "its folder is not there": [first, "-o", str(tmp_path / "no" / "site")],
        "workers of its own": [first, "-o", site, "--scheduler", "tcp://h:1", "--workers", "2"],
        "is not between 1 and": [first, "-o", site, "--workers", "0"],
        "begins with tls": [first, "-o", site, "--tls-ca", first],
        "--tls-cert is missing": [
            *(first, "-o", site, "--scheduler", "tls://127.0.0.1:1", "--tls-ca", first),
        ],
        "frames": [first, "-o", site, "--frames", "1"],
    }
    before = contents(tmp_path)
    for words, arguments in cases.items():
        assert words in refused(capsys, *arguments)
    assert "--tls-ca" in refused(capsys, first, "-o", site, "--scheduler", "tls://127.0.0.1:9")
    for address in ("http://h:1", "h:8786", "tcp://h", "tcp://h:port", "tcp://:1", ""):
        told = refused(capsys, first, "-o", site, "--scheduler", address)
        assert "is not the address of a Dask scheduler; give the one that dask" in told
    monkeypatch.setattr("render.catalogue.cluster._CONNECTING", 0.5)
    assert "cannot be reached" in refused(
        capsys, first, "-o", site, "--scheduler", "tcp://127.0.0.1:9"
    )
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    assert 'pip install "turnlight[cluster]"' in refused(capsys, first, "-o", site)
    assert contents(tmp_path) == before
    assert not (tmp_path / "site").exists()


def test_a_list_that_leads_elsewhere_is_no_catalogue(designs: list[Path], tmp_path: Path) -> None:
    site = tmp_path / "site"
    made(site, *designs)
    listing = site / "catalogue.json"
    found = json.loads(listing.read_text(encoding="utf-8"))
    found["designs"][0]["files"] = ["../../half-scale.toml"]
    listing.write_text(json.dumps(found), encoding="utf-8")
    with pytest.raises(RequestProblem, match="no catalogue"):
        made(site, *designs)


def test_a_sample_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DesignProblem):
        made(tmp_path / "site", Path("sample:no-such"))
    assert not (tmp_path / "site").exists()
