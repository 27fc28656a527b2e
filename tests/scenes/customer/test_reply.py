"""The customer's answer, as it leaves the page and as it comes back."""

from dataclasses import replace
from datetime import date

import pytest

from materials.shelf import Shelf
from scenes.customer.number import design_number, dry, seen_parts
from scenes.customer.reply import Scheme, agreement_words, reply_text, with_agreement
from scenes.design.document import Design, design_from, document_of, with_changes
from scenes.design.rod import at_wrap
from scenes.design.variants import variant, variants
from scenes.editing import wrap_edits
from scenes.files import samples, storage
from scenes.files.companion_files import SHIPPED
from scenes.files.storage import parse
from scenes.problems import DesignProblem
from tests.scenes.design.test_rod import BASE, FURTHER

SHELF = Shelf.shipped()
DAY = date(2026, 11, 30)
DESIGN = with_changes(
    samples.load("half-scale"), {"order.customer": "Wren Alder", "order.rod": "2026-14"}
)


def number(design: Design) -> str:
    return design_number(design, SHELF, SHIPPED)


def answer_for(design: Design, letter: str = "B", label: str = "the plain one") -> str:
    return reply_text(Scheme(label, number(design), letter), DESIGN)


def agreed(design: Design, text: str) -> Design:
    return with_agreement(design, text, SHELF, SHIPPED, DAY)


def words(design: Design) -> tuple[str, str]:
    return agreement_words(design, SHELF, SHIPPED)


def test_an_answer_is_short_and_names_what_it_is_about() -> None:
    text = answer_for(DESIGN)
    assert text.splitlines() == [
        "I choose B: the plain one.",
        "Design: Ossery half-scale",
        "Rod: 2026-14",
        f"Design number: {number(DESIGN)}",
        "Wren Alder",
    ]
    alone = reply_text(replace(Scheme("", number(DESIGN))), samples.load("half-scale"))
    assert alone.splitlines()[0] == "I choose as shown."
    assert len(alone.splitlines()) == 3


@pytest.mark.parametrize(
    "way",
    [
        lambda text: text,
        lambda text: "Hi!\r\n" + text.replace("\n", "\r\n") + "\r\nbest, W.",
        lambda text: "\n".join(f"> {line}" for line in text.splitlines()),
        lambda text: text.replace("-", "\u2013").replace(": ", ":\u00a0"),
        lambda text: text.lower(),
        lambda text: " ".join(text.split()),
        lambda text: text + "\n\n> " + text.replace("\n", "\n> "),
        lambda text: text.split("number: ")[1][:9],
        lambda text: text.replace("Design number: ", "*Design number:* "),
    ],
    ids=[
        "as sent",
        "mail",
        "quoted",
        "typographic",
        "lower case",
        "one line",
        "twice",
        "bare",
        "bold",
    ],
)
def test_an_answer_survives_its_way(way) -> None:  # type: ignore[no-untyped-def]
    text = way(answer_for(variant(DESIGN, "wide gap")))
    made = agreed(DESIGN, text)
    (entry,) = made.agreed
    assert (entry.date, entry.scheme) == ("2026-11-30", "wide gap")
    assert (entry.customer, entry.remark) == (
        "Wren Alder",
        "best, W." if text.endswith("W.") else "",
    )
    assert entry.number == number(variant(DESIGN, "wide gap"))


def test_a_remark_is_entered_with_it() -> None:
    text = answer_for(DESIGN) + "\n> Remark: a little\n> more teal?\x07\n"
    assert agreed(DESIGN, text).agreed[0].remark == "a little more teal?"
    long = answer_for(DESIGN) + "\nRemark: " + "x" * 5000
    assert len(agreed(DESIGN, long).agreed[0].remark) == 1000


def test_what_stands_behind_an_answer_is_kept_as_the_remark() -> None:
    answer = answer_for(DESIGN)
    made = agreed(DESIGN, f"{answer}\n\nCould the band be\nwider?\n")
    assert made.agreed[0].remark == "Could the band be wider?"
    inline = answer.partition("\nWren")[0]
    assert agreed(DESIGN, f"{inline}. Darker, please").agreed[0].remark == "Darker, please"
    quoted = "".join(f"> {line}\n" for line in answer.splitlines())
    assert agreed(DESIGN, f"{quoted}\nThanks!").agreed[0].remark == "Thanks!"


def test_an_entry_is_kept_in_the_file_and_does_not_change_the_number() -> None:
    made = agreed(DESIGN, answer_for(DESIGN))
    text = storage.text_of(made, samples.text("half-scale"))
    again = storage.parse(text)
    assert again.agreed == made.agreed
    assert "[[agreed]]" in text
    assert number(again) == number(DESIGN)
    assert words(again)[1] == ""


def test_a_design_that_was_shown_dry_is_found_too() -> None:
    made = agreed(DESIGN, answer_for(dry(variant(DESIGN, "warm trim"))))
    assert made.agreed[0].scheme == "warm trim"
    shown_dry = agreed(DESIGN, answer_for(dry(DESIGN)))
    assert words(shown_dry)[1] == ""


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "holds no design number"),
        ("yes please, the second one!", "holds no design number"),
        ("Design number: none", "holds no design number"),
        ("Design number: 7K3Q-9XM", "holds no design number"),
        ("Design number: ZZZZ-ZZZ0", "no design number: a letter of it has changed on its way"),
        (answer_for(with_changes(DESIGN, {"relief.gap": 19})), "is the number of another design"),
        (answer_for(samples.load("cord-lattice")), "is the number of another design"),
        (answer_for(DESIGN) + "\n" + answer_for(dry(DESIGN)), "paste one answer alone"),
        ("x" * 30_000, "more than an answer has"),
    ],
)
def test_another_text_gets_one_sentence_and_changes_nothing(text: str, said: str) -> None:
    with pytest.raises(DesignProblem, match=said) as caught:
        agreed(DESIGN, text)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 500


def test_an_answer_to_another_design_is_refused_with_its_title() -> None:
    other = samples.load("cord-lattice")
    text = reply_text(Scheme("", number(other)), other)
    for sent in (text, text.replace("\n", "\r\n"), "".join(f"> {s}\n" for s in text.split("\n"))):
        with pytest.raises(DesignProblem, match="is the number of another design") as caught:
            agreed(DESIGN, sent)
        assert f'another design, "{other.title}"; this one is "{DESIGN.title}"' in str(caught.value)
    # Where the answer names this design's title, or none, that says nothing.
    for sent in (answer_for(other), f"Design number: {number(other)}"):
        with pytest.raises(DesignProblem, match="or of this one before it was changed"):
            agreed(DESIGN, sent)


def test_the_same_answer_is_entered_once() -> None:
    once = agreed(DESIGN, answer_for(DESIGN))
    with pytest.raises(DesignProblem, match="entered already, on 2026-11-30"):
        agreed(once, answer_for(DESIGN))
    twice = agreed(once, answer_for(variant(DESIGN, "wide gap")))
    assert [entry.scheme for entry in twice.agreed] == ["as designed", "wide gap"]
    assert "wide gap" in words(twice)[0]


def test_it_is_said_whether_the_design_is_still_what_was_agreed() -> None:
    assert words(DESIGN) == ("", "")
    wide = variant(DESIGN, "wide gap")
    made = agreed(DESIGN, answer_for(wide))
    told, changed = words(made)
    assert told == (
        f'Agreed by Wren Alder on 2026-11-30: "wide gap", design number {number(wide)}.'
    )
    assert changed == (
        f'This is not the scheme agreed, "wide gap", but {number(DESIGN)}; make that variant the '
        "design."
    )
    taken = with_changes(made, {"relief.gap": wide.layers[0].gap})  # type: ignore[attr-defined]
    assert words(taken)[1] == ""
    later = with_changes(taken, {"cover.thread": "Gorse Gold A"})
    assert words(later)[1] == (
        f"This is not what was agreed: the design is {number(later)} now; the wrap has changed "
        "since; ask the customer again."
    )
    longer = with_changes(taken, {"blank.colour": "#102030"})
    assert "the blank or what is fitted on it has changed since" in words(longer)[1]
    # Of answers entered before it was recorded, nothing is said of what has changed.
    document = document_of(later)
    for entry in document["agreed"]:
        del entry["blank"], entry["agreed_wraps"]
    assert words(design_from(document))[1] == (
        f"This is not what was agreed: the design is {number(later)} now; ask the customer again."
    )


def test_a_wrap_stays_agreed_where_another_is_added_or_changed() -> None:
    rod = parse(BASE + FURTHER)
    alone = design_from({**document_of(rod), "wraps": []})
    entered = agreed(alone, answer_for(alone))
    more = design_from({**document_of(entered), "wraps": document_of(rod)["wraps"]})
    told, changed = words(more)
    assert told.endswith('This wrap is as agreed; since then wrap "fore wrap" was added.')
    assert changed == ""
    # The rod is not, nor the wrap that the customer has never seen.
    told, changed = agreement_words(more, SHELF, SHIPPED, of_rod=True)
    assert told.startswith("Agreed by ")
    assert 'now; wrap "fore wrap" was added since; ask the customer again.' in changed
    told, changed = words(at_wrap(more, "fore wrap"))
    assert told == ""
    assert changed.startswith('The customer has not agreed to this wrap, "fore wrap",')
    # Under another name it is still the one that was agreed.
    named = wrap_edits.renamed(more, "butt")
    assert "This wrap is as agreed" in words(named)[0]
    # Agreed as a rod, each wrap is told by its own changes.
    both = agreed(rod, answer_for(rod))
    fore = at_wrap(both, "fore wrap")
    later = with_changes(fore, {"cover.thread": "Gorse Gold A"})
    assert 'wrap "fore wrap" has changed since' in words(later)[1]
    first = at_wrap(later, both.wrap_name)
    assert words(first)[0].endswith('since then wrap "fore wrap" has changed.')
    assert words(first)[1] == ""
    gone = design_from({**document_of(both), "wraps": []})
    assert 'wrap "fore wrap" is gone' in words(gone)[0]


def test_parts_are_told_apart_by_what_is_seen_of_them() -> None:
    rod = parse(BASE + FURTHER)
    parts = seen_parts(rod, SHELF, SHIPPED)
    assert seen_parts(at_wrap(rod, "fore wrap"), SHELF, SHIPPED) == parts
    dull = {"placement.from": rod.placement.start + 1.0}
    moved = seen_parts(with_changes(rod, dull), SHELF, SHIPPED)
    assert moved.blank == parts.blank
    assert moved.wraps["fore wrap"] == parts.wraps["fore wrap"]
    assert moved.wraps[rod.wrap_name] != parts.wraps[rod.wrap_name]
    heavier = seen_parts(
        with_changes(rod, {"blank.mass": 90.0, "blank.balance": 700.0}), SHELF, SHIPPED
    )
    assert heavier == parts


def test_words_and_number_of_two_schemes_are_not_entered() -> None:
    names = [one.name for one in DESIGN.variants]
    first, second = (variant(DESIGN, name) for name in names[:2])
    text = answer_for(first, "B", names[1])
    with pytest.raises(
        DesignProblem, match=f'names "{names[1]}", but .* is the number of "{names[0]}"'
    ):
        agreed(DESIGN, text)
    assert agreed(DESIGN, answer_for(second, "C", names[1])).agreed[-1].scheme == names[1]
    # Other words are the customer's own.
    assert agreed(DESIGN, answer_for(first, "B", "the nicer one")).agreed[-1].scheme == names[0]


def test_an_answer_is_found_from_whichever_wrap_is_worked_at() -> None:
    rod = design_from(document_of(parse(BASE + FURTHER)) | {"variants": []})
    thin = {"name": "gold", "changes": {"finish.coats": 1}}
    named = design_from(document_of(rod) | {"variants": [thin]})
    fore = at_wrap(rod, "fore wrap")
    for seen in (rod, fore, named):
        for other in (fore, named):
            if other is named and seen is not named:
                continue
            chosen = dict(variants(other))["gold"]
            entered = agreed(seen, answer_for(chosen, label="gold"))
            assert entered.agreed[-1].number == number(chosen)
            assert entered.agreed[-1].scheme.endswith("gold")
            assert entered.wrap_name == seen.wrap_name
    # Two variants of one name: that of the other wrap is told by its wrap.
    both = agreed(
        named, answer_for(dict(variants(at_wrap(named, "fore wrap")))["gold"], label="gold")
    )
    assert both.agreed[-1].scheme == "fore wrap: gold"
