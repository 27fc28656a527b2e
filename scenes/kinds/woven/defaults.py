"""New woven panels, and further changes when a panel gets another chart."""

from collections.abc import Iterator
from typing import Any

from materials.shelf import Shelf
from scenes.artwork.charts import (
    MOST_COLOURS,
    MOST_SIDE,
    WARP,
    colours_of,
    nearest_threads,
)
from scenes.artwork.images import read_image
from scenes.artwork.shipped import shipped_file
from scenes.kinds.builder import CompanionContext
from scenes.kinds.defaults import NewLayer, Surroundings
from scenes.kinds.flat.runs import RunDirection, has_band
from scenes.kinds.woven.model import WovenPanel
from scenes.problems import DesignProblem, printable

__all__ = ["changes_for_file", "defaults"]

_ALONG_THE_BAND, _ON_THE_BLANK = "vine.png", "shoal.png"


def defaults(surroundings: Surroundings) -> Iterator[NewLayer]:
    """Yield panels of a chart that ships with Turnlight, in the nearest threads of the shelf.

    Along the flat band where there is one, as often as there is room for; else on the blank.

    Parameters
    ----------
    surroundings : Surroundings
        The design that the layer is added to.
    """
    if has_band(surroundings.design):
        runs = {"runs": RunDirection.BAND.value}
        yield from surroundings.usual_places({**_panel(surroundings, _ALONG_THE_BAND), **runs})
    entry = _panel(surroundings, _ON_THE_BLANK) | {"runs": RunDirection.BLANK.value}
    for times in (2, 1):
        yield from surroundings.usual_places({**entry, "repeats": times, "side_by_side": times})


def _panel(surroundings: Surroundings, chart: str) -> dict[str, Any]:
    """Chart and threads of a panel."""
    pixels = read_image(shipped_file(chart), chart, "chart", MOST_SIDE)
    colours = [colour for colour in colours_of(pixels) if colour != WARP]
    alike = [
        thread for thread in surroundings.shelf.threads if thread.size == surroundings.ground.size
    ]
    threads = nearest_threads(colours, alike)
    return {
        "chart": chart,
        "warp": surroundings.threads[0],
        "colours": [
            {"colour": colour, "thread": thread.name}
            for colour, thread in zip(colours, threads, strict=True)
        ],
    }


def changes_for_file(
    layer: WovenPanel, field: str, name: str, path: str, beside: CompanionContext, shelf: Shelf
) -> dict[str, Any]:
    """Find the threads for the colours of another chart.

    Colours that the layer lists keep their thread. New colours get the nearest thread on the shelf
    of the size of the warp. Colours that are not in the chart are removed.

    Parameters
    ----------
    layer : WovenPanel
    field : str
        Field that names the file.
    name : str
        Name of the file.
    path : str
        Path of the field, for a refusal.
    beside : CompanionContext
        Files beside the design.
    shelf : Shelf

    Returns
    -------
    dict
        New value by field.

    Raises
    ------
    DesignProblem
        If the file is missing, or is no chart that can be woven.
    """
    if field != "chart":
        return {}
    pixels = read_image(beside.read(name, path), name, path, MOST_SIDE)
    found = [colour for colour in colours_of(pixels) if colour != WARP]
    if len(found) > MOST_COLOURS:
        raise DesignProblem(
            f'{path}: "{printable(name)}" has {len(found)} colours, and a chart has {MOST_COLOURS} '
            "at most; make a chart of it first, in fewer threads.",
            field=path,
        )
    given = {entry.colour.lower(): entry.thread for entry in layer.colours}
    new = [colour for colour in found if colour not in given]
    if not found or not (new or len(found) < len(given)):
        return {}
    warp = shelf.thread(layer.warp)
    alike = [thread for thread in shelf.threads if thread.size == warp.size] or list(shelf.threads)
    given |= {
        colour: thread.name
        for colour, thread in zip(new, nearest_threads(new, alike) if new else (), strict=True)
    }
    return {"colours": [{"colour": colour, "thread": given[colour]} for colour in found]}
