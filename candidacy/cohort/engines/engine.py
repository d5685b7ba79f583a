"""What the columnar evaluation asks of an engine. Two serve: an embedded one and a distributed one."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    import pyarrow as pa

    from candidacy.cohort.translate import Translation


class Engine(Protocol):
    """An existing engine that runs our SQL. It plans, schedules and spills; we only write expressions."""

    name: str
    # Most cases of a table that is read in memory and worked out in steps; none where a step costs as much as a long query.
    at_hand: int

    @property
    def version(self) -> str:
        """Program and version, so that a run can be repeated."""
        ...

    def another(self, folder: Path) -> "Engine":
        """The same engine with nothing in it, for another cohort, whose relations have the same names."""
        ...

    def open_parquet(self, name: str, path: Path, place: str = "", file: str = "") -> dict[str, str]:
        """Make a Parquet file or folder readable as ``name``.

        ``place`` names a column that holds the number of each row in its file, from 1; ``file`` one that holds
        the name of that file. Returns column name to type:
        ``number``, ``integer``, ``text``, ``boolean``, ``date`` or ``other``.
        """
        ...

    def view(self, name: str, query: str) -> None:
        """Name a query."""
        ...

    def table(self, name: str, content: "pa.Table") -> None:
        """Make a small table readable as ``name``."""
        ...

    def hold(self, name: str, query: str) -> Path:
        """Work a query out once, on disk, and make its answer readable as ``name``; gives its file or folder."""
        ...

    def keep(self, queries: Mapping[str, str]) -> None:
        """Work queries over a table at hand out once, in memory, one after another, and make each answer readable by its name."""
        ...

    def translate(self, name: str, relation: str, translations: "Sequence[Translation]") -> None:
        """Set beside each row of a relation what its cells mean, readable as ``name``."""
        ...

    def columns(self, query: str) -> list[str]:
        """Names of the columns of a query."""
        ...

    def counts(self, conditions: Sequence[str], source: str) -> list[int]:
        """How many rows of a source, as it stands behind FROM, meet each of several conditions; for what takes long."""
        ...

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """All rows of a small answer."""
        ...

    def arrow(self, query: str) -> "pa.Table":
        """A whole answer in memory."""
        ...

    def write(self, query: str, path: Path) -> None:
        """Write an answer to a Parquet file (embedded) or folder of files (distributed)."""
        ...

    def close(self) -> None:
        """Let go of everything held."""
        ...


def one(engine: Engine, expressions: Sequence[str], relation: str) -> tuple[Any, ...]:
    """One row of aggregates over a relation."""
    return engine.rows(f"SELECT {', '.join(expressions)} FROM {relation}")[0] if expressions else ()
