"""The bench's figures on the page: in a process of its own, in words, for the newest design."""

import multiprocessing

from materials.shelf import Shelf
from render.page.workers.bench_worker import BenchRequest, bench_figures, run_bench_worker
from render.request.subject import Subject
from scenes.design.document import with_changes
from scenes.files import samples
from scenes.quantities import Units
from tests.waiting import WITHIN


def request(revision: int = 1, units: tuple[Units, ...] = (Units.MM,)) -> BenchRequest:
    design = samples.load("half-scale").without_variants()
    return BenchRequest(revision, Subject(design, Shelf.shipped()), units)


def test_figures_are_told_in_words_and_in_each_unit():
    found = bench_figures(request(7, tuple(Units)))
    assert found.revision == 7
    assert set(found.texts) == set(Units)
    for units, other in ((Units.MM, " in"), (Units.IN, " mm")):
        sections = found.texts[units].sections
        texts = {one["name"]: one["text"] for part in sections for one in part["figures"]}
        assert texts["coats"] == "2"
        assert all(one["how"] for part in sections for one in part["figures"])
        assert [text for text in texts.values() if text.endswith(f" {units}")]
        assert not [text for text in texts.values() if text.endswith(other)]


def test_each_thread_is_told_for_its_layer():
    found = dict(bench_figures(request()).texts[Units.MM].threads)
    # 120 mm of relief and twice 8 mm of margin, wound at 0.17 mm round some 17 mm of blank:
    # 800 turns of 54 mm are 43 m, and a spool holds 90.
    length = float(found["cover"].split(": ")[1].split(" m")[0])
    assert 43 <= length <= 52
    assert found["cover"].startswith("Bracken Bronze A")
    assert "trim" in found


def test_the_process_answers_a_refusal_too_and_ends_with_its_pipe():
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(target=run_bench_worker, args=(theirs,))
    process.start()
    theirs.close()
    plate = samples.load("heron-plate").without_variants()
    path = next(plate.path_of(one) for one in plate.layers if getattr(one, "picture", None))
    gone = with_changes(plate, {f"{path}.picture": "gone.png"})
    ours.send(BenchRequest(2, Subject(gone, Shelf.shipped()), (Units.MM,)))
    ours.send(request(3))
    assert ours.poll(WITHIN)
    refused = ours.recv()
    assert refused.revision == 2
    assert '"gone.png" is not there' in refused.texts[Units.MM].warnings[0]
    assert ours.poll(WITHIN)
    assert ours.recv().revision == 3
    ours.close()
    process.join(WITHIN)
    assert process.exitcode == 0
    process.close()
