"""Keys and sessions on their own."""

import math

import pytest

from render.page.server.roles import Role
from render.page.server.sessions import Keys, Sessions


def test_a_key_that_works_once_works_once() -> None:
    keys = Keys(once=True)
    used = []
    key = keys.issue(on_use=lambda: used.append(1))
    other = keys.issue()
    assert keys.accept(key)
    assert not keys.accept(key)
    assert used == [1]
    assert keys.accept(other)


def test_a_key_of_guests_works_for_all_of_them() -> None:
    keys = Keys(once=False)
    key = keys.issue()
    assert all(keys.accept(key) for _ in range(3))


@pytest.mark.parametrize("given", ["", "x", "\udcff\udcfe", "\0", "é", "a" * 10_000])
def test_what_is_no_key_is_refused(given: str) -> None:
    keys = Keys(once=True)
    key = keys.issue()
    assert not keys.accept(given)
    assert not keys.accept(key[:-1])
    assert Sessions(Role.OWNER).find(given) is None
    assert keys.accept(key)


def test_keys_cannot_be_guessed() -> None:
    """At least 96 bits: a million guesses a second for a year find one of 2e15."""
    keys = Keys(once=True)
    made = {keys.issue() for _ in range(200)}
    letters = "".join(made).replace("-", "")
    assert len(made) == 200
    assert {len(key.replace("-", "")) for key in made} == {20}
    assert 20 * math.log2(len(set(letters))) > 96


def test_session_unused_for_longest_makes_room() -> None:
    sessions = Sessions(Role.GUEST, most=3)
    secrets = [sessions.begin()[0] for _ in range(3)]
    assert sessions.find(secrets[0]) is not None
    new, session = sessions.begin()
    assert sessions.find(new) is session
    assert session.role is Role.GUEST
    assert [sessions.find(secret) is not None for secret in secrets] == [True, False, True]


def test_session_name_tells_nothing_of_its_secret() -> None:
    secret, session = Sessions(Role.OWNER).begin()
    assert len(secret) >= 43  # 256 bits in base64
    assert session.name not in secret
