"""The server of the screens: the pages of `candidacy.ui.app`, for this machine's own names only, with guards for the browser.

``candidacy ui`` starts it through the toolkit, which finds ``app`` here.
"""

import signal
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware

from candidacy.ui.guards import BrowserGuards, hosts
from candidacy.ui.quiet import kept_quiet


@asynccontextmanager
async def _looked_after(_: st.App) -> AsyncIterator[None]:
    with kept_quiet():
        yield


app = st.App(
    Path(__file__).with_name("app.py"),
    lifespan=_looked_after,
    middleware=[Middleware(TrustedHostMiddleware, allowed_hosts=hosts(), www_redirect=False), Middleware(BrowserGuards)],
)  # fmt: skip


def _end(_number: int, _frame: object) -> None:
    """End as Ctrl+C does: Python then removes the folders of tables and results, which SIGTERM alone leaves behind."""
    signal.raise_signal(signal.SIGINT)


signal.signal(signal.SIGTERM, _end)
