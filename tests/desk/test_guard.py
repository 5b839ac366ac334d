"""Who is answered and who is not; names of headers after the Fetch Metadata specification (W3C)."""

from __future__ import annotations

import pytest

from simulator.desk.guard import POLICY, Guard

GOOD = {
    "Host": "127.0.0.1:4000",
    "Origin": "http://127.0.0.1:4000",
    "Sec-Fetch-Site": "same-origin",
    "Content-Type": "application/json",
}


@pytest.fixture
def guard() -> Guard:
    return Guard(4000)


def test_our_own_page_is_answered(guard: Guard) -> None:
    assert guard.refusal("POST", GOOD) is None
    assert guard.refusal("GET", {"Host": GOOD["Host"], "Sec-Fetch-Site": "none"}) is None


@pytest.mark.parametrize(
    ("method", "forged"),
    [
        ("GET", {"Host": "rebound.example:4000"}),
        ("GET", {"Host": "127.0.0.1"}),
        ("GET", {"Host": "localhost:4000"}),
        ("GET", {"Host": ""}),
        ("GET", {"Sec-Fetch-Site": "cross-site"}),
        ("GET", {"Sec-Fetch-Site": "same-site"}),
        ("GET", {"Origin": "http://127.0.0.1:4001"}),
        ("POST", {"Origin": "https://127.0.0.1:4000"}),
        ("POST", {"Origin": "null"}),
        ("POST", {"Origin": None}),
        ("POST", {"Sec-Fetch-Site": "none"}),
        ("POST", {"Content-Type": "text/plain"}),
        ("POST", {"Content-Type": "application/x-www-form-urlencoded"}),
        ("PUT", {}),
        ("DELETE", {}),
        ("OPTIONS", {}),
    ],
)
def test_whatever_is_forged_is_refused(
    guard: Guard, method: str, forged: dict[str, str | None]
) -> None:
    sent = {name: value for name, value in {**GOOD, **forged}.items() if value is not None}
    assert guard.refusal(method, sent)


def test_the_token_lets_one_browser_in_and_the_cookie_keeps_it_in(guard: Guard) -> None:
    token = guard.entry.partition("token=")[2]
    assert len(token) >= 43  # 32 random bytes in base64
    assert guard.admit("") is None
    assert guard.admit(token[:-1]) is None
    cookie = guard.admit(token)
    assert cookie
    assert cookie != token
    assert guard.knows(cookie)
    assert guard.admit(token) is None
    assert "token" not in guard.entry
    for other in (None, "", token, cookie[:-1], "ü"):
        assert not guard.knows(other)


def test_two_desks_have_two_cookies(guard: Guard) -> None:
    other = Guard(4001)
    assert other.cookie_name != guard.cookie_name
    cookie = other.admit(other.entry.partition("token=")[2])
    assert not guard.knows(cookie)


def test_the_policy_allows_nothing_inline() -> None:
    assert "unsafe" not in POLICY
    assert POLICY.startswith("default-src 'none'")
