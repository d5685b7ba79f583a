"""Desks kept in the server's memory, so that a reload of the page loses nothing.

A desk is found again by a random token in the address, and only from the browser it was opened in: the
token is bound to a random cookie of that browser. A reload takes a copy under a new token, so two tabs never
write into one desk. Nothing is written to disk here; see `candidacy.ui.kept` for what outlives the server, and
from where a desk is opened again that was let go here.
"""

import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from hmac import compare_digest

from candidacy.ui.desk import Desk

MAX_DESKS = 64
MAX_IDLE_SECONDS = 8 * 3600
PAGE_GONE_SECONDS = 30.0
"""So long a page may be gone, as when it is loaded again, before its desk is laid down."""
DOZING_SECONDS = 60.0
"""So long nobody works at an open page before its desk is made small."""
_AT_ONCE = 4  # desks made small in one go; a drawing waits no longer than for these


def _nowhere() -> bool:
    return False


@dataclass
class _Kept:
    desk: Desk
    browser: str
    touched: float
    session: str
    saved: Callable[[], bool]
    gone: float | None = None
    dozing: bool = False


class Store:
    """Desks by token; safe to use from several threads."""

    def __init__(
        self,
        max_desks: int = MAX_DESKS,
        max_idle: float = MAX_IDLE_SECONDS,
        page_gone: float = PAGE_GONE_SECONDS,
        dozing: float = DOZING_SECONDS,
    ) -> None:
        self._kept: OrderedDict[str, _Kept] = OrderedDict()
        self._lock = threading.Lock()
        self._max, self._idle, self._page_gone, self._dozing = max_desks, max_idle, page_gone, dozing

    def put(
        self,
        desk: Desk,
        browser: str,
        *,
        token: str = "",
        session: str = "",
        saved: Callable[[], bool] = _nowhere,
    ) -> str:
        """Keep a desk and hand out its token (192 random bits).

        Parameters
        ----------
        browser
            The mark of the browser that alone may open it.
        token
            The one it had, where it is kept again.
        session
            Names the session whose page shows it.
        saved
            Whether all of it is kept elsewhere as well, as it is now.
        """
        token = token or secrets.token_urlsafe(24)
        with self._lock:
            self._expire()
            while len(self._kept) >= self._max:
                self._kept.popitem(last=False)
            self._kept[token] = _Kept(desk, browser, time.monotonic(), session, saved)
        return token

    def copy_of(self, token: str, browser: str) -> Desk | None:
        """A copy of a kept desk; ``None`` if it is gone or belongs to another browser."""
        with self._lock:
            self._expire()
            found = self._kept.get(token)
            if found is None or not browser or not compare_digest(found.browser, browser):
                return None
            return found.desk.copy()

    def touch(self, token: str) -> bool:
        """Note that a desk is in use; false if it is not kept."""
        with self._lock:
            if token not in self._kept:
                return False
            kept = self._kept[token]
            kept.touched, kept.dozing = time.monotonic(), False
            self._kept.move_to_end(token)
            return True

    def forget(self, token: str) -> None:
        """Drop a desk at once, with the copies of its work that reloads left for the same browser."""
        with self._lock:
            found = self._kept.pop(token, None)
            if found is not None:
                of_it = (found.desk.work, found.browser)
                for other in [t for t, k in self._kept.items() if (k.desk.work, k.browser) == of_it]:
                    del self._kept[other]

    def tidy(self, shown: Callable[[str], bool]) -> None:
        """Make desks small that nobody works at, lay those down whose page is gone, and let go what is kept elsewhere.

        Call it while no page is drawn.

        Parameters
        ----------
        shown
            Whether the page of a session is open.
        """
        now, made_small = time.monotonic(), 0
        with self._lock:
            self._expire()
            for token, kept in list(self._kept.items()):
                if shown(kept.session):
                    kept.gone = None
                    if not kept.dozing and now - kept.touched >= self._dozing and made_small < _AT_ONCE:
                        kept.desk.doze()
                        kept.dozing, made_small = True, made_small + 1
                elif kept.gone is None:
                    kept.gone = now
                elif now - kept.gone >= self._page_gone:
                    kept.desk.lay_down()
                    if kept.saved():
                        del self._kept[token]

    def _expire(self) -> None:
        oldest = time.monotonic() - self._idle
        for token in [t for t, kept in self._kept.items() if kept.touched < oldest]:
            del self._kept[token]


STORE = Store()
