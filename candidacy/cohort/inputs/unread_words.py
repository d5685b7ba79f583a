"""Words of a table that no rule reads: columns that nobody mapped, or that a mapping leaves out, and that hold free text.

How many rows hold any is told of the table; the words themselves stand with the one case that is opened.
"""

from collections.abc import Iterable

from msgspec import Struct

from candidacy.case.facts import Remark
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.engine import Engine, one
from candidacy.cohort.inputs.mapping import TableMap
from candidacy.cohort.inputs.references import case_text
from candidacy.cohort.inputs.sources import FILE, OWN, PLACE
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Code, Problem, shorten

# two words: a code, a name of a file or a number is no remark
_WORDS = sql.string(r"\p{L}{2,}[^\p{L}]+\p{L}{2,}")


class Wordy(Struct, frozen=True):
    """The columns of one table that hold words no rule reads.

    Attributes
    ----------
    case
        SQL of the reference of a row's case.
    placed
        Whether the rows bear the number of their line.
    """

    name: str
    relation: str
    case: str
    columns: tuple[str, ...]
    placed: bool

    def remarks(self, engine: Engine, reference: str) -> list[Remark]:
        """What stands in these columns in the rows of one case, in their own words and with their place."""
        if not self.columns:
            return []
        place = sql.identifier(PLACE) if self.placed else "NULL"
        cells = ", ".join(f"CAST({sql.identifier(each)} AS VARCHAR)" for each in self.columns)
        rows = engine.rows(
            f"SELECT {place} AS place, {cells} FROM {self.relation} WHERE {self.case} = {sql.string(reference.strip())} ORDER BY 1"
        )
        return [
            Remark(
                f"column {shorten(column)} of {self.name}" + (f", row {int(row[0])}" if row[0] else ""),
                " ".join(cell.split()),
            )
            for row in rows
            for column, cell in zip(self.columns, row[1:], strict=True)
            if cell is not None and cell.strip()
        ]


def tell_words(
    engine: Engine,
    relation: str,
    types: dict[str, str],
    table: TableMap,
    name: str,
    notes: Iterable[Problem],
    wordy: list[Wordy],
) -> tuple[Problem, ...]:
    """The notes on columns that are not read, each with the number of rows in which it holds words.

    A column that the mapping leaves out is noted where it holds any: a remark may tell what no column does. The columns
    are put into ``wordy``, from which an opened case takes its words.

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
    wordy.append(
        Wordy(
            name,
            relation,
            case_text(types, table.case_id),
            tuple(each for each, count in zip(unread, counts, strict=True) if count),
            PLACE in types and FILE not in types,
        )
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
