"""DataFrames of nullable types: an unknown is ``NA``, never a false, and an empty table has the types of a full one."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa


def count_table(
    rows: Sequence[dict[str, Any]], texts: Sequence[str], numbers: Sequence[str]
) -> "pd.DataFrame":
    """Rows of counts as a table; ``texts`` and ``numbers`` are its columns in order."""
    import pandas as pd

    frame = pd.DataFrame(rows, columns=[*texts, *numbers])
    return frame.astype(dict.fromkeys(texts, "string") | dict.fromkeys(numbers, "Int64"))


def nullable_frame(table: "pa.Table") -> "pd.DataFrame":
    """An answer of an engine."""
    import pandas as pd
    import pyarrow as pa

    kinds = {pa.bool_(): pd.BooleanDtype(), pa.int64(): pd.Int64Dtype(), pa.int32(): pd.Int32Dtype(),
             pa.float64(): pd.Float64Dtype(), pa.string(): pd.StringDtype(),
             pa.large_string(): pd.StringDtype()}  # fmt: skip
    columns = [
        column.cast(pa.string()) if pa.types.is_dictionary(column.type) else column
        for column in table.columns
    ]
    found: pd.DataFrame = pa.table(columns, names=table.column_names).to_pandas(types_mapper=kinds.get)
    return found
