"""Standard output whose reader may leave: what is to be written elsewhere is still written, and no fault is told."""

import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

from candidacy.foundation.errors import Code, InputError, Problem


class _Outlet(io.RawIOBase):
    """Writes to a file descriptor, and to nobody once its reader is gone, as when a pipe is closed by ``head``."""

    def __init__(self, descriptor: int, name: str) -> None:
        super().__init__()
        self._descriptor, self._name, self._gone = descriptor, name, False

    def writable(self) -> bool:
        return True

    def fileno(self) -> int:
        return self._descriptor

    def write(self, data: Any) -> int:
        if self._gone:
            return len(data)
        try:
            return os.write(self._descriptor, data)
        except BrokenPipeError:
            self._gone = True
            return len(data)
        except OSError as error:
            self._gone = True
            raise InputError(
                [Problem(Code.UNREADABLE, "cannot be written", self._name, found=error.strerror or "",
                         next_step="free some space, or write to a file with --out")]
            ) from error  # fmt: skip


def _patient(stream: Any, name: str) -> Any:
    """A stream for files and pipes; a terminal does not leave, and a stream of a test has no descriptor."""
    try:
        descriptor = stream.fileno()
        terminal = stream.isatty()
    except (OSError, ValueError, AttributeError):
        return stream
    if terminal:
        return stream
    stream.flush()
    buffer = io.BufferedWriter(_Outlet(descriptor, name))
    return io.TextIOWrapper(buffer, encoding=stream.encoding, errors="replace", line_buffering=True)


@contextmanager
def patient_streams() -> Iterator[None]:
    """Let readers of the output and of the messages leave while the body runs; all is flushed in the end."""
    usual = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = _patient(usual[0], "standard output"), _patient(usual[1], "standard error")
    try:
        yield
    finally:
        for stream in (sys.stdout, sys.stderr):
            with suppress(InputError):  # whoever printed was told already
                stream.flush()
        sys.stdout, sys.stderr = usual
