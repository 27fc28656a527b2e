"""Overlays: threads wound in turn, and those pulled out again."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

from geometry.layers.overlay import Overlay as OverlayLayer
from geometry.layers.overlay import Strand
from geometry.surface import Surface
from materials.thread import Thread
from scenes.kinds.builder import CARELESS, LayerBuilder, LayerResult, Palette, ThreadUse
from scenes.kinds.overlay.model import Overlay
from scenes.problems import DesignProblem
from scenes.quantities import about

__all__ = ["OverlayBuilder", "OverlayResult"]

_CLOSEST, _WIDEST = 0.9, 4.0
"""How far threads side by side may be pressed together, and how far apart rows may lie and still be
kept even, as shares of their widths together (from memory)."""


@dataclass(frozen=True, slots=True)
class OverlayResult:
    """What laying an overlay brought to light.

    Parameters
    ----------
    pulled_out : callable
        Works out the thread that is wound and pulled out again, strand by strand.
    """

    pulled_out: Callable[[], tuple[ThreadUse, ...]]


class OverlayBuilder(LayerBuilder[Overlay]):
    """An overlay."""

    progress_label = "overlay"

    @cached_property
    def sequence(self) -> tuple[tuple[Thread, bool], ...]:
        """Every thread of one repeat from the butt on, and whether it is pulled out again."""
        return tuple(
            (self.plan.shelf.thread(entry.thread), entry.removed)
            for entry in self.layer.sequence
            for _ in range(entry.count)
        )

    @cached_property
    def width(self) -> float:
        """All threads of one repeat side by side, mm."""
        return sum(thread.diameter_mm for thread, _ in self.sequence)

    @property
    def pitch(self) -> float:
        """From one repeat to the next, mm."""
        return self.layer.pitch or self.width

    @property
    def striped(self) -> bool:
        """Whether threads of it are pulled out."""
        return any(removed for _, removed in self.sequence)

    def threads(self) -> Iterator[Thread]:
        """Every thread of the sequence."""
        for thread, _ in self.sequence:
            yield thread

    def prepare(self) -> None:
        """See that the threads go into their pitch."""
        least, most = _CLOSEST * self.width, _WIDEST * self.width
        if not least <= self.pitch <= most:
            units = self.plan.design.units
            raise DesignProblem.at(
                f"{self.path}.pitch",
                f"a repeat of {len(self.sequence)} threads is {about(self.width, units)} wide side "
                f"by side and cannot be wound every {about(self.pitch, units)}; give a pitch of "
                f"{about(least, units)} to {about(most, units)}",
            )

    def overlay(self, palette: Palette | None = None) -> OverlayLayer:
        """Make the geometry layer.

        Parameters
        ----------
        palette : Palette or None
            Gives the material indices; without it all threads have material 0.
        """
        thinnest = min(thread.diameter_mm for thread in self.threads())
        return OverlayLayer(
            *self.span,
            tuple(
                Strand(
                    thread.diameter_mm,
                    0 if palette is None or removed else palette.index(self.plan.look_of(thread)),
                    removed,
                )
                for thread, removed in self.sequence
            ),
            self.pitch,
            self.layer.unevenness * CARELESS * thinnest,
            self.layer.seed,
        )

    def lay(self, surface: Surface, palette: Palette, step: Callable[[str], None]) -> LayerResult:
        """Wind it, and pull out what is to be."""
        self.prepare()
        layer = self.overlay(palette)

        def used(removed: bool) -> tuple[ThreadUse, ...]:
            return tuple(
                ThreadUse(self.path, thread, length)
                for (thread, out), length in zip(self.sequence, layer.lengths(surface), strict=True)
                if out == removed
            )

        return LayerResult(
            layer.apply(surface), lambda: used(False), kind_result=OverlayResult(lambda: used(True))
        )
