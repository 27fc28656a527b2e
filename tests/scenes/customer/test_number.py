"""The design number: the same for what looks the same, another for what looks otherwise."""

import itertools
from pathlib import Path

import pytest

from materials.shelf import Shelf
from scenes.customer.number import checked_number, design_number, dry
from scenes.design.document import Design, document_of, with_changes
from scenes.design.variants import variants
from scenes.files import samples
from scenes.files.companion_files import SHIPPED, CompanionFiles

SHELF = Shelf.shipped()
DESIGN = samples.load("half-scale")


def number(design: Design) -> str:
    return design_number(design, SHELF, SHIPPED)


@pytest.mark.parametrize(
    "changes",
    [
        {"title": "Another"},
        {"notes": "Other words."},
        {"order.customer": "Wren Alder"},
        {"light.kind": "low sun"},
        {"camera.turn": 40},
        {"bench.rate": 30},
        {"finish.cure_time": 72},
        {"cover.name": "silver"},
    ],
    ids=str,
)
def test_what_is_not_seen_of_the_wrap_changes_nothing(changes: dict[str, object]) -> None:
    assert number(with_changes(DESIGN, changes)) == number(DESIGN)
    assert number(DESIGN.without_variants()) == number(DESIGN)


@pytest.mark.parametrize(
    "changes",
    [
        {"relief.gap": 20.01},
        {"relief.hand": "left"},
        {"cover.thread": "Gorse Gold A"},
        {"trim.threads.0.count": 3},
        {"trim.offset": 0.1},
        {"finish.coats": 1},
        {"blank.colour": "#202020"},
        {"blank.stations.1.diameter": 17.61},
        {"placement.guide_line": 10},
        {"blank.fitted.0.material": "foam"},
    ],
    ids=str,
)
def test_what_is_seen_changes_it(changes: dict[str, object]) -> None:
    assert number(with_changes(DESIGN, changes)) != number(DESIGN)


def test_units_and_defaults_that_are_written_out_do_not_change_it() -> None:
    inches = samples.load("two-start-band")
    full = Design.model_validate(
        document_of(inches, defaults=True), context={"units": inches.units}
    )
    assert number(full) == number(inches)


def test_a_threads_looks_count_and_its_price_does_not() -> None:
    def shelf(**changed: object) -> Shelf:
        threads = [
            thread
            if thread.name != DESIGN.layers[1].thread
            else thread.__replace__(**changed)  # type: ignore[attr-defined]
            if hasattr(thread, "__replace__")
            else type(thread)(**{**_fields(thread), **changed})
            for thread in SHELF.threads
        ]
        return Shelf(tuple(threads))

    assert design_number(DESIGN, shelf(price=99.0), SHIPPED) == number(DESIGN)
    assert design_number(DESIGN, shelf(colour="#123456"), SHIPPED) != number(DESIGN)


def _fields(thread: object) -> dict[str, object]:
    return {name: getattr(thread, name) for name in type(thread).__slots__}  # type: ignore[attr-defined]


def test_the_content_of_a_picture_counts(tmp_path: Path) -> None:
    design = samples.load("heron-plate")
    name = next(layer.picture for layer in design.layers if getattr(layer, "picture", None))
    data = SHIPPED.read(name, "")
    beside = CompanionFiles(tmp_path)
    assert design_number(design, SHELF, beside) == number(design)
    (tmp_path / name).write_bytes(data)
    assert design_number(design, SHELF, beside) == number(design)
    (tmp_path / name).write_bytes(data + b"x")
    assert design_number(design, SHELF, beside) != number(design)


def test_all_samples_and_variants_differ() -> None:
    made = [one for name in samples.names() for _, one in variants(samples.load(name))]
    assert len({number(one) for one in made}) == len(made)
    assert number(dry(DESIGN)) != number(DESIGN)


def test_a_wrong_or_swapped_letter_is_noticed() -> None:
    """Luhn's check modulo n finds every wrong letter, and every swap but that of 0 and Z."""
    right = number(DESIGN)
    letters = right.replace("-", "")
    assert checked_number(right) == right
    assert checked_number(letters.lower()) == right
    for place, other in itertools.product(range(8), "0123456789ABCDEFGHJKMNPQRSTVWXYZ"):
        if other != letters[place]:
            assert checked_number(letters[:place] + other + letters[place + 1 :]) is None
    for place in range(7):
        first, second = letters[place : place + 2]
        if first != second and {first, second} != {"0", "Z"}:
            swapped = letters[:place] + second + first + letters[place + 2 :]
            assert checked_number(swapped) is None
    for wrong in ("", "ABC", right + "0", "7K3Q-9XM!", "\u0663" * 8):
        assert checked_number(wrong) is None


def test_letters_that_look_alike_are_read_alike() -> None:
    made = (number(with_changes(DESIGN, {"relief.gap": 20 + k / 100})) for k in range(40))
    with_both = next(one for one in made if "0" in one and "1" in one)
    for zero, one in (("O", "I"), ("o", "l"), ("0", "L")):
        assert checked_number(with_both.replace("0", zero).replace("1", one)) == with_both
