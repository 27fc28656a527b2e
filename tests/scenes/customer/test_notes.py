"""What a customer reads: never a sample's notes, and no figure that is no longer true."""

import re
import tomllib

import pytest

from scenes.customer.notes import customer_notes
from scenes.design.document import with_changes
from scenes.files import samples


@pytest.mark.parametrize("name", samples.names())
def test_a_samples_notes_are_never_shown(name: str) -> None:
    design = samples.load(name)
    shown = customer_notes(design)
    assert design.notes.strip() not in shown
    assert design.title not in shown
    for layer in tomllib.loads(samples.text(name))["layers"]:
        if "thread" in layer:
            assert layer["thread"] in shown
    # Nor if a builder's editor has laid the same words out differently.
    spread = with_changes(design, {"notes": "\n\n" + design.notes.replace(" ", "  ") + " "})
    assert customer_notes(spread) == shown


def test_the_builders_own_notes_are_shown_as_they_are() -> None:
    design = with_changes(samples.load("half-scale"), {"notes": " For the lake.\n\nTwo coats. "})
    assert customer_notes(design) == "For the lake.\n\nTwo coats."


def test_generated_notes_follow_the_design() -> None:
    design = with_changes(
        samples.load("half-scale"),
        {
            "notes": "",
            "cover.thread": "Kingfisher Blue A",
            "relief.gap": 20.5,
            "finish.coats": 1,
            "trim.threads": [{"thread": "Rowan Red A", "count": 3}],
        },
    )
    words = customer_notes(design)
    for said in ("Kingfisher Blue A", "20.5 mm", "One coat", "3 Rowan Red A"):
        assert said in words
    for other in ("Heron Silver", "Sloe Black", "Tarn Teal"):
        assert other not in words
    assert "No finish yet" in customer_notes(with_changes(design, {"finish.coats": 0}))
    assert "inch" not in words


NUMBERS = r"\d|\b(two|three|four|five|six|seven|eight|nine|ten|twelve|half an|one inch)\b"


@pytest.mark.parametrize("name", samples.names())
def test_a_samples_notes_name_no_figure_that_an_edit_makes_false(name: str) -> None:
    notes = samples.load(name).notes.lower()
    known = ("where two cross", "two-start", "two narrow strips", "first two", "two stripes")
    shape = ("under two layers", "between two turns", "the two meet")
    for phrase in (*known, *shape):  # what makes the kind what it is
        notes = notes.replace(phrase, "")
    assert re.findall(NUMBERS, notes) == []
