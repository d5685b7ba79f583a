"""Templates of one's own: what replaces is named, and what is wrong is refused with file, line and what is allowed."""

import copy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from candidacy.check import check_library
from candidacy.foundation.errors import Code, InputError, RuleError
from candidacy.letters.draft import drafts
from candidacy.letters.load import load, read
from candidacy.letters.names import CONDITIONS, LISTS, allowed, blanks
from candidacy.letters.readability import HIGHEST_GRADE, hardest
from candidacy.letters.text import letters_text
from candidacy.letters.wrong import paragraphs
from candidacy.rules.libraries import shipped
from candidacy.rules.library import Library
from tests.letters.cases import TEMPLATES, demo

CITE = {"source": "common_practice", "supports": "direction", "tag": "common practice"}
OWN: dict[str, Any] = {
    "id": "patient_after", "version": "1.0.0", "title": "Afterwards", "about": "Our own sheet", "reader": "patient",
    "parts": [{"heading": "Call us", "paragraphs": [{"says": "frame", "text": "Our phone: {practice_phone}"}]}],
    "changes": [{"version": "1.0.0", "date": "2026-11-28", "change": "Ours."}],
    "replaces": {"version": load(shipped(), "patient_after").template.version, "reason": "We say it our way."},
}  # fmt: skip
Edit = Callable[[dict[str, Any]], object]


@pytest.fixture
def library(tmp_path: Path) -> Callable[..., Library]:
    """A library of one's own with a template, after an edit."""

    def make(edit: Edit = lambda data: None) -> Library:
        data = copy.deepcopy(OWN)
        edit(data)
        (tmp_path / "letters").mkdir(exist_ok=True)
        (tmp_path / "letters" / "patient_after.yaml").write_text(
            yaml.safe_dump(data, sort_keys=False), encoding="utf-8"
        )
        return Library(tmp_path, shipped())

    return make


def put(**fields: Any) -> Edit:
    """Give the first paragraph of the first part other fields."""
    return lambda data: data["parts"][0]["paragraphs"][0].update(fields)


def test_shipped_templates_are_sound() -> None:
    for kind in TEMPLATES:
        assert read(shipped(), kind)[1].problems == []


def test_one_s_own_stands_in_the_place_of_the_shipped_one_and_the_foot_says_so(
    library: Callable[..., Library],
) -> None:
    mine = library()
    assert check_library(mine) == []
    (letter,) = drafts("patient_after", demo("one-disc-candidate"), mine, {"practice_phone": "555 0100"})
    assert "Our phone: 555 0100" in letters_text([letter])
    assert "Template of your own" in letter.foot
    assert "We say it our way" in letter.foot
    assert "Template of your own" not in drafts("referrer", demo("one-disc-candidate"), mine)[0].foot


def test_the_example_of_the_guide_is_sound(tmp_path: Path) -> None:
    guide = (shipped().folder / "README.md").read_text(encoding="utf-8").partition("## 6. Letters")[2]
    (tmp_path / "letters").mkdir()
    place = tmp_path / "letters" / "patient_after.yaml"
    place.write_text(guide.partition("```yaml\n")[2].partition("```")[0], encoding="utf-8")
    mine = Library(tmp_path, shipped())
    assert check_library(mine) == []
    (letter,) = drafts("patient_after", demo("two-discs-candidate"), mine)
    assert "It was more than one disc: L4-L5 and L5-S1." in letters_text([letter])


WRONG: list[tuple[str, Edit, Code, str]] = [
    ("a placeholder that there is not", put(text="Your {name_of_the_patient}."), Code.BAD_RULE, "{name_of_the_patient}"),
    ("a name of a list outside of it", put(text="{criterion}"), Code.BAD_RULE, "{criterion}"),
    ("a name of a medicine in a letter about the case", put(text="{interval}"), Code.BAD_RULE, "{interval}"),
    ("a brace that opens nothing", put(text="{{ 7*7 }} {%if%}"), Code.BAD_RULE, "brace"),
    ("a brace in a heading", lambda d: d["parts"][0].update(heading="{day}"), Code.BAD_RULE, "brace"),
    ("a condition that there is not", put(when=["sunny"]), Code.BAD_RULE, "sunny"),
    ("a list that there is not", put(each="gifts"), Code.BAD_RULE, "gifts"),
    ("a promise", put(text="This will cure your pain."), Code.BAD_RULE, "will cure"),
    ("a guarantee in capitals", put(text="We GUARANTEE it."), Code.BAD_RULE, "guarantee"),
    ("safe", put(text="It is safe."), Code.BAD_RULE, "safe"),
    ("an order", put(text="You must  take\nit with food."), Code.BAD_RULE, "must"),
    ("an order to stop", put(text="Stop taking your pills."), Code.BAD_RULE, "stop taking"),
    ("a promise in the title", lambda d: d.update(title="A painless shot"), Code.BAD_RULE, "painless"),
    ("a promise in a heading", lambda d: d["parts"][0].update(heading="No risk"), Code.BAD_RULE, "no risk"),
    ("a promise in a note", lambda d: d.update(notes=[{"says": "frame", "text": "It is safe."}]), Code.BAD_RULE, "safe"),
    ("a number without a source", put(text="Most feel it by 3 days."), Code.UNCITED, "3"),
    ("a number in words without a source", put(text="Take rest for six days."), Code.UNCITED, "six"),
    ("a statement of fact without a source", put(text="Studies show it."), Code.UNCITED, "studies"),
    ("a fact that cites nothing", put(says="fact", text="Rest is good."), Code.UNCITED, "Rest is good"),
    ("a source that there is not", put(says="fact", text="Rest.", cites=[CITE | {"source": "nobody"}]), Code.UNKNOWN_SOURCE, "nobody"),
    ("a fact recalled with doubt", put(says="fact", cites=[CITE | {"tag": "memory, low"}]), Code.UNCITED, "memory, low"),
    ("record that names nothing of it", put(says="record", text="The record says so."), Code.BAD_RULE, "placeholder"),
    ("acceptance without the standing", put(text="We accept you."), Code.BAD_RULE, "candidate"),
    ("refusal under another standing", put(when=["candidate"], text="We do not offer it."), Code.BAD_RULE, "not_candidate"),
    ("too hard for a patient", put(text="Subsequent musculoskeletal deterioration necessitates interdisciplinary "
                                   "reconsideration of therapeutic alternatives."), Code.BAD_RULE, "grade"),
    ("a version that is not the one replaced", lambda d: d["replaces"].update(version="9.9.9"), Code.BAD_VERSION, "9.9.9"),
    ("a shipped kind without saying what it replaces", lambda d: d.pop("replaces"), Code.CONTRADICTORY_RULES, "patient_after"),
    ("another id than its file", lambda d: d.update(id="other"), Code.BAD_RULE, "other"),
    ("a change of another version", lambda d: d.update(version="1.0.1"), Code.BAD_VERSION, "1.0.0"),
    ("text and columns", put(columns=[{"head": "a", "text": "b"}]), Code.WRONG_TYPE, "either text or columns"),
    ("a column without a head", put(text="", columns=[{"text": "a"}]), Code.MISSING_KEY, "head"),
    ("codes of a guidance that there is not", lambda d: d.update(codes={"guidance": "ct", "cites": [CITE], "by_guidance": {
        "fluoroscopy": {"first": "a", "added": "b"}}}), Code.BAD_RULE, "fluoroscopy"),
    ("a key that there is not", put(bold=True), Code.UNKNOWN_KEY, "bold"),
]  # fmt: skip


@pytest.mark.parametrize(("edit", "code", "said"), [w[1:] for w in WRONG], ids=[w[0] for w in WRONG])
def test_what_is_wrong_is_refused_with_its_place(
    library: Callable[..., Library], edit: Edit, code: Code, said: str
) -> None:
    mine = library(edit)
    found = [p for p in check_library(mine) if p.code is code]
    assert found, check_library(mine)
    assert any(said in str(p) for p in found)
    for problem in found:
        assert problem.file.endswith("patient_after.yaml")
        assert problem.line > 0
    with pytest.raises(RuleError):
        load(mine, "patient_after")


def test_a_bad_placeholder_is_told_with_the_names_there_are(library: Callable[..., Library]) -> None:
    (problem,) = check_library(library(put(text="Your {dog}.")))
    assert "practice_phone" in problem.expected
    assert "planned_day" in problem.expected


def test_a_kind_that_there_is_not_is_refused_with_those_there_are() -> None:
    with pytest.raises(RuleError, match="closest is referrer"):
        load(shipped(), "referer")


@pytest.mark.parametrize(
    ("filled", "said"),
    [
        ({"fax": "1"}, "no such blank"),
        ({"to": "Dr Somebody"}, "by hand"),
        ({"practice_phone": "5" * 201}, "at most 200"),
        ({"fasting_rule": "This is safe."}, "promise or order"),
    ],
)
def test_what_may_not_be_filled_in_is_refused(filled: dict[str, str], said: str) -> None:
    with pytest.raises(InputError, match=said):
        drafts("patient_before", demo("one-disc-candidate"), shipped(), filled)


def test_a_letter_is_incomplete_until_its_blanks_are_filled() -> None:
    answer = demo("one-disc-candidate")
    empty = drafts("patient_after", answer, shipped(), {"practice_phone": "  "})[0]
    assert blanks()["practice_phone"] in empty.open
    assert "INCOMPLETE" in letters_text([empty])
    full = drafts("patient_after", answer, shipped(), {"practice_phone": "555 0100", "emergency_phone": "555 0199",
                                                       "follow_up_visits": "2027-01-02"})[0]  # fmt: skip
    assert full.open == ()
    assert "INCOMPLETE" not in letters_text([full])


def test_every_name_of_the_closed_list_is_made() -> None:
    """What a template may name there is in every case, so that no letter can lack it."""
    for name in ("one-disc-candidate", "first-letter-only"):
        values = demo(name).values
        assert set(values.lists) == set(LISTS)
        assert values.holding <= set(CONDITIONS)
        assert set(allowed("", "")) - set(blanks()) == set(values.texts)
        for list_name, entries in values.lists.items():
            for entry in entries:
                assert set(entry) == set(LISTS[list_name])


def test_patient_sheets_speak_of_common_practice_where_they_rest_on_it() -> None:
    template = load(shipped(), "patient_after").template
    texts = {p.text: p for _, p, _ in paragraphs(template)}
    for said in (
        "one in sixteen",
        "one in four or five",
        "about four weeks",
        "near six months",
        "brace",
        "about six weeks",
    ):
        (found,) = [p for text, p in texts.items() if said in text]
        assert {c.tag for c in found.cites} == {"common practice"}
    text = letters_text(drafts("patient_after", demo("one-disc-candidate"), shipped()))
    assert "common practice]" in text


@pytest.mark.parametrize("kind", [k for k in TEMPLATES if k.startswith("patient")])
def test_the_hardest_form_of_a_patient_sheet_is_within_the_grade(kind: str) -> None:
    assert hardest(load(shipped(), kind).template).grade <= HIGHEST_GRADE


@pytest.mark.parametrize(
    "words",
    ["sa\u200bfe", "sa\u00adfe", "risk\u2011free", "risk - free", "ｓａｆｅ", "totally-safe", "you\u00a0MUST", "will_help", "will\u2013help"],
)  # fmt: skip
def test_words_of_promise_are_seen_as_a_reader_sees_them(library: Callable[..., Library], words: str) -> None:
    assert any("promise" in str(p) for p in check_library(library(put(text=f"This is {words}."))))
    with pytest.raises(InputError, match="promise or order"):
        drafts("patient_after", demo("one-disc-candidate"), shipped(), {"follow_up_visits": f"It is {words}"})


def test_a_template_and_a_blank_promise_nothing_together(library: Callable[..., Library]) -> None:
    mine = library(put(text="This shot will {practice_phone}"))
    assert check_library(mine) == []
    with pytest.raises(InputError, match="together with the template"):
        drafts("patient_after", demo("one-disc-candidate"), mine, {"practice_phone": "help you"})


@pytest.mark.parametrize("where", ["title", "heading", "text"])
def test_no_place_of_a_template_accepts_without_the_standing(
    library: Callable[..., Library], where: str
) -> None:
    def edit(data: dict[str, Any]) -> None:
        place = data if where == "title" else data["parts"][0]
        (place if where != "text" else place["paragraphs"][0])[where] = "This patient is a candidate"

    assert any("belong to one standing" in str(p) for p in check_library(library(edit)))
