"""A base class for objects that a `with` statement closes."""

from types import TracebackType
from typing import Self

__all__ = ["Closing"]


class Closing:
    """An object that is closed at the end of a `with`; a subclass defines `close`."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Release what the object holds."""
        raise NotImplementedError
