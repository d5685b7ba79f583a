"""Rows of a second table that belong to no case: a disc or a medicine without a place is told, never dropped."""

from collections.abc import Iterator
from pathlib import Path

from msgspec import Struct

from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.batches import rows
from candidacy.cohort.engines.engine import Engine
from candidacy.cohort.inputs.references import case_text
from candidacy.cohort.inputs.sources import FILE, PLACE
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Problem, shorten


class Homeless(Struct, frozen=True):
    """Rows of one table without a place, for one reason.

    Attributes
    ----------
    count
        How many there are; the disc or entry is not recorded, which passes nothing.
    """

    engine: Engine
    source: str
    chosen: str
    problem: Problem
    count: int

    @classmethod
    def of(
        cls, engine: Engine, relation: str, types: dict[str, str], where: str, cell: str, problem: Problem,
        joined: str = "",
    ) -> "Homeless":  # fmt: skip
        """Find the rows of a relation for which two-valued SQL holds; ``cell`` is shown of each."""
        source = f"{relation} {joined} WHERE {where}"
        quote = sql.identifier
        file = f"{relation}.{quote(FILE)}" if FILE in types else "''"
        chosen = f"{relation}.{quote(PLACE)} AS place, {file} AS file, {cell} AS cell"
        ((count,),) = engine.rows(f"SELECT COUNT(*) FROM {source}")
        return cls(engine, source, chosen, problem, int(count))

    def problems(self, scratch: Path) -> Iterator[Problem]:
        """One problem for each, in the order of the table."""
        if not self.count:
            return
        query = f"SELECT {self.chosen} FROM {self.source} ORDER BY file, place"
        for row in rows(self.engine, query, scratch):
            name = "/".join(part for part in (self.problem.file, row["file"]) if part)
            yield replace(
                self.problem,
                file=name,
                line=int(row["place"]),
                found=shorten("" if row["cell"] is None else row["cell"]),
            )


def homeless_cases(
    engine: Engine,
    relation: str,
    types: dict[str, str],
    column: str,
    own: str,
    also: str,
    problem: Problem,
) -> Homeless:
    """Rows whose case is not among the patients; ``own`` is SQL of the reference there, ``also`` a further condition."""
    case = case_text(types, column, relation)
    return Homeless.of(
        engine, relation, types, f"patients_case IS NULL AND {also}", case, problem,
        f"LEFT JOIN (SELECT DISTINCT {own} AS patients_case FROM patients) AS known_cases ON {case} = patients_case",
    )  # fmt: skip
