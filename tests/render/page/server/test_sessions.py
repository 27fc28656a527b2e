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


def test_session_that_is_open_is_not_ended_for_another() -> None:
    sessions = Sessions(Role.GUEST, most=3)
    begun = [sessions.begin() for _ in range(3)]
    sessions.begin(used={begun[0][1], begun[2][1]})
    assert [sessions.find(secret) is not None for secret, _ in begun] == [True, False, True]


def test_who_comes_again_and_again_ends_his_own_sessions() -> None:
    sessions = Sessions(Role.GUEST, most=4)
    others = [sessions.begin(address)[0] for address in ("192.0.2.1", "192.0.2.2")]
    mine = [sessions.begin("192.0.2.3")[0] for _ in range(40)]
    assert all(sessions.find(secret) for secret in others)
    assert [sessions.find(secret) is not None for secret in mine[-3:]] == [False, True, True]


def test_page_secret_belongs_to_its_session() -> None:
    sessions, elsewhere = Sessions(Role.OWNER), Sessions(Role.OWNER)
    (cookie, mine), (_, other) = sessions.begin(), sessions.begin()
    secret = sessions.page_secret(mine)
    assert len(secret) == 64  # 256 bits in hexadecimal
    assert secret not in (cookie, mine.name, sessions.page_secret(other))
    assert secret != elsewhere.page_secret(mine)
    assert sessions.is_page_secret(secret, mine)
    assert not sessions.is_page_secret(secret, other)
    for given in ("", cookie, mine.name, secret[:-1], secret.upper(), "\udcff\udcfe", "é", "\0"):
        assert not sessions.is_page_secret(given, mine)


def test_session_name_tells_nothing_of_its_secret() -> None:
    secret, session = Sessions(Role.OWNER).begin()
    assert len(secret) >= 43  # 256 bits in base64
    assert session.name not in secret
