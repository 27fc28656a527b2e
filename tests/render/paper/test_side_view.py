"""The side view of a wrap on paper, read back from the PDF."""

from io import BytesIO

import pdfplumber
import pytest
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from materials.shelf import Shelf
from render.paper.drawings import SideView
from render.request.subject import Subject
from scenes.bench.pattern import pattern_of
from scenes.files.storage import parse
from scenes.kinds.builder import as_cut
from tests.scenes.design.test_rod import BASE, FURTHER

WIDTH = 188.0
"""Of the drawing, mm."""


def test_another_wrap_is_drawn_where_it_is_and_named() -> None:
    text = FURTHER.replace("from = 420", "from = 386")
    plan = as_cut(Subject(parse(BASE + text), Shelf.shipped()).plan())
    view = SideView(plan, pattern_of(plan))
    file = BytesIO()
    _, high = view.wrap(WIDTH * mm, 500)
    canvas = Canvas(file, pagesize=(WIDTH * mm, high))
    view.drawOn(canvas, 0, 0)
    canvas.save()
    with pdfplumber.open(file) as pdf:
        (page,) = pdf.pages
        (name,) = page.search("fore wrap")
        grey = [
            one
            for one in (*page.curves, *page.rects)
            if one["fill"] and one["non_stroking_color"] in (0.8, (0.8,))
        ]
    (body,) = grey
    # At 2 : 1, with the rod's own wrap from 326 to 378 mm in the middle of the drawing.
    assert body["x0"] / mm == pytest.approx(WIDTH / 2 + 2 * (386 - (326 + 378) / 2), abs=0.2)
    assert body["x1"] / mm == pytest.approx(WIDTH, abs=0.2)
    assert body["x0"] < name["x0"] < name["x1"] < body["x1"]
