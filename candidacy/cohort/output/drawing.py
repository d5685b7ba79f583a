"""Drawing by matplotlib without a display, a network or a state of its own: the same numbers, the same file."""

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from html import escape
from typing import Any, Literal

from candidacy.foundation.errors import Code, InputError, Problem

Form = Literal["svg", "png"]
INK, LINE = "#1f2933", "#7b8794"


@contextmanager
def drawing_needs() -> Iterator[None]:
    """Say what to install where a library for drawing is missing.

    Raises
    ------
    InputError
        E601 where the optional part ``cohort`` is not installed.
    """
    try:
        yield
    except ImportError as error:
        problem = Problem(
            Code.USAGE,
            f"drawing needs {error.name}",
            "figures",
            next_step="pip install 'candidacy[cohort]'",
        )
        raise InputError([problem]) from error


@contextmanager
def drawing() -> Iterator[None]:
    """The library with its own defaults, whatever the settings of this machine; the same counts, the same file."""
    with drawing_needs():
        import matplotlib
    settled: Any = {k: v for k, v in matplotlib.rcParamsDefault.items() if not k.startswith("backend")}
    settled |= {"svg.hashsalt": "candidacy", "svg.fonttype": "none"}
    with matplotlib.rc_context(settled):
        yield


def new_figure(width: float, height: float) -> Any:
    """An empty figure, in inches."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height))


def bytes_of(figure: Any, form: Form, name: str) -> bytes:
    """The figure as a file; ``name`` is its text alternative where it stands in a page as SVG."""
    buffer = io.BytesIO()
    if form == "png":
        figure.savefig(buffer, format="png", dpi=150, metadata={"Software": None})
        return buffer.getvalue()
    bare = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    figure.savefig(buffer, format="svg", metadata=bare)
    text = buffer.getvalue().decode("utf-8")
    # no document type to fetch, no ids that occur again in another drawing of the same page, and a name
    text = re.sub(r"<!DOCTYPE[^>]*>\s*", "", text)
    text = re.sub(r'<g id="[a-z0-9A-Z.]+_[0-9]+">', "<g>", text)
    named = f'<svg role="img" aria-label="{escape(name)}"'
    return text.replace("<svg", named, 1).encode("utf-8")


def plain(text: str) -> str:
    """Text that matplotlib does not read as a formula."""
    return text.replace("$", r"\$")
