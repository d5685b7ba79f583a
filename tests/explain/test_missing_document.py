"""Missing facts in a document: those that differ only in the entry of a list stand in one row, and none is hidden."""

import io
import json
from random import Random

import pytest
from pydantic import ValidationError
from rich.console import Console

from candidacy.assessment.assess import assess
from candidacy.explain.asked import asked_first
from candidacy.explain.brief import print_brief
from candidacy.explain.build import build_document
from candidacy.explain.compact import compact
from candidacy.explain.compact_schema import compact_schema
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.first_page import first_page
from candidacy.explain.missing_document import MissingInfo, asked_together, each_asked
from candidacy.explain.page import fragment, page
from candidacy.explain.text import print_document
from candidacy.rules.libraries import shipped
from tests.quick_schema import Schema
from tests.reads import AS_OF, case_of

MEDICINES = """\
patient: {planned_procedure_date: 2026-12-10}
medicines:
  complete: true
  taken_out: [3, 6]
  entries:
"""


def document_of(number: int, more: str = "") -> AssessmentDocument:
    """A case of so many medicines, of each of which only the dose is known."""
    rows = "".join(f"    - {{medicine_dose: {{value: {n + 1}, unit: mg}}}}\n" for n in range(number))
    found = assess(case_of(MEDICINES + rows + more), shipped().rule_set("practice_baseline"), AS_OF)
    return build_document(found)


def row(subject: str, **more: object) -> MissingInfo:
    said = {
        "element": "medicine_agent", "ask": "The agent", "why": "not recorded", "weight": "alone", "burden": "question",
        "supplied_by": "referrer", "force": "absolute", "criteria": ["one", "two"],
    }  # fmt: skip
    return MissingInfo.model_validate({**said, "subject": subject, **more})


def key(missing: MissingInfo) -> str:
    return missing.model_dump_json()


def test_rows_that_differ_only_in_the_entry_are_one_with_every_number() -> None:
    together = asked_together(
        [row("medicines[10]"), row("medicines[2]"), row("patient"), row("medicines[1]"), row("medicines[3]")]
    )
    assert [(each.entries, each.facts) for each in together] == [((1, 2, 3, 10), 4), ((), 1)]
    assert [each.of for each in together] == ["medicines 1 to 3 and 10 (4 entries)", "patient"]


@pytest.mark.parametrize(
    "other",
    [{"element": "medicine_class"}, {"ask": "x"}, {"why": "unreadable"}, {"weight": "later"}, {"burden": "imaging"},
     {"supplied_by": "prescriber"}, {"force": "relative"}, {"criteria": ["one"]}],
    ids=lambda other: next(iter(other)),
)  # fmt: skip
def test_rows_that_differ_in_anything_else_stay_apart(other: dict[str, object]) -> None:
    assert [each.entries for each in asked_together([row("medicines[1]"), row("medicines[2]", **other)])] == [
        (),
        (),
    ]


def test_one_entry_and_entries_of_different_lists_stay_as_they_are() -> None:
    rows = [row("medicines[1]"), row("allergies[1]"), row("L4-L5"), row("L5-S1")]
    assert each_asked(asked_together(rows)) == rows


def test_any_rows_come_back_whole_whatever_their_order() -> None:
    rng = Random(4)
    for _ in range(200):
        rows = [
            row(f"{name}[{n}]", weight=rng.choice(("alone", "no")), criteria=[rng.choice("ab")])
            for name in ("medicines", "surgeries")
            for n in rng.sample(range(1, 15), 6)
        ]
        rng.shuffle(rows)
        back = each_asked(asked_together(rows))
        assert sorted(map(key, back)) == sorted(map(key, rows))
        assert each_asked(asked_together(back)) == back


@pytest.mark.parametrize("number", [1, 2, 30])
def test_json_keeps_its_shape_names_each_entry_and_reads_back_equal(number: int) -> None:
    document = document_of(number)
    text = document.to_json()
    data = json.loads(text)
    assert Schema(AssessmentDocument.model_json_schema()).refusals(data) == []
    assert AssessmentDocument.model_validate_json(text) == document
    assert AssessmentDocument.model_validate_json(text).to_json() == text
    told = [
        (m["element"], f"{m['subject']}[{n}]" if n else m["subject"])
        for m in data["missing"]
        for n in m.get("entries", [0])
    ]
    assert told == [(m.element, m.subject) for m in document.missing]
    of_medicines = [m["element"] for m in data["missing"] if m["subject"].startswith("medicines")]
    assert len(set(of_medicines)) == len(of_medicines) > 3  # of like entries one row for each element


def test_the_short_form_names_each_entry_too() -> None:
    document = document_of(9)
    data = compact(document)
    assert Schema(compact_schema()).refusals(json.loads(json.dumps(data))) == []
    told = [
        (m["element"], f"{m['subject']}[{n}]" if n else m["subject"])
        for m in data["missing"]
        for n in m.get("entries", [0])
    ]
    assert told == [(m.element, m.subject) for m in document.missing if m.weight != "no"]


def test_rows_written_one_by_one_are_read_as_before() -> None:
    document = document_of(4)
    data = json.loads(document.to_json())
    data["missing"] = [m.model_dump(mode="json") for m in document.missing]
    assert AssessmentDocument.model_validate_json(json.dumps(data)) == document


@pytest.mark.parametrize("entries", [[], [1], [0, 1], ["1", "2"], "1, 2", None, [1.5, 2]])
def test_entries_that_are_no_numbers_are_refused(entries: object) -> None:
    data = json.loads(document_of(4).to_json())
    next(m for m in data["missing"] if "entries" in m)["entries"] = entries
    with pytest.raises(ValidationError):
        AssessmentDocument.model_validate_json(json.dumps(data))


def test_text_page_and_part_of_a_page_tell_the_entries_and_count_the_facts() -> None:
    document = document_of(8)
    # eight entries beside two numbers that were taken out
    numbers = "medicines 1, 2, 4, 5 and 7 to 10 (8 entries)"
    whole, short = io.StringIO(), io.StringIO()
    print_document(Console(file=whole, width=600), document)
    print_brief(Console(file=short, width=80), document)
    elements = {m.element for m in document.missing if m.subject.startswith("medicines")}
    assert whole.getvalue().count(numbers) == page(document).count(numbers) == len(elements) > 3
    shown = fragment(document)
    left = len(document.missing) - 5
    assert f"and {left} more" in shown
    assert f"and {len(asked_first(document)) - 5} more that could decide" in short.getvalue()


def test_the_first_page_counts_the_facts_that_it_leaves_out() -> None:
    document = document_of(30)
    (missing,) = (block for block in first_page(document).blocks if block.title == "What is missing")
    *shown, more = missing.lines
    wanted = asked_together(asked_first(document))
    assert more == f"and {sum(each.facts for each in wanted[len(shown) :])} more: see the annex"
    assert any(each.facts > 1 for each in wanted[len(shown) :])
