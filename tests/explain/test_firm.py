"""How firm an answer is, in words and in every form that gives all."""

import json
import re

import pytest

import candidacy
from candidacy.explain.build import build_document
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.firm import one_in
from candidacy.foundation.shipped import demo_cases_folder

DAY = "2026-12-02"


@pytest.fixture(scope="module")
def answer() -> candidacy.Answer:
    return candidacy.assess(
        demo_cases_folder() / "narrow-trial-criteria-met.yaml", "trial_style_strict", as_of=DAY
    )


@pytest.mark.parametrize(
    ("share", "words"),
    [(0, "never"), (0.001, "less than 1 time in 200"), (0.0249, "about 1 time in 40"), (0.248, "about 1 time in 4"),
     (0.34, "about 1 time in 3"), (0.5, "about 1 time in 2"), (0.62, "about 6 times in 10"),
     (0.97, "more than 9 times in 10"), (1, "nearly always")],
)  # fmt: skip
def test_a_probability_as_one_says_it(share: float, words: str) -> None:
    assert one_in(share) == words


def test_an_outcome_says_how_often_by_which_study_and_what_others_say(answer: candidacy.Answer) -> None:
    said = {(f.criterion, f.subject): f for f in answer.firm.criteria}
    vas, odi = said["back_pain_vas_maximum", "patient"], said["odi_minimum", "patient"]
    assert vas.words == (
        "a repeat measurement would cross the limit about 1 time in 4 (SEM 13 mm, Parai and others 2020, borrowed from another "
        "measure; by study 1 time in 5 to 1 time in 4)"
    )
    assert odi.words.startswith(
        "a repeat measurement would cross the limit about 1 time in 5 (SEM 6 %, Davidson and Keating 2002"
    )
    for firm in said.values():
        assert firm.stands is not None
        often = re.search(r"about 1 time in (\d+)", firm.words)
        assert often is None or round(1 / (1 - firm.stands)) == pytest.approx(int(often.group(1)), abs=1)


def test_the_standing_says_what_it_would_become(answer: candidacy.Answer) -> None:
    case = answer.firm.case
    assert case.words.startswith(
        "measuring everything once more would change it (to not a candidate) about 1 time in 2"
    )
    assert case.becomes == {"not_candidate": pytest.approx(1 - (case.stands or 0), abs=2e-4)}
    # the row of a reader is called a model wherever it is used
    readers = candidacy.assess(demo_cases_folder() / "source-shown-at-two-discs.yaml", as_of=DAY).firm
    window = next(f for f in readers.criteria if f.criterion == "degeneration_grade_window")
    assert window.words.startswith(
        "another reader would read it to the other side of the limit about 1 time in"
    )
    assert "a model" in window.words
    assert window.sources[0].model


def test_every_full_form_has_it_and_the_brief_one_does_not(answer: candidacy.Answer) -> None:
    words = answer.firm.case.words
    flat = re.sub(r"\s+", " ", answer.to_text(full=True))
    assert words in flat
    assert all(sentence in flat for sentence in answer.firm.asks)
    assert words in answer.to_html()
    assert "How firm" not in answer.to_text()
    document = AssessmentDocument.model_validate_json(answer.to_json())
    assert document.firm == answer.firm
    assert document.model_copy(update={"firm": None}) == answer.document
    assert json.loads(answer.document.to_json())["firm"] is None


def test_it_is_worked_out_only_when_asked(answer: candidacy.Answer, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object) -> None:
        raise AssertionError("nobody asked")

    monkeypatch.setattr("candidacy.firm.firmness.firmness", refused)
    document = build_document(answer.assessment)
    assert document.firm is None
    assert candidacy.Answer(answer.assessment).to_text()


def test_each_figure_is_cited_with_its_tag_and_its_source_listed(answer: candidacy.Answer) -> None:
    firm = answer.firm
    keys = {source.key for source in firm.sources}
    for figure in (firm.case, *firm.criteria):
        for source in figure.sources:
            assert source.cites
            assert {cite.source for cite in source.cites} <= keys
    assert {setting.name for setting in firm.settings} == {
        "measurement_error_in_use",
        "reader_agreement_in_use",
    }
    assert any(line.startswith("No published error was found") for line in firm.not_told)


def test_safety_is_named_as_the_reason_for_no_figure() -> None:
    firm = candidacy.assess(demo_cases_folder() / "pregnant.yaml", as_of=DAY).firm
    assert firm.case.stands is None
    assert (
        firm.case.words
        == "nothing is worked out: safety decides here, and no error of measurement excuses it"
    )
