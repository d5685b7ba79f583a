"""Filled forms and events come into a record once, checked, and every other sign of the file stays."""

import csv
import io
import json
from contextlib import suppress
from datetime import date, timedelta

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from candidacy.cli import main
from candidacy.course.append import with_entry
from candidacy.course.filled import blank, forms_of, parse_form, with_event, with_form
from candidacy.course.load import course_to_yaml, load_course, parse_course
from candidacy.foundation.errors import Code, CourseError
from tests.course.courses import PLAIN, course

FORM = {
    "schema_version": "1", "visit": "months_3", "case": "case-1", "injection": 1, "date": "2026-06-02", "seen": "clinic",
    "answers": {"pain_average_week": 3, "oswestry_disability_index": 30, "work_status": "working", "opioid_use": False,
                "satisfaction": "satisfied", "any_later_procedure": False},
    "unanswered": {"pain_medicines_change": "not_asked"},
}  # fmt: skip
TEXT = """# a comment above
schema_version: "1"
case: case-1   # the reference
injections:
  - {id: 1, date: "2026-03-02", discs: [{level: L4-L5, material: donated disc tissue}]}
visits:
# the first
- date: "2026-03-16"   # by telephone
  kind: planned
  of: weeks_2
  answers: {pain_average_week: 5}
  # what follows belongs to nothing
last_contact: {date: "2026-09-20", state: in_follow_up}
"""


def form(**change):
    return parse_form(yaml.safe_dump(FORM | change))


def codes(make):
    with pytest.raises(CourseError) as caught:
        make()
    return {problem.code for problem in caught.value.problems}


@pytest.mark.parametrize(
    "visit", ["baseline", "call", "weeks_2", "months_1", "months_3", "months_6", "months_12", "unplanned"]
)
def test_a_blank_form_asks_what_the_visit_asks_and_holds_no_answer(visit):
    text = blank(visit, "case-1")
    data = yaml.safe_load(text)
    assert list(data["answers"]) == [m.id for each in forms_of(visit) for m in each.measures]
    assert set(data["answers"].values()) == {None}
    assert data["seen"] is None  # nothing is preselected


def test_a_form_is_taken_once_with_its_score_and_in_the_order_of_days():
    sections = {f"odi_section_{n}": 2 for n in range(1, 11)}
    answers = {k: v for k, v in FORM["answers"].items() if k != "oswestry_disability_index"} | sections
    added = with_form(course(), form(answers=answers, date="2026-06-02"))
    visit = added.course.record.visits[added.at]
    assert (added.worked_out, visit.answers["oswestry_disability_index"]) == (
        {"oswestry_disability_index": 40},
        40,
    )
    assert codes(lambda: with_form(added.course, form(answers=answers, date="2026-06-05"))) == {
        Code.CONTRADICTION
    }
    earlier = with_form(added.course, form(visit="unplanned", date="2026-03-20", answers={"fever": True}))
    dates = [each.date for each in earlier.course.record.visits]
    assert dates == sorted(dates)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"case": "case-2"}, Code.USAGE),
        ({"visit": "months_4"}, Code.USAGE),
        ({"unanswered": {}}, Code.UNFILLED),
        ({"answers": {**FORM["answers"], "pain_average_week": None}}, Code.UNFILLED),
        ({"answers": {**FORM["answers"], "pain_average_week": 12}}, Code.IMPOSSIBLE_VALUE),
        ({"date": "2026-06-31"}, Code.BAD_DATE),
        ({"date": "2026-03-01"}, Code.CONTRADICTION),
        ({"injection": 7}, Code.CONTRADICTION),
        ({"unanswered": {"pain_medicines_change": "forgotten"}}, Code.WRONG_TYPE),
    ],
)
def test_a_form_that_does_not_fit_is_refused(change, code):
    assert code in codes(lambda: with_form(course(), form(**change)))


def test_nothing_but_the_new_entry_changes_in_the_file():
    found = parse_course(TEXT)
    added = with_form(found, form())
    made = with_entry(TEXT, added.course.record, added.kind, added.at)
    same = next(at for at, (one, other) in enumerate(zip(TEXT, made, strict=False)) if one != other)
    assert made.endswith(TEXT[same:])  # one piece was set in between
    assert parse_course(made).record == added.course.record
    first = with_form(found, form(visit="call", date="2026-03-03", answers={"pain_now": 4, **dict.fromkeys(
        [m.id for m in forms_of("call")[0].measures if m.kind == "yes_no"], False)}, unanswered={}))  # fmt: skip
    made = with_entry(TEXT, first.course.record, first.kind, first.at)
    assert made.index("2026-03-03") < made.index("# the first") < made.index("2026-03-16")
    event = with_event(found, {"what": "pain_flare", "began": "2026-03-03", "learned": "2026-03-04"})
    made = with_entry(TEXT.replace("\n", "\r\n"), event.course.record, event.kind, event.at)
    assert made.startswith(TEXT.replace("\n", "\r\n"))
    assert "\n" not in made.replace("\r\n", "")


@given(st.integers(0, 3), st.sampled_from(("yaml", "json", "flow")))
def test_an_entry_goes_into_any_layout_and_reads_as_meant(visits, layout):
    data = (
        {**PLAIN, "visits": PLAIN["visits"][:visits]}
        if visits
        else {k: v for k, v in PLAIN.items() if k != "visits"}
    )
    text = {
        "yaml": lambda: yaml.safe_dump(data, sort_keys=False),
        "json": lambda: json.dumps(data, indent=1),
        "flow": lambda: "".join(f"{key}: {json.dumps(value)}  # {key}\n" for key, value in data.items()),
    }[layout]()
    found = parse_course(text)
    added = with_form(found, form())
    made = with_entry(text, added.course.record, added.kind, added.at)
    assert parse_course(made).record == added.course.record


def test_an_event_gets_the_next_number_and_is_not_added_twice():
    given = {"what": "discitis", "began": "2026-03-20", "learned": "2026-03-21"}
    added = with_event(course(), given)
    assert added.course.record.events[-1].id == 2
    assert codes(lambda: with_event(added.course, given)) == {Code.CONTRADICTION}
    assert codes(lambda: with_event(course(), given | {"learned": "2026-03-01"})) == {Code.CONTRADICTION}
    assert codes(lambda: with_event(course(), given | {"injection": 4})) == {Code.CONTRADICTION}


def test_commands_work_on_files_and_a_bad_file_does_not_hide_the_others(tmp_path, capsys):
    def run(*words):
        try:
            main([str(word) for word in words])
            status = 0
        except SystemExit as stop:
            status = int(stop.code or 0)
        return status, *capsys.readouterr()

    folder = tmp_path / "courses"
    folder.mkdir()
    good, bad, filled = folder / "a.yaml", folder / "b.yaml", tmp_path / "filled.yaml"
    good.write_text(course_to_yaml(course().record), encoding="utf-8")
    bad.write_text("schema_version: '1'\ncase: case-2\nvisits: 3\n", encoding="utf-8")
    status, out, err = run("follow", "due", folder, "--on", "2026-06-10", "--format", "csv")
    assert status == 2
    assert "b.yaml" in err
    assert {(row["visit"], row["state"]) for row in csv.DictReader(io.StringIO(out)) if row["injection"] == "1"} == {
        ("call", "overdue"), ("months_3", "due"),
    }  # fmt: skip
    (folder / "c.course.yaml").write_text(
        good.read_text(encoding="utf-8").replace("case-1", "case-9"), encoding="utf-8"
    )
    status, out, _ = run("follow", "due", folder, "--on", "2026-06-10", "--format", "json")
    assert (status, {row["case"] for row in json.loads(out)["visits"]}) == (
        0,
        {"case-9"},
    )  # a.yaml is a case record then
    filled.write_text(yaml.safe_dump(FORM), encoding="utf-8")
    assert run("follow", "take", filled, "--course", good)[0] == 0
    before = good.read_bytes()
    assert run("follow", "take", filled, "--course", good)[0] == 2
    assert good.read_bytes() == before
    status, out, _ = run("follow", "event", "--course", good, "--what", "new_leg_pain", "--began", "2026-06", "--learned", "2026-06-03",
                         "--grade", "3", "--serious", "none", "--injection", "2")  # fmt: skip
    assert (status, "judged not serious" in out, "grade 3" in out) == (0, True, True)
    assert load_course(good).record.events[-1].what == "new_leg_pain"
    assert run("follow", "event", "--course", good, "--what", "x", "--began", "2026", "--learned", "2026-06-03",
               "--grade", "3", "--serious", "none", "--serious", "death")[0] == 2  # fmt: skip
    status, out, _ = run("follow", "show", good, "--on", "2026-06-10")
    assert (status, "Three months, done 2026-06-02" in out) == (0, True)
    pdf = tmp_path / "form.pdf"
    assert run("follow", "form", "months_6", "--format", "pdf", "--out", pdf)[0] == 0
    assert pdf.read_bytes()[:5] == b"%PDF-"


def test_whoever_takes_a_form_or_an_event_is_told_at_once_what_then_does_not_fit(tmp_path, capsys):
    def told(*words):
        with suppress(SystemExit):
            main(["follow", *map(str, words)])
        return [line for line in capsys.readouterr().out.splitlines() if line.startswith("! ")]

    place, filled = tmp_path / "course.yaml", tmp_path / "filled.yaml"
    late = date.today() + timedelta(30)
    for day, said in (("2026-06-02", []), (late.isoformat(), ["an entry of", "after the day looked at"])):
        place.write_text(TEXT, encoding="utf-8")
        filled.write_text(yaml.safe_dump(FORM | {"date": day}), encoding="utf-8")
        lines = told("take", filled, "--course", place)
        assert [words in line for words, line in zip(said, lines, strict=True)] == [True] * len(said)
        assert [f"! {notice}" for notice in load_course(place).notices(date.today())] == lines
    place.write_text(TEXT, encoding="utf-8")
    event = ("event", "--course", place, "--what", "pain_flare", "--grade", "2", "--serious", "none")
    assert told(*event, "--began", "2026-06-01", "--learned", "2026-06-02") == []
    assert told(*event, "--began", late.isoformat(), "--learned", late.isoformat())
