"""For whom a rod is built, and what the customer has agreed to."""

import re
from datetime import date
from typing import Annotated, Any

from pydantic import Field

from scenes.parts.part import Part
from scenes.problems import refusal, shown
from scenes.quantities import Example, FileName, Marker, Ratio, Units, Words

__all__ = ["AgreedWrap", "Agreement", "Day", "OrderSpec"]


class OrderSpec(Part):
    """For whom the rod is built, and by whom."""

    customer: Annotated[
        str, Words(80, "the customer's name", shortest=0), Example('"Wren Alder"')
    ] = ""
    rod: Annotated[str, Words(40, "the number of the rod", shortest=0), Example('"2026-14"')] = ""
    builder: Annotated[
        str,
        Words(80, "your name or mark, as the customer's page shows it", shortest=0),
        Example('"Lake Ossery Rods"'),
    ] = ""
    mark: (
        Annotated[
            str,
            FileName(100, "the file name of your mark, a PNG picture", endings=(".png",)),
            Example('"my-mark.png"'),
        ]
        | None
    ) = None
    """It stands in a corner of pictures that are signed."""
    price: (
        Annotated[
            float,
            Ratio(0, 10_000_000, "the price that you ask of the customer"),
            Example("480"),
        ]
        | None
    ) = None
    """A catalogue shows it, in the money of `bench.currency`."""


class Day(Marker):
    """A date as in ISO 8601."""

    what = "a date such as 2026-11-30"

    def read(self, given: object, units: Units) -> str:
        """Check a date; a TOML file may give it with or without quotes."""
        text = given.isoformat() if type(given) is date else given
        if isinstance(text, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", text):
            try:
                return date.fromisoformat(text).isoformat()
            except ValueError:
                pass
        raise refusal(f"{shown(given)} is not a date; give {self.what}")

    def json_schema(self, units: Units) -> dict[str, Any]:
        """Describe the text."""
        return {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$"}


class AgreedWrap(Part):
    """One of the wraps that a customer has agreed to."""

    name: Annotated[str, Words(60, "the name of the wrap"), Example('"butt wrap"')]
    digest: Annotated[str, Words(16, "the digest of what was seen of it"), Example('"5f1d09c2"')]


class Agreement(Part):
    """What a customer has agreed to, as entered by the builder."""

    date: Annotated[str, Day(), Example('"2026-11-30"')]
    number: Annotated[
        str, Words(20, "the design number that the customer sent"), Example('"7K3Q-9XMA"')
    ]
    """It changes with everything that is seen of the wrap."""
    scheme: Annotated[
        str, Words(200, "the name of the scheme chosen", shortest=0), Example('"wide gap"')
    ] = ""
    customer: Annotated[
        str, Words(80, "the customer's name", shortest=0), Example('"Wren Alder"')
    ] = ""
    remark: Annotated[
        str, Words(1000, "what the customer adds", shortest=0), Example('"A little more teal?"')
    ] = ""
    blank: Annotated[
        str,
        Words(16, "the digest of what was seen of the blank", shortest=0),
        Example('"c07a33e1"'),
    ] = ""
    agreed_wraps: Annotated[
        tuple[AgreedWrap, ...],
        Field(strict=False, max_length=13),
        Example('[ { name = "first wrap", digest = "5f1d09c2" } ]'),
    ] = ()
    """The wraps that were agreed to, so that it can be said what has changed since."""
