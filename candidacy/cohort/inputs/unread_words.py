"""Words of a table that no rule reads: columns that nobody mapped, or that a mapping leaves out, and that hold free text."""

from collections.abc import Iterable
from collections.abc import Mapping as Table

from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.engine import Engine, one
from candidacy.cohort.inputs.mapping import TableMap
from candidacy.cohort.inputs.sources import OWN
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Code, Problem, shorten

# two words: a code, a name of a file or a number is no remark
_WORDS = sql.string(r"\p{L}{2,}[^\p{L}]+\p{L}{2,}")


def tell_words(
    engine: Engine, relation: str, types: Table[str, str], table: TableMap, name: str, notes: Iterable[Problem]
) -> tuple[Problem, ...]:  # fmt: skip
    """The notes on columns that are not read, each with the number of rows in which it holds words.

    A column that the mapping leaves out is noted where it holds any: a remark may tell what no column does.

    Parameters
    ----------
    relation, types
        The table and its columns with their types.
    name
        The table as a person names it.
    notes
        What `check` says of columns that are not read.
    """
    unread = [
        each for each, kind in types.items()
        if kind == "text" and each not in OWN and each not in table.used()
    ]  # fmt: skip
    counts = one(
        engine,
        [sql.rows_with(sql.matches(f"CAST({sql.identifier(each)} AS VARCHAR)", _WORDS)) for each in unread],
        relation,
    )
    holding = {shorten(each): int(count) for each, count in zip(unread, counts, strict=True) if count}
    said = {
        column: f"words in {count:,} {'row' if count == 1 else 'rows'}, which no rule reads"
        for column, count in holding.items()
    }
    told = [replace(note, found=said.get(note.field, note.found)) for note in notes]
    noted = {note.field for note in told}
    left_out = [
        Problem(Code.BAD_MAPPING, "column not read, as the mapping says", name, field=column, found=words,
                next_step="read them where a case goes on: they may tell what no column does")
        for column, words in said.items() if column not in noted
    ]  # fmt: skip
    return (*told, *left_out)
