"""Discs in a table of their own, put beside the row of their case: one set of columns for each level."""

from dataclasses import replace
from pathlib import Path

from candidacy.case.catalogue import LEVELS
from candidacy.case.facts import normal_level
from candidacy.cohort.engines import Engine
from candidacy.cohort.intake import Fault, Intake
from candidacy.cohort.mapping import Mapping, TableMap, canonical, check
from candidacy.cohort.sources import PLACE, Staged
from candidacy.errors import Code, Problem, shorten


def open_table(engine: Engine, name: str, staged: Staged) -> dict[str, str]:
    """Make a staged table readable, with its row numbers; gives its columns and their types."""
    return engine.open_parquet(name, staged.path, "" if staged.place else PLACE)


def beside(
    engine: Engine,
    folder: Path,
    patients: Staged,
    discs: Staged,
    table: TableMap,
    types: dict[str, str],
    mapping: Mapping | None,
) -> tuple[str, dict[str, str], TableMap, tuple[Problem, ...], list[Problem]]:
    """Put the rows of each case's discs beside its own row, one set of columns for each level."""
    quote = engine.dialect.identifier
    disc_types = open_table(engine, "disc_rows", discs)
    columns = [name for name in disc_types if name != PLACE]
    per_disc = mapping.discs if mapping and mapping.discs else canonical(columns, "disc")
    notes = check(per_disc, columns, "disc", discs.name)
    assert per_disc.disc is not None
    text = engine.dialect.text_type
    level = f"TRIM(CAST({quote(per_disc.disc)} AS {text}))"
    written = [row[0] for row in engine.rows(f"SELECT DISTINCT {level} FROM disc_rows")]
    spelling = {text_: normal_level(text_) for text_ in written if text_}
    levels = [each for each in LEVELS if each in set(spelling.values())]
    case = f"CAST({quote(per_disc.case_id)} AS {text})"
    found = []
    for each in levels:
        same = ", ".join(engine.dialect.string(t) for t, known in spelling.items() if known == each)
        here = f"{level} IN ({same})"
        found.append(f"SUM(CASE WHEN {here} THEN 1 ELSE 0 END) AS {quote(f'{each}|rows')}")
        found += [
            f"MAX(CASE WHEN {here} THEN {quote(column)} END) AS {quote(f'{each}|{column}')}"
            for column in sorted(per_disc.used() - {per_disc.disc, per_disc.case_id})
        ]
    engine.view("disc_sets", f"SELECT {case} AS disc_case, {', '.join(found)} FROM disc_rows GROUP BY {case}")
    own = f"CAST(patients.{quote(table.case_id)} AS {text})"
    if table.case_id not in types:
        check(table, list(types), "patient", patients.name)
    wide = folder / "wide.parquet"
    engine.write(
        f"SELECT patients.*, disc_sets.* FROM patients LEFT JOIN disc_sets ON {own} = disc_case", wide
    )
    unreadable = ", ".join(engine.dialect.string(t) for t, known in spelling.items() if known is None)
    lost = [
        *_lost(
            engine,
            f"SELECT {quote(PLACE)}, {level} FROM disc_rows WHERE COALESCE({level}, '') = ''"
            + (f" OR {level} IN ({unreadable})" if unreadable else ""),
            Problem(
                Code.BAD_LEVEL,
                "not a lumbar disc level",
                discs.name,
                field=per_disc.disc,
                expected=", ".join(LEVELS),
            ),
        ),
        *_lost(
            engine,
            f"SELECT disc_rows.{quote(PLACE)}, disc_rows.{quote(per_disc.case_id)} FROM disc_rows "
            f"LEFT JOIN patients ON {own} = CAST(disc_rows.{quote(per_disc.case_id)} AS {text}) "
            f"WHERE patients.{quote(table.case_id)} IS NULL",
            Problem(
                Code.BAD_TABLE,
                "a disc of a case that is not in the table of patients",
                discs.name,
                field=per_disc.case_id,
            ),
        ),
    ]
    return "wide", engine.open_parquet("wide", wide), per_disc, notes, lost


def _lost(engine: Engine, query: str, problem: Problem) -> list[Problem]:
    """One problem for each disc row that has no place; the disc stays unknown, which passes nothing."""
    return [
        replace(problem, line=int(row), found=shorten("" if cell is None else cell))
        for row, cell in sorted(engine.rows(query))
    ]


def take_discs(intake: Intake, per_disc: TableMap) -> None:
    """Make the facts of the columns that `beside` put there."""
    quote = intake.engine.dialect.identifier
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
        intake.faults.append(Fault(f"({rows} > 1)", f"{level}|rows", message="this disc is listed twice"))
