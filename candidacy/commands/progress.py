"""Progress on the error stream of a terminal: the step and the seconds so far; silent where it is piped."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Tell = Callable[[str, int, int], None]


@contextmanager
def progress(first: str) -> Iterator[Tell]:
    """A line that tells the step and the time elapsed while the body runs; it is wiped in the end.

    The body gets a function that takes what is being done, how many steps are done, and of how many.
    """
    if not sys.stderr.isatty():
        yield lambda what, done, of: None
        return
    from rich.console import Console
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (SpinnerColumn(), TextColumn("{task.description}", markup=False), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as line:
        task = line.add_task(first, total=None)

        def tell(what: str, done: int, of: int) -> None:
            line.update(task, description=what if done >= of else f"step {done + 1} of {of}: {what}")

        yield tell
