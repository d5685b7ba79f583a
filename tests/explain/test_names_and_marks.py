"""Standings named by what a rule set is for, findings in words, and marks that mislead nobody."""

import io
import json
import re
from datetime import date

import pytest
from rich.console import Console

from candidacy.assessment.assess import assess
from candidacy.case.edit import with_fact
from candidacy.case.load import case_from_record, load_case
from candidacy.case.record import FactEntry
from candidacy.explain.build import build_document
from candidacy.explain.found import in_sentence, mark_of
from candidacy.explain.page import page
from candidacy.explain.ruleset import describe_rule_set
from candidacy.explain.text import print_document
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set, shipped
from tests.explain.test_forms import parsed

CHECKLISTS = ("procedural_safety", "report_completeness", "wide_screen", "disc_source")


def _document(name, rules, edits=()):
    record = load_case(demo_cases_folder() / f"{name}.yaml").record
    for subject, element, entry in edits:
        record = with_fact(record, subject, element, FactEntry(**entry))
    day = date.fromisoformat(record.as_of)
    return build_document(assess(case_from_record(record), load_rule_set(rules), day, "direct"))


def _cells(document):
    """Cells of the table of discs of the printed page: label -> text by level."""
    html = page(document)
    table = html[html.index("<h3>Discs</h3>") : html.index("</table>")]
    rows = re.findall(r'<tr><th scope="row">(.*?)</th>(.*?)</tr>', table, re.S)
    levels = [disc.level for disc in document.discs]
    return {
        label: dict(zip(levels, (re.sub("<.*?>", "", c).strip() for c in re.findall("<td.*?</td>", rest, re.S)), strict=True))
        for label, rest in rows
    }  # fmt: skip


# --- names


@pytest.mark.parametrize("name", CHECKLISTS)
def test_no_checklist_calls_anybody_a_candidate(name):
    order = shipped().rule_set(name).decisions
    said = [*order.names.values(), *order.counted.values(), *(r.means + r.next_step for r in order.rules)]
    said += [order.not_yet.name, order.not_yet.next_step] if order.not_yet else []
    assert not [text for text in said if "candidate" in text.lower()]


@pytest.mark.parametrize(
    ("case", "rules", "name"),
    [
        ("morning-of-the-procedure", "procedural_safety", "Clear to go ahead"),
        ("morning-with-reasons-to-wait", "procedural_safety", "Wait"),
        ("cauda-equina-signs", "procedural_safety", "Stop and act"),
        ("three-discs-considered", "procedural_safety", "Do not go ahead"),
        ("one-disc-candidate", "wide_screen", "Worth a work-up"),
        ("extruded-disc", "wide_screen", "Not worth a work-up"),
        ("pregnant", "wide_screen", "Not worth a work-up now"),
        ("one-disc-candidate", "disc_source", "Source shown"),
        ("three-discs-considered", "disc_source", "Source not shown"),
        ("one-disc-candidate", "practice_baseline", "Candidate"),
        ("extruded-disc", "practice_baseline", "Not a candidate"),
        ("pregnant", "practice_baseline", "Not yet"),
    ],
)
def test_the_answer_bears_the_name_that_fits_what_the_rule_set_is_for(case, rules, name):
    document = _document(case, rules)
    assert document.standing_name == name
    assert document.reason[0].startswith(f"{name} under ")
    assert name in parsed(page(document)).text


def test_the_json_names_the_standing_and_what_it_waits_for():
    data = json.loads(_document("pregnant", "practice_baseline").to_json())
    assert (data["standing"], data["standing_name"]) == ("not_candidate", "Not yet")
    assert data["not_yet"]["earliest"] is None
    assert [part["criterion"] for part in data["not_yet"]["after"]] == ["pregnancy_present"]
    assert json.loads(_document("extruded-disc", "practice_baseline").to_json())["not_yet"] is None
    mended = {
        c["id"]: c["mendable"]
        for c in data["criteria"]
        if c["outcome"] == "fail" and c["subject"] == "patient"
    }
    assert mended["pregnancy_present"]["how"] == "time"


@pytest.mark.parametrize(
    ("case", "rules", "says"),
    [
        ("pregnant", "practice_baseline", "○ Not yet"),
        ("discography-nine-days-ago", "practice_baseline", "○ Not yet"),
        ("morning-with-reasons-to-wait", "procedural_safety", "○ Wait"),
        ("extruded-disc", "practice_baseline", "✗ Not a candidate"),
    ],
)
def test_what_can_be_mended_never_bears_the_mark_of_a_refusal(case, rules, says):
    """In text and page alike, of the case and of its discs."""
    document = _document(case, rules)
    out = io.StringIO()
    print_document(Console(file=out, width=160), document)
    assert says.upper() in out.getvalue()
    assert says in parsed(page(document)).text
    assert document.shown == ("not_candidate" if says.startswith("✗") else "not_yet")
    for disc in document.discs:
        assert (disc.shown == "not_yet") is (disc.standing_name == says[2:] and says.startswith("○"))


@pytest.mark.parametrize("rules", ["procedural_safety", "practice_baseline"])
def test_no_disc_of_an_urgent_case_is_called_clear_or_a_candidate(rules):
    document = _document("cauda-equina-signs", rules)
    assert document.standing == "urgent"
    assert {d.standing_name for d in document.discs if d.standing == "candidate"} == {"Passes"}
    whole = _document("one-disc-candidate", "practice_baseline")
    assert "Candidate" in {d.standing_name for d in whole.discs if d.considered == "met"}


def test_the_names_of_a_rule_set_stand_in_its_own_document():
    names = {
        entry.standing: entry.standing_name
        for entry in describe_rule_set(load_rule_set("procedural_safety")).decisions
    }
    assert names["candidate"] == "Clear to go ahead"


# --- what was found


def test_a_row_that_passes_says_what_was_found_and_not_the_danger():
    rows = {
        c.id: c
        for c in _document("one-disc-candidate", "practice_baseline").criteria
        if c.subject == "patient"
    }
    assert rows["cauda_equina_signs_present"].found == "No signs of cauda equina syndrome"
    failing = _document("cauda-equina-signs", "practice_baseline")
    assert (
        next(c for c in failing.criteria if c.id == "cauda_equina_signs_present").found
        == "Signs of cauda equina syndrome"
    )


def test_every_exclusion_of_the_library_says_something_else_where_it_passes_than_its_title():
    library = shipped()
    for name in library.criterion_names():
        criterion = library.criterion(name)
        assert criterion.found is not None
        if criterion.kind == "exclusion":
            assert criterion.found.pass_ != criterion.title, name
        assert "(the limit itself" not in criterion.title, name


def test_no_outcome_is_put_behind_a_title_that_says_the_contrary():
    document = _document("heavy-patient-for-conference", "practice_baseline")
    assert "body mass index not below the limit" in document.reason[0]
    assert "fails (" not in document.reason[0]
    waiting = _document("leaking-disc", "practice_baseline")
    assert "or still open fails" not in " ".join(waiting.reason)


@pytest.mark.parametrize(
    ("phrase", "said"),
    [("INR normal", "INR normal"), ("Oswestry index", "Oswestry index"), ("No fever", "no fever"),
     ("HbA1c within", "HbA1c within"), ("T-score low", "T-score low"), ("C-reactive protein", "C-reactive protein"),
     ("C reactive", "C reactive"), ("A gap", "a gap"), ("SSRI or SNRI", "SSRI or SNRI")],
)  # fmt: skip
def test_a_phrase_inside_a_sentence_keeps_the_capitals_of_names(phrase, said):
    assert in_sentence(phrase) == said


# --- marks


@pytest.mark.parametrize(
    ("outcome", "kind", "force", "mark"),
    [("fail", "exclusion", "advisory", "noted"), ("pass", "exclusion", "advisory", "not_seen"),
     ("pass", "inclusion", "advisory", "noted"), ("fail", "inclusion", "advisory", "not_seen"),
     ("undetermined", "inclusion", "advisory", "undetermined"), ("fail", "exclusion", "relative", "fail")],
)  # fmt: skip
def test_a_finding_that_only_supports_is_noted_unless_a_rule_set_lets_it_decide(outcome, kind, force, mark):
    assert mark_of(outcome, kind, force, True) == mark


def test_a_high_intensity_zone_is_noted_and_never_a_failure():
    document = _document("one-disc-candidate", "practice_baseline")
    shown = {c.subject: c.shown for c in document.criteria if c.id == "high_intensity_zone"}
    assert shown["L4-L5"] == "noted"
    cells = _cells(document)["High-intensity zone in the posterior annulus"]
    assert cells["L4-L5"] == "• noted"
    assert not [text for text in cells.values() if "FAIL" in text]


@pytest.mark.parametrize("rules", ["procedural_safety", "practice_baseline"])
def test_only_considered_discs_bear_a_tick(rules):
    document = _document("morning-of-the-procedure", rules)
    ignored = [disc.level for disc in document.discs if disc.considered == "not_met"]
    assert ignored
    cells = _cells(document)
    assert all(cells["Standing"][level] == "not considered" for level in ignored)
    assert not [text for row in cells.values() for level in ignored if (text := row[level]) and "✓" in text]
    assert any("✓" in row["L4-L5"] for row in cells.values())
