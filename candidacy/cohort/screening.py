"""The front door of cohort screening: a table, a rule set and a day give a cohort with its outcomes."""

import re
import tempfile
from collections.abc import Callable, Iterator
from collections.abc import Mapping as Table
from contextlib import ExitStack, contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from candidacy.cohort.columns.query import read
from candidacy.cohort.engines.embedded import EmbeddedEngine
from candidacy.cohort.engines.engine import Engine
from candidacy.cohort.inputs.case_folder import is_case_folder, take_case_folder
from candidacy.cohort.inputs.headers import refusal
from candidacy.cohort.inputs.kept import Kept
from candidacy.cohort.inputs.mapping import Mapping, load_mapping
from candidacy.cohort.inputs.table_arguments import TableArguments
from candidacy.cohort.result import Cohort
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import Code, TableError
from candidacy.rules.libraries import load_rule_set
from candidacy.rules.resolved import RuleSet

if TYPE_CHECKING:
    import pandas as pd

EngineName = Literal["embedded", "spark"]
# Told while it runs: what is being done, and how far of how many steps.
Progress = Callable[[str, int, int], None]
_STEPS = 4
_MEMORY = re.compile(r"(\d{1,6}(?:\.\d+)?)\s*([KMGT]i?B)", re.IGNORECASE)
_SIZES = {"K": 1e3, "M": 1e6, "G": 1e9, "T": 1e12}
_LEAST_MEMORY = 2e8


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
        Sheet of a workbook or table of a database file, for the first table. For any table it may stand behind
        the path: ``book.xlsx#discs``.
    delimiter
        Of every CSV file whose header contains it; the header decides otherwise.
    memory
        Most memory of the embedded engine before it spills; of each worker of the distributed one.
    work
        Folder for working files; one of the system's otherwise. Removed when the cohort is closed.
    progress
        Told what is being done, and which step of how many it is.

    Returns
    -------
    Cohort
        Use it as a context manager, or close it.

    Raises
    ------
    TableError
        E101 to E109 for a file, E501 for a table, E502 for a mapping that cannot be used, E601 for an unknown
        list, engine, delimiter or amount of memory.
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
    tables = TableArguments(table, discs, lists or {}, mapped, part, delimiter)
    tables.check()
    _check_memory(memory)
    with ExitStack() as stack:
        tell("reading the table", 0, _STEPS)
        kept = Kept(folder=_folder(work, stack))
        kept.inputs.mapping = mapped
        local = EmbeddedEngine(kept.folder, memory)
        stack.callback(local.close)
        chosen = _engine(engine, local, kept.folder, memory, stack)
        stack.enter_context(_named(kept, table))
        if isinstance(table, str | Path) and is_case_folder(Path(table)):
            tables.check_alone()
            take_case_folder(kept, Path(table), chosen, lambda what: tell(what, 0, _STEPS))
        else:
            tables.take(kept, chosen, local)
        tell("preparing the criteria", 1, _STEPS)
        evaluation = read(kept.frame, rules, as_of)
        tell("reading every case", 2, _STEPS)
        evaluation.hold()
        outcomes = kept.folder / "outcomes.parquet"
        chosen.write(evaluation.outcome_query(), outcomes)
        chosen.open_parquet("outcomes", outcomes)
        kept.inputs.check()
        tell("done", _STEPS, _STEPS)
        return Cohort(evaluation, kept, outcomes, "outcomes", stack.pop_all())


@contextmanager
def _named(kept: Kept, table: Any) -> Iterator[None]:
    """An engine does not know which table it reads: say so, and whether the table is still what it was."""
    try:
        yield
    except TableError as error:
        if all(problem.file for problem in error.problems):
            raise
        kept.inputs.check()
        name = str(table) if isinstance(table, str | Path) else "DataFrame"
        raise TableError([replace(each, file=each.file or name) for each in error.problems]) from error
    except OSError as error:
        kept.inputs.check()
        raise refusal(
            str(kept.folder), "a working file cannot be written or read", found=error.strerror or error,
            next_step="free some space in the folder for temporary files; nothing was left half-written",
        ) from error  # fmt: skip


def _folder(work: Path | None, stack: ExitStack) -> Path:
    """A folder for working files that is removed in the end."""
    try:
        made = tempfile.TemporaryDirectory(prefix="candidacy-cohort-", dir=work, ignore_cleanup_errors=True)
    except OSError as error:
        raise refusal(
            str(work or tempfile.gettempdir()), "no working files can be made there", Code.UNREADABLE,
            found=error.strerror or "", next_step="free some space, or set TMPDIR to a folder you may write to",
        ) from error  # fmt: skip
    return Path(stack.enter_context(made))


def _engine(
    engine: EngineName | Engine, local: EmbeddedEngine, folder: Path, memory: str, stack: ExitStack
) -> Engine:
    if engine == "embedded":
        return local
    if engine == "spark":
        from candidacy.cohort.engines.distributed import SparkEngine

        made: Engine = SparkEngine(folder, memory=memory)
    elif isinstance(engine, str):
        raise refusal("engine", "no such engine", Code.USAGE, found=engine, expected="embedded, spark")
    else:
        made = engine.another(folder)
    stack.callback(made.close)
    return made


def _check_memory(memory: str) -> None:
    """Refuse what is no amount of memory, or too little to work with."""
    found = _MEMORY.fullmatch(memory.strip())
    if found is None or float(found[1]) * _SIZES[found[2][0].upper()] < _LEAST_MEMORY:
        raise refusal(
            "memory", "not an amount of memory to work with", Code.USAGE, found=memory,
            expected="at least 200MB, such as 500MB or 2GB",
        )  # fmt: skip
