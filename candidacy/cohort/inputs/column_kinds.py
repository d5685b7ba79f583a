"""Typed columns from outside as the five kinds that are read here: number, whole number, text, truth, day.

What an engine would round, shift or refuse becomes text, so that each cell is judged for itself: numbers of
more than 15 digits, instants, lists. Types that no data element has (times of day, durations, bytes, nested
records) are left out and named.
"""

import json
from collections.abc import Callable, Iterable
from decimal import Decimal
from pathlib import Path
from typing import Any

from candidacy.cohort.inputs.headers import PLACE

_EXACT_DIGITS = 15  # a double holds every decimal of so many digits
_UNIVERSAL = ("UTC", "Etc/UTC", "GMT", "Z", "+00:00")
Change = Callable[[Any], Any]


def is_plain(kind: Any) -> bool:
    """Both engines read this type as it is."""
    import pyarrow.types as t

    if t.is_dictionary(kind):
        return bool(t.is_string(kind.value_type) or t.is_large_string(kind.value_type))
    if t.is_integer(kind):
        return not t.is_uint64(kind)
    if t.is_decimal128(kind):
        return bool(kind.precision <= _EXACT_DIGITS)
    if t.is_timestamp(kind):
        return kind.tz is None and kind.unit != "ns"  # the distributed engine reads no nanoseconds
    tests = (t.is_boolean, t.is_float32, t.is_float64, t.is_string, t.is_large_string, t.is_date)
    return any(test(kind) for test in tests)


class Typed:
    """How the columns of one table are made readable.

    Attributes
    ----------
    left_out
        Columns of a type that is not read, with that type.
    """

    def __init__(self, schema: Any) -> None:
        self.left_out: dict[str, str] = {}
        self._changes: dict[str, Change] = {}
        for column in schema:
            change = _change(column.type)
            if change is None:
                self.left_out[column.name] = str(column.type)[:80]
            else:
                self._changes[column.name] = change

    def write(self, target: Path, batches: Iterable[Any], place: str = "") -> int:
        """Write batches in a stream, numbered from 1 where a column is named for that; gives the rows."""
        from candidacy.cohort.engines.batches import ParquetFile

        with ParquetFile(target) as file:
            for batch in batches:
                file.write(self.changed(batch, place, file.rows))
        return file.rows

    def changed(self, batch: Any, place: str = "", before: int = 0) -> Any:
        """One batch with its columns made readable."""
        import pyarrow as pa

        arrays = [change(batch.column(name)) for name, change in self._changes.items()]
        names = list(self._changes)
        if place:
            numbers = range(before + 1, before + batch.num_rows + 1)
            arrays, names = [pa.array(numbers, pa.int64()), *arrays], [PLACE, *names]
        return pa.RecordBatch.from_arrays(arrays, names=names)


def _change(kind: Any) -> Change | None:
    """What to do with a column of a type; ``None`` where it cannot be read."""
    import pyarrow as pa
    import pyarrow.types as t

    if isinstance(kind, pa.ExtensionType):
        inner = _change(kind.storage_type)
        if kind.extension_name in ("arrow.uuid", "arrow.json"):
            return _each(str)
        return None if inner is None else _after(lambda column: column.storage, inner)
    if t.is_dictionary(kind):
        inner = _change(kind.value_type)
        return None if inner is None else _after(lambda column: column.dictionary_decode(), inner)
    if is_plain(kind):
        return lambda column: column
    if t.is_null(kind) or t.is_string_view(kind):
        return lambda column: column.cast(pa.string())
    if t.is_float16(kind):
        return lambda column: column.cast(pa.float64())
    if t.is_uint64(kind):
        return _each(str)
    if t.is_decimal(kind):
        return _each(_plain_decimal)
    if t.is_timestamp(kind) and kind.tz is None:
        return lambda column: column.cast(pa.timestamp("us"), safe=False)
    if t.is_timestamp(kind):
        return _universal if kind.tz in _UNIVERSAL else _local_day
    if (t.is_list(kind) or t.is_large_list(kind) or t.is_fixed_size_list(kind)) and _holds_text(kind):
        return _each(_listed)
    return None


def _after(first: Change, then: Change) -> Change:
    return lambda column: then(first(column))


def _holds_text(kind: Any) -> bool:
    import pyarrow.types as t

    inner = kind.value_type
    if t.is_dictionary(inner):
        inner = inner.value_type
    return bool(t.is_string(inner) or t.is_large_string(inner) or t.is_string_view(inner) or t.is_null(inner))


def _each(told: Callable[[Any], str]) -> Change:
    import pyarrow as pa

    return lambda column: pa.array(
        [None if cell is None else told(cell) for cell in column.to_pylist()], pa.string()
    )


def _plain_decimal(cell: Decimal) -> str:
    text = f"{cell:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _listed(cell: list[str | None]) -> str:
    """A list in the notation of cells; what that notation cannot say is shown whole, and refused as a cell."""
    if any(each is None or ";" in each or not each.strip() for each in cell):
        return json.dumps(cell, ensure_ascii=False)
    return ";".join(each or "" for each in cell) or "[]"


def _local_day(column: Any) -> Any:
    """The day of an instant in the time zone that its column names."""
    import pyarrow as pa
    import pyarrow.compute as pc

    return pc.local_timestamp(column).cast(pa.date32(), safe=False)


def _universal(column: Any) -> Any:
    """An instant without a place: its day where it is midnight, else as it is written, which is no day."""
    import pyarrow as pa
    import pyarrow.compute as pc

    local = pc.local_timestamp(column)
    day = local.cast(pa.date32(), safe=False)
    midnight = pc.equal(day.cast(local.type), local)
    whole = pc.binary_join_element_wise(local.cast(pa.string()), "+00:00", "")
    return pc.if_else(midnight, day.cast(pa.string()), whole)
