"""A console that suits where its text goes: colour on a terminal, plain in files and pipes."""

import io
import os
import shutil
import sys

from rich.console import Console


def console_for(buffer: io.StringIO, *, to_file: bool, piped: int = 110) -> Console:
    """A console that writes into ``buffer`` for the terminal, or ``piped`` signs wide for a file or a pipe."""
    terminal = sys.stdout.isatty() and not to_file
    width = shutil.get_terminal_size((piped, 24)).columns if terminal else piped
    return Console(
        file=buffer,
        width=max(60, min(width, 140)),
        force_terminal=terminal,
        no_color=not terminal or bool(os.environ.get("NO_COLOR")),
        highlight=False,
        markup=False,
        emoji=False,
    )
