"""The pages in order: address, title, function."""

from collections.abc import Callable

from ui.views.referral import referral

PAGES: list[tuple[str, str, Callable[[], None]]] = [
    ("", "Referral", referral),
]
