"""One empty database at hand: to open one takes 13 ms, a fifth of a small screening.

One engine uses it at a time. Nothing of a cohort stays in it: tables and views belong to the connection of an engine, which
is closed first.
"""

import os
from pathlib import Path
from typing import Any

# Relations of ours are temporary and went with their connection; any other would be there for the next engine.
_RELATIONS = "SELECT 1 FROM duckdb_tables() UNION ALL SELECT 1 FROM duckdb_views() WHERE NOT internal LIMIT 1"
# By process, for a copy of one has no threads, by memory and by threads.
_spare: dict[tuple[int, str, int], Any] = {}


def take(memory: str, threads: int, spill: Path) -> Any | None:
    """The spare database of these settings, which then spills to a folder; ``None`` where there is none."""
    found = _spare.pop((os.getpid(), memory, threads), None)
    if found is not None:
        found.execute("SET temp_directory = ?", [str(spill)])
    return found


def leave(database: Any, memory: str, threads: int) -> None:
    """Keep a database for the next engine; one that has spilled, holds a relation or is not needed is closed."""
    key = os.getpid(), memory, threads
    if not _emptied(database) or _spare.setdefault(key, database) is not database:
        database.close()


def _emptied(database: Any) -> bool:
    import duckdb

    try:
        if database.execute(_RELATIONS).fetchone() is not None:
            return False
        # a later file of the same name is another file
        database.execute("SET enable_external_file_cache = false; SET enable_external_file_cache = true")
        database.execute("SET temp_directory = ''")  # refused where anything was spilled
    except duckdb.Error:
        return False
    return True
