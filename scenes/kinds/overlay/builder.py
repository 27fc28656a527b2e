"""Builder of overlays: threads wound in turn, some of which are pulled out again."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property

from geometry.kept import KEPT
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
"""Bounds of the pitch, as shares of the threads' widths together: closer, they cannot be pressed;
wider, rows cannot be kept even (from memory)."""


@dataclass(frozen=True, slots=True)
class OverlayResult:
    """Further results of laying an overlay.

    Parameters
    ----------
    pulled_out : callable
        Computes the thread that is wound and pulled out again, strand by strand.
    """

    pulled_out: Callable[[], tuple[ThreadUse, ...]]


class OverlayBuilder(LayerBuilder[Overlay]):
    """Builder of an overlay."""

    progress_label = "overlay"

    @cached_property
    def sequence(self) -> tuple[tuple[Thread, bool], ...]:
        """Threads of one repeat from the butt on, each with whether it is pulled out again."""
        return tuple(
            (self.plan.shelf.thread(entry.thread), entry.removed)
            for entry in self.layer.sequence
            for _ in range(entry.count)
        )

    @cached_property
    def width(self) -> float:
        """Width of the threads of one repeat side by side, mm."""
        return sum(thread.diameter_mm for thread, _ in self.sequence)

    @property
    def pitch(self) -> float:
        """Distance from one repeat to the next, mm."""
        return self.layer.pitch or self.width

    @property
    def striped(self) -> bool:
        """Whether some of its threads are pulled out."""
        return any(removed for _, removed in self.sequence)

    def threads(self) -> Iterator[Thread]:
        """Every thread of the sequence."""
        for thread, _ in self.sequence:
            yield thread

    def prepare(self) -> None:
        """Check that the threads fit their pitch."""
        least, most = _CLOSEST * self.width, _WIDEST * self.width
        if not least <= self.pitch <= most:
            units = self.plan.design.units
            raise DesignProblem.at(
                f"{self.path}.pitch",
                f"a repeat of {len(self.sequence)} threads is {about(self.width, units)} wide side "
                f"by side and cannot be wound every {about(self.pitch, units)}; give a pitch of "
                f"{about(least, units, upwards=True)} to {about(most, units)}",
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
        """Wind the overlay, without the threads that are pulled out."""
        self.prepare()
        layer = self.overlay(palette)

        def used(removed: bool) -> tuple[ThreadUse, ...]:
            return tuple(
                ThreadUse(self.path, thread, length)
                for (thread, out), length in zip(self.sequence, layer.lengths(surface), strict=True)
                if out == removed
            )

        return LayerResult(
            KEPT.laid(layer, surface),
            lambda: used(False),
            kind_result=OverlayResult(lambda: used(True)),
        )
