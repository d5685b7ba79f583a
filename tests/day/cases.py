"""Cases and sheets that the tests of the day share."""

import io
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any, Literal

import pypdf

from candidacy.case.load import Case, load_case
from candidacy.day.checklist import checklist
from candidacy.day.sheet import DaySheet, SheetLine, day_sheet
from candidacy.day.sheet_pdf import sheet_pdf
from candidacy.foundation.errors import CaseError
from candidacy.foundation.values import Members
from candidacy.rules.libraries import load_rule_set
from candidacy.rules.resolved import RuleSet

DEMO = Path(__file__).resolve().parents[2] / "demo_cases"
DAY = date(2026, 12, 10)


@cache
def demo(name: str) -> Case:
    return load_case(DEMO / f"{name}.yaml")


def planned(case: Case) -> tuple[str, ...]:
    """The first two discs that are considered."""
    fact = case.facts.patient.get("discs_under_consideration")
    assert fact is None or fact.value is None or isinstance(fact.value, Members)
    return tuple(sorted(fact.value.certain))[:2] if fact is not None and fact.value is not None else ()


@cache
def demo_sheets() -> dict[str, DaySheet]:
    """The sheet of every demo case in which a disc is considered, as of one day."""
    found = {}
    for path in sorted(DEMO.glob("*.yaml")):
        try:
            case = demo(path.stem)
        except CaseError:  # one of them is shown for what is refused
            continue
        if planned(case):
            found[path.stem] = sheet(case)
    return found


@cache
def demo_pdf(name: str, paper: Literal["A4", "Letter"] = "Letter") -> tuple[str, ...]:
    """The words of each page of the printed sheet of a demo case."""
    pages = pypdf.PdfReader(io.BytesIO(sheet_pdf(demo_sheets()[name], checklist(), paper))).pages
    return tuple(" ".join(page.extract_text().split()) for page in pages)


@cache
def _rules(identifier: str) -> RuleSet:
    return load_rule_set(identifier)


def sheet(case: Case, rules: str = "practice_baseline", on: date = DAY, **more: Any) -> DaySheet:
    return day_sheet(case, _rules(rules), planned(case), on, **more)


def line(found: DaySheet, identifier: str) -> SheetLine:
    return next(each for each in found.lines if each.id == identifier)
