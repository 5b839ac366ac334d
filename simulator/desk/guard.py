"""Who may speak with the page: this machine, the browser that was let in, and our own script."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Mapping

ENTRY_BYTES = 32
"""Length of the one-time token and of the cookie [bytes]: more than can be guessed."""

COOKIE = "walkhome-desk"
"""Name of the cookie, before the port: two desks on one machine do not disturb each other."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
"""Content security policy of everything served: nothing inline, nothing from elsewhere."""

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
"""Sent with every answer."""


class Guard:
    """Decides whether a request is answered.

    Parameters
    ----------
    port : int
        Port of the loopback that is listened on.
    """

    def __init__(self, port: int) -> None:
        self.origin = f"http://127.0.0.1:{port}"
        self.host = f"127.0.0.1:{port}"
        self.cookie_name = f"{COOKIE}-{port}"
        self._token: str | None = secrets.token_urlsafe(ENTRY_BYTES)
        self._cookie = secrets.token_urlsafe(ENTRY_BYTES)

    @property
    def entry(self) -> str:
        """Address that lets one browser in, once; the page's own address afterwards."""
        return f"{self.origin}/enter?token={self._token}" if self._token else f"{self.origin}/"

    def admit(self, token: str) -> str | None:
        """Exchange the one-time token for the cookie."""
        if self._token is None or not hmac.compare_digest(token.encode(), self._token.encode()):
            return None
        self._token = None
        return self._cookie

    def knows(self, cookie: str | None) -> bool:
        """Tell whether a cookie is ours."""
        return cookie is not None and hmac.compare_digest(cookie.encode(), self._cookie.encode())

    def refusal(self, method: str, headers: Mapping[str, str]) -> str | None:
        """Say why a request is not answered, whatever it asks for."""
        if headers.get("Host") != self.host:
            return "this host is not served here"
        origin = headers.get("Origin")
        if origin is not None and origin != self.origin:
            return "another site may not ask here"
        site = headers.get("Sec-Fetch-Site")
        if method == "GET":
            return (
                None if site in {None, "none", "same-origin"} else "another site may not ask here"
            )
        if method != "POST":
            return "only GET and POST are answered"
        if origin is None or site not in {None, "same-origin"}:
            return "only the page itself may ask this"
        kind = headers.get("Content-Type", "").partition(";")[0].strip().lower()
        return None if kind == "application/json" else "only JSON is read here"
