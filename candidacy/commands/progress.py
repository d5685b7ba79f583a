"""Progress on the error stream of a terminal: the step and the seconds so far; silent where it is piped."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Tell = Callable[[str, int, int], None]


@contextmanager
def progress(first: str) -> Iterator[Tell]:
    """A line that tells the step and the seconds elapsed while the body runs; it is wiped in the end.

    The body gets a function that takes what is being done, how many steps are done, and of how many.
    """
    if not sys.stderr.isatty():
        yield lambda what, done, of: None
        return
    from rich.console import Console
    from rich.live import Live
    from rich.text import Text

    began, said = time.monotonic(), [first]

    def line() -> Text:
        return Text(f"{said[0]}, {time.monotonic() - began:.0f} s", style="dim")

    def tell(what: str, done: int, of: int) -> None:
        said[0] = what if done >= of else f"step {done + 1} of {of}: {what}"
        live.refresh()

    console = Console(stderr=True)
    with Live(
        get_renderable=line, console=console, transient=True, redirect_stdout=False, redirect_stderr=False
    ) as live:
        yield tell
