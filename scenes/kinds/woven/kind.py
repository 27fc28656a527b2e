"""Woven panels, as the rest of Turnlight knows them."""

from scenes.kinds.kind import Kind
from scenes.kinds.woven.bench import entries
from scenes.kinds.woven.defaults import defaults, with_file
from scenes.kinds.woven.laying import WovenBuilder
from scenes.kinds.woven.lines import lines
from scenes.kinds.woven.model import WovenPanel

__all__ = ["KIND"]

KIND = Kind(
    model=WovenPanel,
    laying=WovenBuilder,
    entries=entries,
    lines=lines,
    defaults=defaults,
    with_file=with_file,
)
