"""What was done on the day: the blank form, the filled one taken whole or not at all, and tracing of tissue."""

import copy
import csv
import io
from pathlib import Path
from typing import Any

import pypdf
import pytest
import yaml
from click.testing import CliRunner

from candidacy.case.load import case_to_yaml, yaml_dumper
from candidacy.cli import group
from candidacy.course.load import load_course, parse_course
from candidacy.day.checklist import checklist
from candidacy.day.form import blank_form
from candidacy.day.take import Taken, read_filled, take_day, with_session
from candidacy.day.tracking import tracking, tracking_csv, tracking_pdf, tracking_text
from candidacy.foundation.errors import Code, CourseError, InputError, Problem
from candidacy.foundation.files import parse_collecting
from candidacy.rules.libraries import load_rule_set
from tests.day.cases import DAY, demo

MORNING = "morning-of-the-procedure"
UNIT = {"code": "W1234-26-000017", "lot": "LOT-7", "expires": "2027-03-31", "thaw_began": "2026-12-10T09:20",
        "thaw_ended": "2026-12-10T09:40", "disposition": "rest_discarded"}  # fmt: skip


def load(text: str) -> Any:
    return parse_collecting(text, "text")[0].plain()


def dump(form: Any) -> str:
    return yaml.dump(form, Dumper=yaml_dumper(), sort_keys=False)


def blank() -> str:
    return blank_form(demo(MORNING), load_rule_set("practice_baseline"), ("L4-L5",), DAY)


def filled() -> dict[str, Any]:
    """The form with everything answered as it should be."""
    form: dict[str, Any] = load(blank())
    lines = {line.id: line for line in checklist().lines}
    for check in form["checks"]:
        leaving = lines[check["id"]].asked == "leaving"
        check |= {"answer": "yes", "by": "nurse", "at": f"2026-12-10T{'11:30' if leaving else '09:45'}"}
    form["discs"] = [{
        "level": "L4-L5", "material": "donated disc tissue", "units": [dict(UNIT)], "volume": {"value": 1.2, "unit": "mL"},
        "peak_pressure": {"value": 40, "unit": "psi"}, "contrast_in_injectate": False, "injected_at": "2026-12-10T10:00",
        "ended_because": "volume_given",
    }]  # fmt: skip
    form |= {"recovery": "no new pain, legs strong", "discharged": "2026-12-10T12:00"}
    return form


def taken(form: dict[str, Any], course: str = "") -> Taken:
    one, tree = read_filled(dump(form), "day.yaml")
    return take_day(one, tree, "day.yaml", parse_course(course) if course else None)


def refused(form: dict[str, Any], course: str = "") -> tuple[Problem, ...]:
    with pytest.raises(InputError) as found:
        taken(form, course)
    return found.value.problems


def test_the_form_is_blank_and_says_so_of_every_answer() -> None:
    form = load(blank())
    assert {check["answer"] for check in form["checks"]} == {None}
    assert {check["by"] for check in form["checks"]} == {None}
    assert form["discs"][0]["level"] is None
    problems = refused(form)
    fields = {problem.field for problem in problems}
    assert {
        "checks.0.answer",
        "discs.0.level",
        "discs.0.units.0.lot",
        "discs.0.contrast_in_injectate",
        "recovery",
    } <= fields
    assert {problem.code for problem in problems} == {Code.MISSING_KEY}
    assert all(problem.line for problem in problems)


def test_a_filled_form_begins_a_course_record_that_reads_back() -> None:
    found = taken(filled())
    text = with_session("", found, "course.yaml")
    record = parse_course(text).record
    assert record == found.course.record
    (session,) = record.injections
    assert (session.date, session.discs[0].level, session.discs[0].units[0].lot) == (
        "2026-12-10",
        "L4-L5",
        "LOT-7",
    )
    assert session.discs[0].volume is not None
    assert (session.discs[0].volume.value, session.discharged, session.assessed) == (
        1.2,
        "2026-12-10T12:00",
        session.assessed,
    )
    assert session.assessed is not None
    assert session.assessed.standing == "candidate"
    assert {check.answer for check in session.checks} == {"yes"}
    assert (found.loud, found.events, record.invented) == ((), 0, True)


def test_a_session_is_set_into_a_record_whose_comments_stay() -> None:
    first = with_session("", taken(filled()), "course.yaml")
    course = (
        "# kept by the coordinator\n"
        + first.replace("  date: '2026-12-10'", '  date: "2026-12-10"  # a Thursday')
        + ('visits:\n  # the first call\n  - {date: "2026-12-11", kind: unplanned, note: well}\n')
    )
    form = filled()
    form["date"] = form["assessed"]["on"] = "2026-12-17"
    form = load(dump(form).replace("2026-12-10T", "2026-12-17T").replace("000017", "000018"))
    form["discs"][0]["again_because"] = "the first volume leaked"
    found = taken(form, course)
    made = with_session(course, found, "course.yaml")
    for line in course.splitlines():
        assert line in made.splitlines()
    assert [each.date for each in parse_course(made).record.injections] == ["2026-12-10", "2026-12-17"]
    assert parse_course(made).record == found.course.record


def test_the_same_session_is_not_taken_twice() -> None:
    first = with_session("", taken(filled()), "course.yaml")
    (problem,) = refused(filled(), first)
    assert (problem.code, problem.field) == (Code.CONTRADICTION, "date")
    assert "already" in problem.message
    later = load(dump(filled()).replace("2026-12-10", "2026-12-17"))
    (problem,) = refused(later, first)  # another day, and a container that was used before
    assert (problem.field, problem.found) == ("discs.0.units.0.code", "W1234-26-000017")


def _with(path: tuple[Any, ...], value: Any) -> dict[str, Any]:
    form = copy.deepcopy(filled())
    place: Any = form
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return form


DISC = ("discs", 0)


@pytest.mark.parametrize(
    ("path", "value", "code", "field"),
    [
        ((*DISC, "volume"), {"value": 1.2, "unit": "L"}, Code.BAD_UNIT, "discs.0.volume.unit"),
        ((*DISC, "volume"), {"value": 1.2}, Code.MISSING_KEY, "discs.0.volume"),
        ((*DISC, "volume"), {"value": 0, "unit": "mL"}, Code.IMPOSSIBLE_VALUE, "discs.0.volume.value"),
        ((*DISC, "peak_pressure"), {"value": 40}, Code.MISSING_KEY, "discs.0.peak_pressure"),
        ((*DISC, "level"), "C5-C6", Code.CONTRADICTION, "differs_because"),
        ((*DISC, "units"), [], Code.MISSING_KEY, "discs.0.units"),
        ((*DISC, "units", 0, "lot"), " ", Code.MISSING_KEY, "discs.0.units.0.lot"),
        ((*DISC, "units", 0, "code"), "123-45-6789", Code.IMPOSSIBLE_VALUE, "discs.0.units.0.code"),
        ((*DISC, "units", 0, "code"), f"X-{MORNING}", Code.IMPOSSIBLE_VALUE, "discs.0.units.0.code"),
        ((*DISC, "units", 0, "expires"), "31.3.2027", Code.BAD_DATE, "discs.0.units.0.expires"),
        ((*DISC, "units", 0, "thaw_ended"), "2026-12-10T10:20", Code.CONTRADICTION, "discs.0.units.0.thaw_ended"),
        ((*DISC, "units", 0, "thaw_ended"), "2026-12-10T09:10", Code.CONTRADICTION, "discs.0.units.0.thaw_ended"),
        ((*DISC, "injected_at"), "2026-12-11T10:00", Code.CONTRADICTION, "discharged"),
        ((*DISC, "injected_at"), "10:00", Code.BAD_DATE, "discs.0.injected_at"),
        (("discharged",), "2026-12-10T08:00", Code.CONTRADICTION, "discharged"),
        (("checks", 0, "at"), "2026-12-09T09:00", Code.CONTRADICTION, "checks.0.at"),
        (("checks", 0, "at"), "2026-12-10T10:30", Code.CONTRADICTION, "checks.0.at"),
        (("checks", 0, "by"), "Jane Miller", Code.IMPOSSIBLE_VALUE, "checks.0.by"),
        (("checks", 0, "answer"), "no", Code.MISSING_KEY, "checks.0.note"),
        (("checks", 0, "answer"), "not_applicable", Code.BAD_CHOICE, "checks.0.answer"),
        (("checks", 0, "answer"), True, Code.WRONG_TYPE, "checks.0.answer"),
        (("checks", 0, "id"), "identiti", Code.BAD_CHOICE, "checks.0.id"),
        (("assessed", "standing"), "borderline", Code.MISSING_KEY, "went_on"),
        (("dischraged",), "x", Code.UNKNOWN_KEY, "dischraged"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_refused_with_its_place(path: Any, value: Any, code: Code, field: str) -> None:
    problems = refused(_with(path, value))
    assert (code, field) in {(problem.code, problem.field) for problem in problems}, problems


def test_a_line_that_is_taken_out_is_missed() -> None:
    form = filled()
    gone = form["checks"].pop(3)
    (problem,) = refused(form)
    assert problem.expected.startswith(gone["id"])


def test_another_disc_than_planned_is_refused_until_a_reason_is_written_and_then_told_loudly() -> None:
    form = _with((*DISC, "level"), "L5-S1")
    problems = refused(form)
    assert {problem.field for problem in problems} == {"differs_because"}
    assert any("NOT planned" in problem.message for problem in problems)
    form["differs_because"] = "the count was wrong and was seen on the kept image"
    found = taken(form)
    assert any(words.startswith("NOT AS PLANNED. L5-S1 was injected") for words in found.loud)
    (event,) = found.course.record.events
    assert ("not planned" in event.what, event.grade, event.serious) == (True, None, None)
    assert parse_course(with_session("", found, "c")).record == found.course.record


def test_a_container_past_its_expiry_is_an_event_to_report() -> None:
    form = _with((*DISC, "units", 0, "expires"), "2026-12-09")
    assert "expiry 2026-12-09" in refused(form)[0].message
    form["differs_because"] = "seen afterwards"
    found = taken(form)
    assert any(words.startswith("EXPIRED") for words in found.loud)
    assert "past its expiry" in found.course.record.events[0].what
    assert parse_course(with_session("", found, "c")).record == found.course.record


def test_contrast_and_a_no_are_told_loudly_and_recorded() -> None:
    form = _with((*DISC, "contrast_in_injectate"), True)
    form["checks"][0] |= {"answer": "no", "note": "label was printed anew, then identity was settled"}
    found = taken(form)
    assert any(words.startswith("CONTRAST") for words in found.loud)
    assert any(words.startswith("STOP was answered with no") for words in found.loud)
    assert found.course.record.injections[0].checks[0].note


# --- the command line


def run(*arguments: str | Path) -> tuple[int, str]:
    try:
        result = CliRunner().invoke(group, [str(each) for each in arguments], standalone_mode=False)
    except InputError as error:  # pragma: no cover
        return 2, str(error)
    if isinstance(result.exception, InputError):
        return 2, str(result.exception)
    assert result.exception is None, result.exception
    return 0, result.output


def test_from_form_to_record_to_tracking_on_the_command_line(tmp_path: Path) -> None:
    case, day, course = tmp_path / "case.yaml", tmp_path / "day.yaml", tmp_path / "course.yaml"
    case.write_text(case_to_yaml(demo(MORNING).record))
    assert run("day", "form", case, "--disc", "L4/5", "--on", "2026-12-10", "--out", day)[0] == 0
    assert day.read_text() == blank()
    code, said = run("day", "take", day, "--course", course)
    assert (code, "not answered" in said, course.exists()) == (2, True, False)
    day.write_text(dump(filled()))
    code, said = run("day", "take", day, "--course", course)
    assert (code, "Session 1 of 2026-12-10 (L4-L5)" in said) == (0, True)
    before = course.read_bytes()
    code, said = run("day", "take", day, "--course", course)
    assert (code, "already" in said, course.read_bytes() == before) == (2, True, True)
    code, said = run("day", "tracking", course)
    assert (code, f"{UNIT['code']} -> {MORNING}, L4-L5, 2026-12-10" in said) == (0, True)
    assert load_course(course).record.injections[0].checks


# --- tracing


def test_tracking_leads_both_ways_by_code_alone() -> None:
    record = taken(filled()).course.record
    rows = tracking([record])
    assert [
        (row.code, row.recipient, row.disc, row.volume, row.disposition, row.trouble) for row in rows
    ] == [(UNIT["code"], MORNING, "L4-L5", "1.2 mL", "rest discarded", "")]
    text = tracking_text(rows)
    assert f"{UNIT['code']} -> {MORNING}" in text
    assert f"{MORNING} -> {UNIT['code']}" in text
    (read,) = csv.DictReader(io.StringIO(tracking_csv(rows)))
    assert (read["code"], read["lot"], read["recipient"]) == (UNIT["code"], "LOT-7", MORNING)
    printed = " ".join(pypdf.PdfReader(io.BytesIO(tracking_pdf(rows))).pages[0].extract_text().split())
    assert "From recipient to container" in printed
    assert "LOT-7" in printed


def test_what_cannot_be_traced_is_told() -> None:
    base = taken(filled()).course.record
    other = base.model_copy(update={"case": "case-2"})
    rows = tracking([base, other])
    assert {row.trouble for row in rows} == {"this code stands 2 times"}
    bare = base.injections[0].model_copy(
        update={"discs": (base.injections[0].discs[0].model_copy(update={"units": ()}),)}
    )
    (row,) = tracking([base.model_copy(update={"injections": (bare,)})])
    assert "no code" in row.trouble
    assert "NO CODE" in tracking_text([row])
    odd = UNIT | {"code": "=1+1"}
    (row,) = tracking([taken(_with((*DISC, "units"), [odd])).course.record])
    assert "'=1+1" in tracking_csv([row])


def test_a_unit_that_went_into_no_disc_is_traced_too() -> None:
    spare = UNIT | {"code": "W1234-26-000099", "disposition": "discarded"}
    rows = tracking([taken(_with(("unused_units",), [spare])).course.record])
    assert [(row.code[-2:], row.disc, row.disposition) for row in rows] == [
        ("17", "L4-L5", "rest discarded"),
        ("99", "none", "discarded"),
    ]


def test_a_real_session_is_not_set_into_an_invented_record() -> None:
    (problem,) = refused(filled() | {"invented": False}, with_session("", taken(filled()), "c"))
    assert (problem.field, "invented" in problem.expected) == ("invented", True)


def test_a_course_record_of_another_case_is_refused() -> None:
    other = with_session("", taken(filled()), "c").replace(f"case: {MORNING}", "case: case-2")
    (problem,) = refused(filled(), other)
    assert (problem.field, problem.expected) == ("case", "case-2")
    with pytest.raises(CourseError):
        read_filled("planned: [", "day.yaml")


def test_a_form_without_lines_is_refused_whatever_version_it_bears() -> None:
    form = filled()
    form["checks"], form["checklist"] = [], "9.9.9"
    assert "checks" in {problem.field for problem in refused(form)}


def test_lines_that_a_form_of_another_version_does_not_ask_are_told() -> None:
    form = filled()
    first = form["checks"][0]["id"]
    form["checks"] = [check for check in form["checks"] if check["id"] != first]
    form["checklist"] = "9.9.9"
    assert any(each.startswith("NOT ASKED") and first in each for each in taken(form).loud)


def test_times_of_another_day_are_told() -> None:
    form = filled()
    form["discharged"] = "2027-01-12T10:00"
    form["discs"][0]["units"][0] |= {"thaw_began": "2025-12-10T09:50", "thaw_ended": "2025-12-10T09:55"}
    assert [each.split(".")[0] for each in taken(form).loud] == ["ANOTHER DAY", "ANOTHER DAY"]
