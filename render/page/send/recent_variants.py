"""The variants that were kept since the document was opened."""

from render.editor.desk import Desk

__all__ = ["RecentVariants"]


class RecentVariants:
    """Names of the variants that were kept since the document was opened, the last one last.

    Parameters
    ----------
    desk : Desk
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._document = desk.document_number
        self._first = self._present()
        self.names: list[str] = []

    def follow(self) -> None:
        """Take notice of what has become of the variants."""
        present = self._present()
        if self._desk.document_number != self._document:
            self._document, self._first, self.names = self._desk.document_number, present, []
            return
        still = [name for name in self.names if name in present]
        new = [name for name in present if name not in (*self._first, *still)]
        self.names = [*still, *new]

    def _present(self) -> list[str]:
        return [variant.name for variant in self._desk.design.variants]
