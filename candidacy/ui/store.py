"""Desks kept in the server's memory, so that a reload of the page loses nothing.

A desk is found again by a random token in the address, and only from the browser it was opened in: the
token is bound to a random cookie of that browser. A reload takes a copy under a new token, so two tabs never
write into one desk. Nothing is written to disk here; see `candidacy.ui.kept` for what outlives the server.
"""

import secrets
import threading
import time
from collections import OrderedDict
from dataclasses import dataclass
from hmac import compare_digest

from candidacy.ui.desk import Desk

MAX_DESKS = 64
MAX_IDLE_SECONDS = 8 * 3600


@dataclass
class _Kept:
    desk: Desk
    browser: str
    touched: float


class Store:
    """Desks by token; safe to use from several threads."""

    def __init__(self, max_desks: int = MAX_DESKS, max_idle: float = MAX_IDLE_SECONDS) -> None:
        self._kept: OrderedDict[str, _Kept] = OrderedDict()
        self._lock = threading.Lock()
        self._max, self._idle = max_desks, max_idle

    def put(self, desk: Desk, browser: str) -> str:
        """Keep a desk and hand out its token (192 random bits)."""
        token = secrets.token_urlsafe(24)
        with self._lock:
            self._expire()
            while len(self._kept) >= self._max:
                self._kept.popitem(last=False)
            self._kept[token] = _Kept(desk, browser, time.monotonic())
        return token

    def copy_of(self, token: str, browser: str) -> Desk | None:
        """A copy of a kept desk; ``None`` if it is gone or belongs to another browser."""
        with self._lock:
            self._expire()
            found = self._kept.get(token)
            if found is None or not browser or not compare_digest(found.browser, browser):
                return None
            return found.desk.copy()

    def touch(self, token: str) -> None:
        """Note that a desk is in use."""
        with self._lock:
            if token in self._kept:
                self._kept[token].touched = time.monotonic()
                self._kept.move_to_end(token)

    def forget(self, token: str) -> None:
        """Drop a desk at once."""
        with self._lock:
            self._kept.pop(token, None)

    def _expire(self) -> None:
        oldest = time.monotonic() - self._idle
        for token in [t for t, kept in self._kept.items() if kept.touched < oldest]:
            del self._kept[token]


STORE = Store()
