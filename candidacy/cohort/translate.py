"""What the different cells of columns mean, and batches of rows that look their cells up in it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pyarrow as pa


@dataclass(frozen=True)
class Translation:
    """What the different cells of one column mean.

    Attributes
    ----------
    raw
        SQL of the cell.
    cells
        The different cells.
    columns
        New columns by name: their values in the order of ``cells``. Any other cell gets NULL.
    """

    raw: str
    cells: "pa.Array"
    columns: "dict[str, pa.Array]"


def query(relation: str, translations: Sequence[Translation]) -> str:
    """The rows of a relation, with the cells to translate as ``cell_n``."""
    cells = "".join(f", {each.raw} AS cell_{number}" for number, each in enumerate(translations))
    return f"SELECT *{cells} FROM {relation}"


def translated(
    batches: "Iterator[pa.RecordBatch]", translations: Sequence[Translation]
) -> "Iterator[pa.RecordBatch]":
    """The batches of `query` with the new columns in place of the cells."""
    import pyarrow as pa
    import pyarrow.compute as pc

    for batch in batches:
        count = batch.num_columns - len(translations)
        arrays: list[Any] = list(batch.columns[:count])
        names = list(batch.schema.names[:count])
        for number, each in enumerate(translations):
            places = pc.index_in(batch.column(count + number).cast(each.cells.type), value_set=each.cells)
            for name, values in each.columns.items():
                arrays.append(values.take(places))
                names.append(name)
        yield pa.RecordBatch.from_arrays(arrays, names=names)
