"""The methods that a client may call: one table, each with the right that it needs."""

import inspect
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

from render.page.server.arguments import Refused, Signature
from render.page.server.roles import Right
from scenes.problems import shown

__all__ = ["Method", "Methods"]


@dataclass(frozen=True, slots=True)
class Method:
    """One thing that a client may ask for.

    Parameters
    ----------
    name : str
    right : Right
        What a client needs for it.
    function : callable
    signature : Signature
        Limits of its arguments.
    """

    name: str
    right: Right
    function: Callable[..., Any]
    signature: Signature


class Methods:
    """What clients may ask for; what is not in here is refused.

    Parameters
    ----------
    around : callable
        Given the client, makes a context in which its method is carried out; not what a coroutine
        does after it first waits.
    """

    def __init__(self, around: Callable[[Any], AbstractContextManager[None]]) -> None:
        self._methods: dict[str, Method] = {}
        self._around = around

    def __iter__(self) -> Iterator[Method]:
        return iter(self._methods.values())

    def declare(self, name: str, right: Right, function: Callable[..., Any]) -> None:
        """Let clients with a right ask for something.

        Raises
        ------
        TypeError
            If there is such a method, or an argument of it has no limits.
        """
        if name in self._methods:
            raise TypeError(f"{name} is declared twice.")
        self._methods[name] = Method(name, right, function, Signature(name, function))

    async def call(
        self, name: object, given: Sequence[object], rights: frozenset[Right], client: object
    ) -> Any:
        """Do what a client asks.

        Parameters
        ----------
        name : object
            As the client gave it.
        given : sequence
            Arguments as the client gave them.
        rights : frozenset of Right
            The client's.
        client : object
            Given to methods that want to know who asks.

        Raises
        ------
        Refused
            If there is no such method, the client lacks the right, or an argument is not right.
        """
        method = self._methods.get(name) if isinstance(name, str) else None
        if method is None:
            raise Refused(f"{shown(name)} is nothing that this page does.")
        if method.right not in rights:
            raise Refused(f"{method.name} is not for guests; ask whoever shares this page.")
        arguments = method.signature.read(given)
        if method.signature.wants_client:
            arguments["client"] = client
        with self._around(client):
            result = method.function(**arguments)
        return await result if inspect.isawaitable(result) else result
