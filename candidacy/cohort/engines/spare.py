"""One empty database at hand: to open one takes 13 ms, a fifth of a small screening.

One engine uses it at a time. Nothing of a cohort stays in it: tables and views belong to the connection of an engine, which
is closed first.
"""

import os
from pathlib import Path
from typing import Any

# By process, for a copy of one has no threads, by memory and by threads.
_spare: dict[tuple[int, str, int], Any] = {}


def take(memory: str, threads: int, spill: Path) -> Any | None:
    """The spare database of these settings, which then spills to a folder; ``None`` where there is none."""
    found = _spare.pop((os.getpid(), memory, threads), None)
    if found is not None:
        found.execute("SET temp_directory = ?", [str(spill)])
    return found


def leave(database: Any, memory: str, threads: int) -> None:
    """Keep a database for the next engine; one that has spilled, or that is not needed, is closed."""
    import duckdb

    try:
        # a later file of the same name is another file
        database.execute("SET enable_external_file_cache = false; SET enable_external_file_cache = true")
        database.execute("SET temp_directory = ''")  # refused where anything was spilled
    except duckdb.Error:
        database.close()
        return
    if _spare.setdefault((os.getpid(), memory, threads), database) is not database:
        database.close()
