"""Published eligibility protocols, encoded as rule sets, against worked check values and all demonstration cases.

Sources: the registry records and articles named in each protocol's ``ruleset.yaml`` and in
``rulesets/sources.yaml``; every row of ``worked_values.yaml`` carries its tag and the rule as worded there.
"""

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from candidacy.case.load import Case, case_from_record, parse_case
from candidacy.case.record import CaseRecord
from candidacy.check.criterion import check_criterion
from candidacy.check.library import check_rule_set_file
from candidacy.foundation.errors import CaseError, Code, Problem
from candidacy.rules.findings import Findings
from candidacy.rules.libraries import shipped
from candidacy.rules.library import Library
from tests.published.protocols import admission
from tests.published.protocols.admission import DEMO_CASES, FOLDER, keys, outcome, protocol
from tests.quick_yaml import read_yaml
from tests.rows import each_row

AS_OF = date(2026, 11, 25)
ROWS: list[dict[str, Any]] = read_yaml((FOLDER / "worked_values.yaml").read_text(encoding="utf-8"))
PARTS = [(row, part) for row in ROWS for part in row["parts"]]
SHEET_ROWS = 26  # rows of the table of worked check values these were transcribed from


def _case(given: dict[str, Any]) -> Case:
    record = {
        "schema_version": "1",
        "id": "worked-value",
        "documents": {"given": {"kind": "other", "date": AS_OF.isoformat()}},
        "discs": {"L4-L5": {}},
        **given,
    }
    for table in (record.get("patient", {}), *record["discs"].values()):
        for entry in table.values():
            entry.setdefault("source", "given")
    return case_from_record(CaseRecord.model_validate(record))


def _name(value: Any) -> str | None:
    if isinstance(value, dict) and "number" in value:
        return f"row {value['number']} {value['input']}"
    return f"{value['protocol']} {value['criterion']}" if isinstance(value, dict) else None


@each_row(("row", "part"), PARTS, ids=_name)
def test_worked_value_gives_what_the_source_words(row: dict[str, Any], part: dict[str, str]) -> None:
    subject = protocol(part["protocol"]).criterion(part["criterion"]).criterion.subject
    level = "patient" if subject == "patient" else "L4-L5"
    found = outcome(part["protocol"], part["criterion"], _case(row["given"]), AS_OF, level)
    assert found == part["expect"], f"{part['protocol']} words it {part['rule']} [{row['tag']}]"


def test_every_row_of_worked_values_is_here_with_a_tag() -> None:
    assert {row["number"] for row in ROWS} == set(range(1, SHEET_ROWS + 1))
    assert all(row["tag"] == "seen" for row in ROWS)


def test_rows_match_the_sheet_they_were_transcribed_from(shared: Callable[[str], Path]) -> None:
    sheet = shared("reference/published_eligibility_criteria.md").read_text(encoding="utf-8")
    section = sheet.split("## 11.")[1].split("## 12.")[0]
    numbers = [int(found) for found in re.findall(r"^\| (\d+) \|", section, flags=re.MULTILINE)]
    assert numbers == list(range(1, SHEET_ROWS + 1))


@pytest.mark.parametrize(
    "row", [row for row in ROWS if len({p["expect"] for p in row["parts"]}) == 2], ids=_name
)
def test_where_sources_disagree_both_readings_stand(row: dict[str, Any]) -> None:
    answers = {
        outcome(
            part["protocol"],
            part["criterion"],
            _case(row["given"]),
            AS_OF,
            "L4-L5"
            if protocol(part["protocol"]).criterion(part["criterion"]).criterion.subject == "disc"
            else "patient",
        )
        for part in row["parts"]
    }
    assert answers == {"pass", "fail"}


@each_row(("row", "part"), PARTS, ids=_name)
def test_without_the_fact_the_clause_stays_open(row: dict[str, Any], part: dict[str, str]) -> None:
    subject = protocol(part["protocol"]).criterion(part["criterion"]).criterion.subject
    level = "patient" if subject == "patient" else "L4-L5"
    assert outcome(part["protocol"], part["criterion"], _case({}), AS_OF, level) == "undetermined"


# A rule of two visits: NCT-registered phase 1/2 trial of disc progenitor cells, doi:10.14444/8609, table 1 [seen].
@pytest.mark.parametrize(("on_the_day", "expected"), [(40, "pass"), (39, "fail"), (90, "pass"), (91, "fail")])
def test_pain_must_be_in_range_at_both_visits(on_the_day: int, expected: str) -> None:
    case = _case(
        {
            "patient": {
                "back_pain_vas": {"value": 60, "unit": "mm"},
                "back_pain_vas_on_procedure_day": {"value": on_the_day, "unit": "mm"},
            }
        }
    )
    assert outcome("gornet_2024", "back_pain_window", case, AS_OF, "patient") == "pass"
    assert outcome("gornet_2024", "back_pain_window_on_treatment_day", case, AS_OF, "patient") == expected


# Scale collision: "3-6" and "III-V" both mean the 8-grade scale in print (doi:10.14444/7033, NCT03692221) [seen].
def test_a_grade_without_its_scale_is_refused() -> None:
    text = 'schema_version: "1"\nid: bare-grade\ndiscs:\n  L4-L5:\n    degeneration_grade: {value: 4}\n'
    with pytest.raises(CaseError) as refusal:
        parse_case(text)
    assert [problem.code for problem in refusal.value.problems] == [Code.WRONG_SCALE]


def test_a_grade_on_one_scale_never_answers_for_the_other() -> None:
    original = _case({"discs": {"L4-L5": {"pfirrmann_grade": {"value": "IV"}}}})
    modified = _case({"discs": {"L4-L5": {"modified_pfirrmann_grade": {"value": 4}}}})
    assert outcome("nct03692221", "degeneration_window", original, AS_OF, "L4-L5") == "undetermined"
    assert outcome("nct02338271", "degeneration_window", modified, AS_OF, "L4-L5") == "undetermined"
    # NCT05066334 prints one window on both scales [seen]; either satisfies it.
    assert outcome("nct05066334", "degeneration_window", original, AS_OF, "L4-L5") == "pass"
    assert outcome("nct05066334", "degeneration_window", modified, AS_OF, "L4-L5") == "pass"


def _asked_of_a_protocol(problem: Problem) -> bool:
    """What was found in words, and how a failure can be mended, is no part of a protocol as printed.

    Neither is written into these files, where it would pass for the protocol's own; both are asked of every
    criterion that a shipped rule set selects.
    """
    return not (
        problem.code is Code.MISSING_KEY and problem.expected.startswith(("found: {pass", "mendable: {how"))
    )


@pytest.mark.parametrize("key", keys())
def test_protocol_is_well_formed_cited_and_says_what_was_not_seen(key: str) -> None:
    library = Library(FOLDER / key, base=shipped())
    problems = check_rule_set_file(library, FOLDER / key / "ruleset.yaml")
    for identifier, path in library.criterion_files().items():
        findings = Findings(path, library.tree(path))
        check_criterion(library.criterion(identifier), library.sources(), findings)
        problems += findings.problems
    assert [problem for problem in problems if _asked_of_a_protocol(problem)] == []
    written = [library.criterion(identifier) for identifier in library.criterion_files()]
    assert [each.id for each in written if each.found is not None or each.mendable is not None] == []
    rule_set = protocol(key)
    assert rule_set.id == key
    assert key in rule_set.sources
    assert any("Not seen" in limit for limit in rule_set.file.known_limits)
    chosen = {item.id for item in rule_set.criteria}
    assert set(library.criterion_files()) <= chosen, "a clause was written and not selected"
    assert {item.force for item in rule_set.criteria} == {"absolute"}, "a protocol admits or excludes"


@pytest.mark.parametrize("key", keys())
def test_every_number_of_a_protocol_cites_that_protocol(key: str) -> None:
    for item in protocol(key).criteria:
        for parameter in item.parameters.values():
            assert {c.source for c in parameter.cites} & {key, "common_practice"}, (item.id, parameter.name)


def test_at_least_eight_protocols_are_encoded() -> None:
    assert len(keys()) >= 8


def test_every_demonstration_case_gets_an_answer_from_every_protocol() -> None:
    rows = admission.admission_table()
    read = {row.case for row in rows if row.protocol}
    refused = {row.case for row in rows if row.answer == admission.REFUSED}
    assert len(read) + len(refused) == len(list(DEMO_CASES.glob("*.yaml")))
    assert {(row.case, row.protocol) for row in rows if row.protocol} == {
        (c, k) for c in read for k in keys()
    }
    assert all(row.because for row in rows if row.answer in ("refused", "open", admission.NOT_WEIGHED))


def test_protocols_disagree_about_whom_they_refuse() -> None:
    """Published eligibility is not one thing: some case is refused by one protocol and not by another."""
    by_case: dict[str, set[str]] = {}
    for row in admission.admission_table():
        if row.protocol:
            by_case.setdefault(row.case, set()).add(row.answer)
    assert any({"refused"} < answers for answers in by_case.values())


def test_the_table_prints_one_line_a_protocol() -> None:
    lines = admission.markdown(admission.admission_table()).splitlines()
    assert sum(line.startswith("| ") for line in lines) == len(keys()) + 1
