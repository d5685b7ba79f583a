"""Answers show themselves: short in a terminal, escaped and without script in a notebook, as text, page and table."""

import json
import sys
from html import escape
from html.parser import HTMLParser
from pathlib import Path

import pandas as pd
import pytest

import candidacy
from candidacy import Code, InputError

DAY = "2026-12-02"
DEMOS = candidacy.demo_cases()
HOSTILE = '<script>alert("x")</script>\u202e\n<img src=x onerror=y>'


class Tags(HTMLParser):
    """Tags in order; each must be closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: set[str] = set()
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert not [name for name, _ in attrs if name.startswith("on")]
        self.seen.add(tag)
        if tag not in ("br",):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def hostile() -> candidacy.Case:
    text = json.dumps({
        "schema_version": "1", "id": "x", "title": HOSTILE, "patient": {"body_weight": {"value": 71, "unit": "kg", "words": HOSTILE}},
        "documents": {HOSTILE: {"kind": "other", "title": HOSTILE}}, "as_of": DAY,
    })  # fmt: skip
    return candidacy.parse_case(text).with_fact("body_weight", 72, unit="kg", source=HOSTILE, words=HOSTILE)


def shown_things(tmp_path: Path) -> dict[str, object]:
    answer = candidacy.assess(hostile())
    table = pd.DataFrame({"case_id": ["a"], "age [year]": [40]})
    table.to_csv(tmp_path / "<b>x.csv", index=False)
    cohort = candidacy.screen(tmp_path / "<b>x.csv", as_of=DAY)
    return {
        "answer": answer, "case": answer.case, "rules": answer.rule_set, "cohort": cohort,
        "side": candidacy.compare(hostile(), ["practice_baseline", "wide_screen"]),
        "reading": candidacy.read_report(f"L4-5: disc bulge {HOSTILE} L5-S1 cauda equina compression."),
    }  # fmt: skip


def test_what_a_notebook_shows_is_escaped_and_without_script(tmp_path: Path):
    things = shown_things(tmp_path)
    for name, thing in things.items():
        html = thing._repr_html_()  # type: ignore[attr-defined]
        tags = Tags(html).seen
        assert tags <= {
            "div",
            "p",
            "strong",
            "br",
            "table",
            "thead",
            "tbody",
            "tr",
            "th",
            "td",
            "section",
            "h2",
            "h3",
            "ul",
            "li",
        }, name
        assert "\u202e" not in html, name
        assert "table" in tags, name
    assert "&lt;script&gt;" in things["answer"]._repr_html_()  # type: ignore[attr-defined]
    assert "&lt;b&gt;x" in things["cohort"]._repr_html_()  # type: ignore[attr-defined]


def test_the_short_forms_are_one_line_and_say_what_it_is(tmp_path: Path):
    things = shown_things(tmp_path)
    things["assessment"] = things["answer"].assessment  # type: ignore[attr-defined]
    things["result"] = things["answer"].assessment.results[0]  # type: ignore[attr-defined]
    begins = {"answer": "Answer(x under practice_baseline ", "assessment": "Assessment(x under practice_baseline ",
              "case": "Case(x: 1 fact of the patient, 0 discs)", "rules": "RuleSet(practice_baseline ", "result": "CriterionResult(",
              "side": "SideBySide(practice_baseline: incomplete, wide_screen: incomplete)", "reading": "Reading(", "cohort": "Cohort("}  # fmt: skip
    assert set(begins) == set(things)
    for name, thing in things.items():
        told = repr(thing)
        assert told.startswith(begins[name]), told
        assert len(told) < 200
        assert told.isprintable()


def test_a_stop_shows_in_the_shortest_form_and_before_the_standing():
    answer = candidacy.assess(DEMOS["pregnant"], "disc_source", as_of=DAY)
    assert answer.stops
    assert repr(answer).endswith("; STOP)")
    html = answer._repr_html_()
    assert html.index(escape(answer.stops[0])) < html.index(answer.reason[0][:40])
    calm = candidacy.assess(DEMOS["one-disc-candidate"], as_of=DAY)
    assert "STOP" not in repr(calm)
    assert "candidate; 0 fail, 0 undetermined, " in repr(calm)


def test_a_notebook_shows_every_open_criterion_and_every_caution_of_what_is_considered():
    for name in ("first-letter-only", "suspected-spinal-infection", "two-discs-candidate", "leaking-disc"):
        answer = candidacy.assess(DEMOS[name], as_of=DAY)
        html = answer._repr_html_()
        aside = {disc.level for disc in answer.discs if disc.considered == "not_met"}
        left = [c for c in answer.criteria if c.outcome != "pass" and c.subject not in aside]
        rows = [html.count(f"<td>{c.subject}</td>") for c in left]
        assert all(f"<td>{c.id}</td>" in html for c in left)
        assert sum(html.count(f"<td>{subject}</td>") for subject in {c.subject for c in left}) == len(rows)
        assert all(level in html for level in aside)
        assert "<p>Not a diagnosis" in html or answer.document.cautions[-1].split()[0] in html


def test_text_page_and_json_are_those_of_the_command_line():
    answer = candidacy.assess(DEMOS["leaking-disc"], as_of=DAY)
    assert json.loads(answer.to_json())["standing"] == answer.standing
    assert answer.to_text() != answer.to_text(full=True)
    assert "\x1b" not in answer.to_text(full=True)
    assert answer.to_html().startswith("<!doctype html>")
    side = candidacy.compare(DEMOS["leaking-disc"], ["practice_baseline", "wide_screen"], as_of=DAY)
    assert side.to_html().startswith("<!doctype html>")
    assert "wide_screen" in side.to_text()


def test_tables_hold_what_the_document_holds():
    answer = candidacy.assess(DEMOS["first-letter-only"], as_of=DAY)
    criteria = answer.to_frame()
    assert list(zip(criteria["criterion"], criteria["subject"], criteria["outcome"], strict=True)) == [
        (c.id, c.subject, c.outcome) for c in answer.criteria
    ]
    assert list(answer.to_frame("missing")["element"]) == [m.element for m in answer.missing]
    assert list(answer.to_frame("discs")["disc"]) == [d.level for d in answer.discs]
    facts = answer.to_frame("facts")
    assert list(facts["value"].isna()) == [not f.known for f in answer.document.facts]
    assert facts["value"].isna().any()
    assert all(str(kind) == "string" for kind in facts.dtypes)
    side = candidacy.compare(
        DEMOS["first-letter-only"], ["practice_baseline", "wide_screen"], as_of=DAY
    ).to_frame()
    assert list(side.columns) == ["criterion", "subject", "practice_baseline", "wide_screen", "differs_by"]
    assert side["wide_screen"].isna().any()
    nothing = candidacy.assess(candidacy.parse_case("{schema_version: '1', id: x}"), as_of=DAY)
    assert list(nothing.to_frame("discs").columns) == [
        "disc",
        "considered",
        "standing",
        "standing_name",
        "decided_by",
    ]


def test_an_unknown_part_is_refused():
    with pytest.raises(InputError) as error:
        candidacy.assess(DEMOS["pregnant"], as_of=DAY).to_frame("criterions")  # type: ignore[arg-type]
    assert error.value.problems[0].code is Code.BAD_CHOICE
    assert "criteria, missing, discs, facts" in error.value.problems[0].expected


def test_without_pandas_the_extra_is_named(monkeypatch: pytest.MonkeyPatch):
    answer = candidacy.assess(DEMOS["pregnant"], as_of=DAY)
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(InputError) as error:
        answer.to_frame()
    assert (error.value.problems[0].code, error.value.problems[0].next_step) == (
        Code.USAGE,
        "pip install 'candidacy[cohort]'",
    )


def test_a_cohort_shows_itself_open_and_closed():
    table = pd.DataFrame({"case_id": ["a", "b"], "body_mass_index [kg/m2]": [29.0, 41.5]})
    with candidacy.screen(table, as_of=DAY) as cohort:
        assert cohort.to_frame().equals(cohort.outcomes())
        assert repr(cohort).endswith("2 cases, 0 rows set aside)")
    assert repr(cohort).endswith("; closed)")
    assert "was not counted" in cohort._repr_html_()
    with candidacy.screen(table, as_of=DAY) as cohort:
        shown = cohort._repr_html_()
        assert "<td>incomplete</td><td>2</td>" in shown
    assert cohort._repr_html_() == shown
