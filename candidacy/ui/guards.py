"""What the server tells every browser to refuse: framing, outside addresses, guessing of types, passing on of addresses."""

import os

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from candidacy.ui.named_store import HOSTS_VARIABLE

_OWN = ("127.0.0.1", "localhost")


def hosts() -> list[str]:
    """Names that are answered: those under which this machine reaches itself, and those that a reverse proxy is asked by.

    A page of another name that points here is refused (DNS rebinding).
    """
    named = os.environ.get(HOSTS_VARIABLE, "").split(",")
    return [*_OWN, *(name.strip() for name in named if name.strip())]


# The toolkit writes styles into the page, starts scripts from text and draws charts by compiled expressions, so these
# three cannot be refused; everything may come from this server alone.
_POLICY = "; ".join((
    "default-src 'self'", "script-src 'self' 'unsafe-inline' 'unsafe-eval' 'wasm-unsafe-eval'",
    "style-src 'self' 'unsafe-inline'", "img-src 'self' data: blob:", "font-src 'self' data:", "worker-src 'self' blob:",
    "connect-src 'self'", "object-src 'none'", "base-uri 'self'", "form-action 'self'", "frame-ancestors 'none'",
))  # fmt: skip
HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Frame-Options": "DENY",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
"""Response headers; their meaning: Fetch and HTML standards, Content Security Policy Level 3, RFC 7034."""


class BrowserGuards:
    """Adds `HEADERS` to every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, and its answer back with the headers."""

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
            await send(message)

        await self._app(scope, receive, guarded)
