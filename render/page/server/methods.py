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
    """A method that clients may call.

    Parameters
    ----------
    name : str
    right : Right
        Right that a client needs.
    function : callable
    signature : Signature
        Types and limits of its arguments.
    """

    name: str
    right: Right
    function: Callable[..., Any]
    signature: Signature


class Methods:
    """Table of methods that clients may call; all other names are refused.

    Parameters
    ----------
    around : callable
        Returns, for a client, the context in which its method runs; of a coroutine only the
        part before its first await.
    """

    def __init__(self, around: Callable[[Any], AbstractContextManager[None]]) -> None:
        self._methods: dict[str, Method] = {}
        self._around = around

    def __iter__(self) -> Iterator[Method]:
        return iter(self._methods.values())

    def declare(self, name: str, right: Right, function: Callable[..., Any]) -> None:
        """Add a method.

        Parameters
        ----------
        name : str
            Name by which clients call it.
        right : Right
            Right that a client needs.
        function : callable
            Its parameters are annotated with types of `render.page.server.arguments`.

        Raises
        ------
        TypeError
            If the name is taken, or an argument has no limits.
        """
        if name in self._methods:
            raise TypeError(f"{name} is declared twice.")
        self._methods[name] = Method(name, right, function, Signature(name, function))

    async def call(
        self, name: object, given: Sequence[object], rights: frozenset[Right], client: object
    ) -> Any:
        """Call a method for a client.

        Parameters
        ----------
        name : object
            Name as received from the client.
        given : sequence
            Arguments as received from the client.
        rights : frozenset of Right
            Rights of the client.
        client : object
            Passed to methods with a parameter ``client``.

        Raises
        ------
        Refused
            If there is no such method, the client lacks the right, or an argument is invalid.
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
