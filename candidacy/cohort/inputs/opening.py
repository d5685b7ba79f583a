"""A staged table made readable on an engine, with the number of each row and, in a folder, its file."""

from candidacy.cohort.engines.engine import Engine
from candidacy.cohort.inputs.sources import FILE, PLACE, Staged


def open_table(engine: Engine, name: str, staged: Staged) -> dict[str, str]:
    """Make a staged table readable; gives its columns and their types."""
    if staged.place:
        return engine.open_parquet(name, staged.path)
    if staged.folder:
        return engine.open_parquet(name, staged.path, PLACE, FILE)
    return engine.open_parquet(name, staged.path, PLACE)
