"""The calls at the top of the package. Each loads what it needs when it is called."""

import os
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from candidacy.foundation.errors import Code, InputError, Problem, ReportError, shorten
from candidacy.interface.answer import Answer, SideBySide
from candidacy.interface.inputs import (
    DEFAULT_RULES,
    CaseSource,
    Day,
    RuleSource,
    day_of,
    load_case,
    load_rule_set,
)

if TYPE_CHECKING:
    import pandas as pd

    from candidacy.cohort.engines.engine import Engine
    from candidacy.cohort.inputs.mapping import Mapping as ColumnMapping
    from candidacy.cohort.result import Cohort
    from candidacy.cohort.screening import Progress
    from candidacy.explain.ruleset import RuleSetDocument
    from candidacy.reading.model import Reading
    from candidacy.rules.library import Library

ChainerName = Literal["durable-rules", "direct"]


def assess(
    case: CaseSource,
    rules: RuleSource = DEFAULT_RULES,
    *,
    as_of: Day | None = None,
    engine: ChainerName = "durable-rules",
) -> Answer:
    """Assess a case under a rule set as of a day.

    Parameters
    ----------
    case
        A path, a mapping as read from YAML or JSON, a record, or a loaded case.
    rules
        A rule set by id or path, or a loaded one.
    as_of
        The day for which ages and intervals are counted, as a date or YYYY-MM-DD; else that of the record, else today.
    engine
        Chainer for the decision rules; both give the same answer.

    Raises
    ------
    CaseError, RuleError, InputError
        With everything that is wrong with the case, the rule set, the day or the name of the chainer.

    Examples
    --------
    >>> from candidacy.foundation.shipped import demo_cases_folder
    >>> assess(demo_cases_folder() / "pregnant.yaml", as_of="2026-12-02").standing
    'not_candidate'
    """
    from candidacy.assessment.assess import assess as assess_loaded

    loaded = load_case(case)
    rule_set = load_rule_set(rules)
    if engine not in ("durable-rules", "direct"):
        raise InputError([Problem(Code.BAD_CHOICE, "no such chainer", field="engine", found=shorten(engine),
                                  expected="durable-rules, direct")])  # fmt: skip
    return Answer(assess_loaded(loaded, rule_set, day_of(as_of, loaded), engine))


def compare(case: CaseSource, rules: Sequence[RuleSource], *, as_of: Day | None = None) -> SideBySide:
    """Assess a case under several rule sets as of one day, side by side; see `assess`.

    Raises
    ------
    InputError
        E601 for fewer than two rule sets or one named twice, and as `assess`.
    """
    if isinstance(rules, str | os.PathLike) or len(rules) < 2:
        raise _usage("a comparison needs two rule sets or more", "rules", "a list of ids or paths")
    loaded = load_case(case)
    sets = [load_rule_set(each) for each in rules]
    if len({rule_set.digest for rule_set in sets}) < len(sets):
        raise _usage("the same rule set stands twice", "rules", "rule sets that differ")
    day = day_of(as_of, loaded)
    return SideBySide(tuple(assess(loaded, rule_set, as_of=day) for rule_set in sets))


def screen(
    table: "Path | str | pd.DataFrame",
    rules: RuleSource = DEFAULT_RULES,
    *,
    as_of: Day | None = None,
    discs: "Path | str | pd.DataFrame | None" = None,
    lists: "Mapping[str, Path | str | pd.DataFrame] | None" = None,
    mapping: "ColumnMapping | Path | str | None" = None,
    engine: "Literal['embedded', 'spark'] | Engine" = "embedded",
    part: str = "",
    delimiter: str = "",
    memory: str = "2GB",
    work: Path | None = None,
    progress: "Progress | None" = None,
) -> "Cohort":
    """Screen a table of cases under a rule set as of a day, else today; see `candidacy.cohort.screening.screen`.

    Use the cohort as a context manager, or close it.

    Raises
    ------
    TableError, RuleError, InputError
        With everything that is wrong with the table, its mapping, the rule set or the day.
    """
    from candidacy.cohort.screening import screen as screen_table

    return screen_table(
        table, load_rule_set(rules), day_of(as_of), discs=discs, lists=lists, mapping=mapping, engine=engine,
        part=part, delimiter=delimiter, memory=memory, work=work, progress=progress,
    )  # fmt: skip


def read_report(report: Path | str) -> "Reading":
    """Read an imaging report into findings, each with its words.

    Parameters
    ----------
    report
        The text of a report, or a file of one. One line of text that ends like the name of a report file (.txt,
        .pdf, .docx, .rtf, .html, .xml, .hl7, .json) is a path, so that a file that is not there is never read as its name.

    Raises
    ------
    ReportError
        For a file that cannot be read or holds several reports, for a report without text, and for one that is
        refused: in another language, of another part of the body, withdrawn, or not filled in.
    """
    from candidacy.reading.inputs import SUFFIXES, load
    from candidacy.reading.sent import ReportText
    from candidacy.reading.take import take

    if isinstance(report, str) and ("\n" in report or not report.strip().lower().endswith(SUFFIXES)):
        if not report.strip():
            raise ReportError([Problem(Code.EMPTY, "there is no text to read", "report")])
        return _read(take(ReportText(report, "report", "text")))
    if not isinstance(report, str | os.PathLike):
        raise ReportError([Problem(Code.WRONG_TYPE, "not of the expected form", "report",
                                   found=type(report).__name__, expected="text, or a path")])  # fmt: skip
    found = load(report)
    if len(found) > 1:
        raise ReportError([Problem(Code.BAD_REPORT, "the file holds several reports", str(report),
                                   found=str(len(found)), next_step="give one report a file")])  # fmt: skip
    return _read(take(found[0]))


def _read(taken: "tuple[Reading | None, tuple[Problem, ...]]") -> "Reading":
    reading, problems = taken
    if reading is None:
        raise ReportError(problems)
    return reading


def check_rules(path: Path | str | None = None) -> tuple[Problem, ...]:
    """Check rule content and run the cases beside every criterion; empty where nothing is wrong.

    Parameters
    ----------
    path
        A library folder or any file in it, which is then checked whole, or a rule set file that stands alone; the
        shipped library without it.

    Raises
    ------
    RuleError
        E101 if there is nothing at that path, E109 if there is nothing to check.
    """
    from candidacy.check.opening import Target, target_of
    from candidacy.rules.libraries import shipped

    target = Target(shipped()) if path is None else target_of(Path(path))
    return tuple(target.problems())


def use_library(folder: Path | str) -> "AbstractContextManager[Library]":
    """Put a library of one's own to use as long as it is open, after it was checked whole.

    Every call within takes its rule sets and data elements, those it replaces among them.

    Raises
    ------
    RuleError
        With everything that `check_rules` finds; E601 if another library is in use.
    """
    from candidacy.check.opening import opened

    return opened(folder)


def describe_rule_set(rules: RuleSource = DEFAULT_RULES) -> "RuleSetDocument":
    """A rule set as a document that a committee can read: every criterion, number and source in words."""
    from candidacy.explain.ruleset import describe_rule_set as describe

    return describe(load_rule_set(rules))


def rule_sets() -> dict[str, str]:
    """The rule sets of the library in use, else the shipped ones: title by id."""
    from candidacy.rules.libraries import library_in_use

    library = library_in_use()
    return {name: library.rule_set(name).file.title for name in library.rule_set_names()}


def demo_cases() -> dict[str, Path]:
    """The invented demonstration cases: file by id."""
    from candidacy.foundation.shipped import demo_cases_folder

    return {path.stem: path for path in sorted(demo_cases_folder().glob("*.yaml"))}


def _usage(message: str, field: str, expected: str) -> InputError:
    return InputError([Problem(Code.USAGE, message, field=field, expected=expected)])
