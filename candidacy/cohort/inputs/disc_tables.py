"""Discs in a table of their own, put beside the row of their case: one set of columns for each level."""

from pathlib import Path

from msgspec import Struct

from candidacy.case.element import LEVELS
from candidacy.case.facts import normal_level
from candidacy.cohort.engines import sqltext as sql
from candidacy.cohort.engines.batches import batches
from candidacy.cohort.engines.engine import Engine
from candidacy.cohort.inputs.fractions import refuse_open_fractions
from candidacy.cohort.inputs.intake import Fault, Intake
from candidacy.cohort.inputs.mapping import Mapping, TableMap, canonical
from candidacy.cohort.inputs.mapping_check import check
from candidacy.cohort.inputs.opening import open_table
from candidacy.cohort.inputs.references import case_text
from candidacy.cohort.inputs.sources import OWN, Staged
from candidacy.cohort.inputs.unmatched_rows import Homeless, homeless_cases
from candidacy.cohort.inputs.unread_words import Wordy, tell_words
from candidacy.foundation.errors import Code, Problem

_ROWS = "disc_rows"


class Beside(Struct, frozen=True):
    """Patients with their discs beside them.

    Attributes
    ----------
    relation, types
        The rows of the patients with the columns of their discs.
    homeless
        Rows of the table of discs that have no place.
    """

    relation: str
    types: dict[str, str]
    table: TableMap
    notes: tuple[Problem, ...]
    homeless: list[Homeless]


def beside(
    engine: Engine,
    folder: Path,
    patients: Staged,
    discs: Staged,
    table: TableMap,
    types: dict[str, str],
    mapping: Mapping | None,
    wordy: list[Wordy],
) -> Beside:
    """Put the rows of each case's discs beside its own row, one set of columns for each level."""
    disc_types = open_table(engine, _ROWS, discs)
    columns = [name for name in disc_types if name not in OWN]
    per_disc = mapping.discs if mapping and mapping.discs else canonical([*columns, *discs.left_out], "disc")
    notes = check(per_disc, columns, "disc", discs.name, discs.left_out)
    notes = tell_words(engine, _ROWS, disc_types, per_disc, discs.name, notes, wordy)
    refuse_open_fractions(engine, _ROWS, disc_types, per_disc, discs.name)
    check(
        table, [name for name in types if name not in OWN], "patient", patients.name, patients.left_out, True
    )
    assert per_disc.disc is not None
    level = sql.trimmed(f"CAST({sql.identifier(per_disc.disc)} AS VARCHAR)")
    spelling = _spellings(engine, level, folder / "levels.parquet")
    case = case_text(disc_types, per_disc.case_id)
    sets = _sets(engine, per_disc, level, spelling)
    engine.view("disc_sets", f"SELECT {case} AS disc_case, {', '.join(sets)} FROM {_ROWS} GROUP BY {case}")
    own = case_text(types, table.case_id, "patients")
    wide = folder / "wide.parquet"
    engine.write(
        f"SELECT patients.*, disc_sets.* FROM patients LEFT JOIN disc_sets ON {own} = disc_case", wide
    )
    readable = ", ".join(sql.string(text) for text in spelling)
    placed = f"COALESCE({level}, '') IN ({readable})" if spelling else "FALSE"
    homeless = [
        Homeless.of(
            engine, _ROWS, disc_types, f"NOT ({placed})", level,
            Problem(Code.BAD_LEVEL, "not a lumbar disc level", discs.name, field=per_disc.disc,
                    expected=", ".join(LEVELS)),
        ),
        homeless_cases(engine, _ROWS, disc_types, per_disc.case_id, own, placed, Problem(
            Code.BAD_TABLE, "a disc of a case that is not in the table of patients", discs.name,
            field=per_disc.case_id, expected=f"a case reference of {patients.name}",
        )),
    ]  # fmt: skip
    return Beside("wide", engine.open_parquet("wide", wide), per_disc, notes, homeless)


def _spellings(engine: Engine, level: str, scratch: Path) -> dict[str, str]:
    """Every way in which a level is written, with the level; other texts may be many, and are passed by."""
    found = {}
    for batch in batches(engine, f"SELECT DISTINCT {level} AS level FROM {_ROWS}", scratch):
        for text in batch.column(0).to_pylist():
            known = normal_level(text) if text else None
            if known is not None:
                found[text] = known
    return found


def _sets(engine: Engine, per_disc: TableMap, level: str, spelling: dict[str, str]) -> list[str]:
    """For each level that occurs: how many rows a case has for it, and their columns."""
    quote = sql.identifier
    found = []
    for each in (known for known in LEVELS if known in spelling.values()):
        same = ", ".join(sql.string(t) for t, known in spelling.items() if known == each)
        here = f"{level} IN ({same})"
        found.append(f"SUM(CASE WHEN {here} THEN 1 ELSE 0 END) AS {quote(f'{each}|rows')}")
        found += [
            f"MAX(CASE WHEN {here} THEN {quote(column)} END) AS {quote(f'{each}|{column}')}"
            for column in sorted(per_disc.used() - {per_disc.disc, per_disc.case_id})
        ]
    return found or [f"COUNT(*) AS {quote('no disc')}"]


def take_discs(intake: Intake, per_disc: TableMap) -> None:
    """Make the facts of the columns that `beside` put there."""
    quote = sql.identifier
    there = [level for level in LEVELS if f"{level}|rows" in intake.types]
    intake.look((f"{level}|{column}", item) for level in there for column, item in per_disc.columns.items())
    for level in LEVELS:
        if f"{level}|rows" not in intake.types:
            continue
        for column, item in per_disc.columns.items():
            update = {"dated_by": f"{level}|{item.dated_by}" if item.dated_by else None}
            days = f"{level}|{per_disc.facts_dated_by}" if per_disc.facts_dated_by else None
            intake.table = per_disc.model_copy(update={"facts_dated_by": days})
            intake.take(f"{level}|{column}", item.model_copy(update=update), level)
        rows = quote(f"{level}|rows")
        intake.present[level] = [f"(COALESCE({rows}, 0) > 0)"]
        intake.faults.append(
            Fault(
                f"({rows} > 1)", f"{level}|rows", message="this disc is listed twice", expected="one row for each disc"
            )
        )  # fmt: skip
