"""What a field means is read from the source, as pydantic would read it."""

import pytest
from pydantic import BaseModel, ConfigDict

from scenes.parts.annotations import meaning_of
from scenes.parts.part import Part


class Base(Part):
    """A part."""

    length: float = 1.0
    """How long
    it is."""

    width: float = 1.0
    """How wide it is."""

    height: float = 1.0


class Changed(Base):
    """Another one, which says less of the width."""

    width: float = 2.0

    depth: float = 3.0
    """How deep it is."""


class Reference(BaseModel):
    """The fields of both, with the text that is theirs."""

    model_config = ConfigDict(use_attribute_docstrings=True)

    length: float = 1.0
    """How long
    it is."""

    width: float = 2.0

    height: float = 1.0

    depth: float = 3.0
    """How deep it is."""


@pytest.mark.parametrize("name", Reference.model_fields)
def test_as_pydantic_reads_it(name):
    expected = " ".join((Reference.model_fields[name].description or "").split())
    assert meaning_of(Changed, name) == expected.removesuffix(".")


def test_a_field_of_a_base_keeps_its_text_there():
    assert meaning_of(Base, "width") == "How wide it is"
