"""The front door of cohort screening: a table, a rule set and a day give a cohort with its outcomes."""

import tempfile
from collections.abc import Callable
from collections.abc import Mapping as Table
from contextlib import ExitStack
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from candidacy.case.load import load_case
from candidacy.cohort.embedded import EmbeddedEngine
from candidacy.cohort.engines import Engine
from candidacy.cohort.from_cases import CaseColumns
from candidacy.cohort.mapping import Mapping, load_mapping
from candidacy.cohort.reading import read
from candidacy.cohort.result import Cohort, Kept
from candidacy.cohort.set_aside import write_set_aside
from candidacy.cohort.sources import Staged, stage
from candidacy.cohort.tables import open_tables
from candidacy.errors import CaseError, Code, Problem, TableError
from candidacy.rules.library import load_rule_set
from candidacy.rules.resolved import RuleSet

if TYPE_CHECKING:
    import pandas as pd

EngineName = Literal["embedded", "spark"]
# Told while it runs: what is being done, and how far of how many steps.
Progress = Callable[[str, int, int], None]
_STEPS = 4


def screen(
    table: "Path | str | pd.DataFrame",
    rule_set: RuleSet | str,
    as_of: date,
    *,
    discs: "Path | str | pd.DataFrame | None" = None,
    lists: "Table[str, Path | str | pd.DataFrame] | None" = None,
    mapping: Mapping | Path | str | None = None,
    engine: EngineName | Engine = "embedded",
    part: str = "",
    delimiter: str = "",
    memory: str = "2GB",
    work: Path | None = None,
    progress: Progress | None = None,
) -> Cohort:
    """Screen a table of cases under a rule set.

    Parameters
    ----------
    table
        One row per case: a CSV, Excel, Parquet or DuckDB file, a folder of Parquet files, a folder of case
        records, or a DataFrame.
    rule_set
        A loaded rule set, its id, or the path of its file.
    as_of
        The day for which ages and intervals are counted.
    discs
        A second table with one row per disc; without it disc columns stand in the row of the case.
    lists
        Tables with one row per entry, by list of the record (``medicines``).
    mapping
        A confirmed mapping; without it the headers must be canonical.
    engine
        ``embedded`` (DuckDB), ``spark`` (Apache Spark, local or as configured), or an engine of your own.
    part
        Sheet of a workbook or table of a database file.
    memory
        Most memory of the embedded engine before it spills.
    work
        Folder for working files; one of the system's otherwise. Removed when the cohort is closed.

    Returns
    -------
    Cohort
        Use it as a context manager, or close it.

    Raises
    ------
    TableError
        E101 to E109 for a file, E501 for a table, E502 for a mapping that cannot be used.
    RuleError
        If the rule set cannot be used.

    Examples
    --------
    >>> from datetime import date
    >>> import pandas as pd
    >>> frame = pd.DataFrame({"case_id": ["a", "b"], "body_mass_index [kg/m2]": [29.0, 41.5]})
    >>> with screen(frame, "practice_baseline", date(2026, 11, 25)) as cohort:
    ...     list(cohort.outcomes()["body_mass_index_limit"])
    ['pass', 'fail']
    """
    rules = load_rule_set(rule_set) if isinstance(rule_set, str) else rule_set
    tell = progress or (lambda what, done, of: None)
    mapped = load_mapping(Path(mapping)) if isinstance(mapping, str | Path) else mapping
    with ExitStack() as stack:
        folder = Path(
            stack.enter_context(
                tempfile.TemporaryDirectory(prefix="candidacy-cohort-", dir=work, ignore_cleanup_errors=True)
            )
        )
        tell("reading the table", 0, _STEPS)
        local = EmbeddedEngine(folder, memory)
        stack.callback(local.close)
        chosen = _engine(engine, local, folder, stack)
        kept = Kept(folder=folder)
        if isinstance(table, str | Path) and _is_case_folder(Path(table)):
            _take_cases(kept, Path(table), chosen)
        else:
            _take_tables(kept, chosen, local, mapped, table, discs, lists or {}, part, delimiter)
        tell("preparing the criteria", 1, _STEPS)
        reading = read(kept.frame, rules, as_of)
        tell("reading every case", 2, _STEPS)
        outcomes = folder / "outcomes.parquet"
        chosen.write(reading.outcome_query(), outcomes)
        chosen.open_parquet("outcomes", outcomes)
        tell("done", _STEPS, _STEPS)
        return Cohort(reading, kept, outcomes, "outcomes", stack.pop_all())


def _engine(engine: EngineName | Engine, local: EmbeddedEngine, folder: Path, stack: ExitStack) -> Engine:
    if engine == "embedded":
        return local
    if engine == "spark":
        from candidacy.cohort.distributed import SparkEngine

        made = SparkEngine(folder)
        stack.callback(made.close)
        return made
    if isinstance(engine, str):
        raise TableError([Problem(Code.USAGE, "no such engine", found=engine, expected="embedded, spark")])
    return engine


def _is_case_folder(path: Path) -> bool:
    return path.is_dir() and not any(path.glob("*.parquet")) and any(_case_files(path))


def _case_files(folder: Path) -> list[Path]:
    return sorted(p for p in folder.iterdir() if p.suffix in (".yaml", ".yml", ".json") and p.is_file())


def _take_cases(kept: Kept, folder: Path, engine: Engine) -> None:
    """Case records of a folder; a record that cannot be used is set aside, and its file named."""
    columns = CaseColumns()
    files: dict[str, Path] = {}
    bad: list[Problem] = []
    refused: list[tuple[Path, str]] = []
    for path in _case_files(folder):
        try:
            case = load_case(path)
        except CaseError as error:
            bad += error.problems
            refused.append((path, error.problems[0].message))
            continue
        if case.record.id in files:
            problem = Problem(
                Code.BAD_TABLE, "the case reference occurs more than once", str(path), field="id",
                found=case.record.id, expected="one file for each case",
            )  # fmt: skip
            bad.append(problem)
            refused.append((path, problem.message))
            continue
        files[case.record.id] = path
        columns.add(case)
    if not files:
        raise TableError(bad or [Problem(Code.EMPTY, "there is no case record", str(folder))])

    def reopen(reference: str) -> Any:
        if reference not in files:
            raise TableError([Problem(Code.BAD_TABLE, "no such case in the folder", found=reference)])
        return load_case(files[reference])

    kept.frame = columns.frame(engine, kept.folder, "cases", reopen)
    kept.name, kept.rows = str(folder), len(files) + len(refused)
    kept.set_aside, kept.problems = len(refused), tuple(bad)
    from candidacy.cohort.set_aside import guarded

    lines = "".join(f'{guarded(path.name)},"{message}"\n' for path, message in refused)
    kept.set_aside_file.write_text("file,reason\n" + lines, encoding="utf-8")


def _take_tables(
    kept: Kept,
    engine: Engine,
    local: EmbeddedEngine,
    mapping: Mapping | None,
    table: Any,
    discs: Any,
    lists: Table[str, Any],
    part: str,
    delimiter: str,
) -> None:
    staged = stage(table, kept.folder, local, part, delimiter)
    beside = stage(discs, kept.folder, local, "", delimiter, "discs") if discs is not None else None
    entries: dict[str, Staged] = {
        name: stage(each, kept.folder, local, "", delimiter, name) for name, each in lists.items()
    }
    opened = open_tables(engine, kept.folder, staged, beside, entries, mapping)
    count, problems = write_set_aside(opened, staged, kept.set_aside_file)
    kept.frame, kept.name = opened.frame, staged.name
    kept.rows = opened.rows + len(staged.unreadable)
    kept.set_aside, kept.problems, kept.notes = count, problems, opened.notes
    kept.discs_set_aside = len(opened.orphans) + (len(beside.unreadable) if beside is not None else 0)
    if beside is not None and beside.unreadable:
        kept.problems += tuple(
            Problem(
                Code.BAD_TABLE,
                "the row has not as many cells as the header",
                beside.name,
                max(n, 0),
                found=t[:60],
            )
            for n, t in beside.unreadable
        )
