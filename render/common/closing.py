"""What is open until it is closed, and closes itself at the end of a `with`."""

from types import TracebackType
from typing import Self

__all__ = ["Closing"]


class Closing:
    """Something to be closed after use: give a subclass its `close`."""

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
        """Let go of what is held."""
        raise NotImplementedError
