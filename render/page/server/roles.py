"""Roles of clients and their rights.

Every route and every method requires one right. A role is a set of rights; a request that requires
another right is refused.
"""

from dataclasses import dataclass
from enum import Enum, StrEnum

from aiohttp import web

__all__ = ["SESSION", "Right", "Role", "Session", "rights_of"]


class Right(StrEnum):
    """Right that a route or a method requires."""

    LOOK = "look"
    """See the design and its picture: turn, light, camera, comparison."""
    EDIT = "edit"
    """Change the open design."""
    OWN = "own"
    """Everything else: files, the builder's shelf, sending, recovery, who may edit."""


class Role(Enum):
    """Kind of client."""

    OWNER = "owner"
    """The builder's own browser, on this machine."""
    GUEST = "guest"
    """A client that used the address that ``--share`` prints."""


@dataclass(frozen=True, slots=True)
class Session:
    """One client that has shown a valid key.

    Parameters
    ----------
    name : str
        Random name of the session in logs; not a secret.
    role : Role
    """

    name: str
    role: Role


SESSION = web.RequestKey("SESSION", Session)
"""Key under which a request holds its `Session`, once its cookie has been checked."""


def rights_of(role: Role, *, guests_edit: bool) -> frozenset[Right]:
    """Return the rights of a role.

    Parameters
    ----------
    role : Role
    guests_edit : bool
        Whether the builder lets guests change the open design.

    Returns
    -------
    frozenset of Right
    """
    if role is Role.OWNER:
        return frozenset(Right)
    return frozenset({Right.LOOK, Right.EDIT} if guests_edit else {Right.LOOK})
