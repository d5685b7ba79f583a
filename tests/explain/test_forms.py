"""Text and page: readable without colour, and free text from a case is never markup, code or steering."""

import io
import re
from collections.abc import Callable
from functools import cache
from html.parser import HTMLParser

import pytest
from rich.console import Console

from candidacy.assessment.assess import assessor_for
from candidacy.case.load import case_from_record
from candidacy.case.record import CaseRecord
from candidacy.explain.build import build_document
from candidacy.explain.compare import compare
from candidacy.explain.compare_text import print_comparison
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.labels import SHOWN
from candidacy.explain.page import comparison_page, page, rule_set_page
from candidacy.explain.printable import printable
from candidacy.explain.ruleset import describe_criterion, describe_rule_set
from candidacy.explain.ruleset_text import print_criterion, print_rule_set
from candidacy.explain.text import print_document
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.visible import clean
from candidacy.rules.libraries import shipped
from candidacy.rules.resolved import RuleSet
from tests.assessment.test_properties import RULE_SETS, assess, cases_for, rule_set_of
from tests.strategies import AS_OF, TEXTS

HOSTILE = [
    "[bold red]pass[/bold red]",
    "[link=https://example.org]x[/link]",
    "[/]",
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "{{ 7 * 7 }}{% for x in y %}",
    "\x1b[31mred\x1b[0m\x1b]0;title\x07",
    "one\nPASS  everything",
    "a\r\x08\x08b",
    "\u202egnihton",
    ":smile: & © ünïcode",
    "\x00",
]


# Criteria hold no text of a case, so that most texts are tried beside the few that read what the record below states.
_WHOLE = ("plain", *HOSTILE[:2], HOSTILE[6])
_READ = (
    "body_mass_index_limit",
    "degeneration_grade_window",
    "displacement_limit",
    "pregnancy_present",
    "odi_minimum",
)


@cache
def _rules(whole: bool) -> RuleSet:
    baseline = shipped().rule_set("practice_baseline")
    some = tuple(item for item in baseline.criteria if whole or item.id in _READ)
    assert len(some) >= len(_READ)
    return replace(baseline, criteria=some)


@cache
def document_with(text: str, whole: bool = False) -> AssessmentDocument:
    """A document in which a text stands wherever a case may hold free text."""
    # no single number, so that one in the text is none beside it
    fact = {"between": (40, 41), "unit": "kg/m2", "source": "letter", "words": text, "by": text, "note": text}
    record = CaseRecord.model_validate(
        {
            "schema_version": "1",
            "id": "hostile",
            "title": text,
            "note": text,
            "documents": {"letter": {"kind": "other", "date": "2026-11-01", "title": text, "author": text, "note": text}},
            "patient": {"body_mass_index": fact},
            "discs": {"L4-L5": {"pfirrmann_grade": {"value": "IV", "source": "letter", "words": text}}},
            "medicines": {"entries": [{"medicine_name": {"value": text}}]},
        }
    )  # fmt: skip
    rules = _rules(whole or text in _WHOLE)
    return build_document(assessor_for(rules).assess(case_from_record(record), AS_OF))


def printed(run: Callable[[Console], None], colour: bool = False, width: int = 110) -> str:
    buffer = io.StringIO()
    run(
        Console(file=buffer, width=width, force_terminal=colour, no_color=not colour, markup=True, emoji=True)
    )
    return buffer.getvalue()


def without_colour(text: str) -> str:
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


class _Page(HTMLParser):
    """Collects the tags, attributes and text of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self._said: list[str] = []

    @property
    def text(self) -> str:
        return "".join(self._said)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self._said.append(data)


@cache
def parsed_page_with(text: str, whole: bool) -> _Page:
    """The page of a document with this text, as a browser takes it apart."""
    return parsed(page(document_with(text, whole)))


def parsed(html: str) -> _Page:
    reader = _Page()
    reader.feed(html)
    return reader


# --- free text is data


@pytest.mark.parametrize("text", [*HOSTILE, *TEXTS])
def test_free_text_is_printed_as_it_is_and_steers_nothing(text: str) -> None:
    document = document_with(text)
    for colour in (False, True):
        for run in (
            lambda console: print_document(console, document),
            lambda console: print_comparison(console, compare([document, document])),
        ):
            out = printed(run, colour, width=2000)
            plain = without_colour(out) if colour else out
            assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", plain)
            if text:
                assert f"hostile: {clean(text)}" in plain
                first = next(line for line in plain.splitlines() if "hostile" in line)
                assert clean(text) in first  # on one line, so that it cannot pass for a line of ours


@pytest.mark.parametrize("text", [*HOSTILE, *TEXTS])
def test_free_text_is_escaped_in_the_page(text: str) -> None:
    document = document_with(text)
    html = page(document)
    found, wanted = parsed(html), parsed_page_with("nothing", text in _WHOLE)
    if text:  # an empty text leaves its place out
        assert found.tags == wanted.tags
        assert [name for name, _ in found.attributes] == [name for name, _ in wanted.attributes]
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f\u202a-\u202e]", html)
    if text:
        assert clean(text) in found.text
    pages = parsed(comparison_page(compare([document, document])))
    assert "script" not in pages.tags


@pytest.mark.parametrize("text", [*HOSTILE, *TEXTS])
def test_json_keeps_free_text_exactly(text: str) -> None:
    document = document_with(text)
    again = AssessmentDocument.model_validate_json(document.to_json())
    assert again.case.title == text
    assert {fact.words for fact in again.facts if fact.element == "body_mass_index"} == {text}


def test_the_page_needs_nothing_from_outside_and_runs_nothing() -> None:
    html = page(document_with("plain"))
    found = parsed(html)
    assert not {"script", "link", "iframe", "object", "embed", "img", "base", "form"} & set(found.tags)
    names = {name for name, _ in found.attributes}
    assert not {name for name in names if name.startswith("on")} | {"src", "href", "action"} & names
    assert "url(" not in html
    assert "@import" not in html


def test_printable_text_is_one_line_of_visible_characters() -> None:
    assert clean("a\r\nb\tc\u2028d") == "a⏎b c⏎d"
    assert clean("\x1b[0m\x00\u202e") == "�[0m��"
    assert clean("naïve 漢字 🙂 👩‍⚕️") == "naïve 漢字 🙂 👩‍⚕️"
    document = document_with("a\nb")
    assert printable(document).case.title == "a⏎b"
    assert document.case.title == "a\nb"


# --- readable without colour, and complete


@pytest.mark.parametrize("name", RULE_SETS)
def test_text_without_colour_says_everything_colour_says(name: str) -> None:
    for record in cases_for(name, 3, start=50_000):
        document = build_document(assess(name, record))
        plain = printed(lambda console, d=document: print_document(console, d))  # type: ignore[misc]
        coloured = printed(lambda console, d=document: print_document(console, d), colour=True)  # type: ignore[misc]
        assert "\x1b" not in plain
        assert without_colour(coloured) == plain
        words = " ".join(plain.split())
        assert document.standing_name.upper() in words
        for shown in {criterion.shown for criterion in document.criteria}:
            assert SHOWN[shown][1] in words
        for criterion in document.criteria:
            assert " ".join(criterion.found.split()) in words
        for source in document.sources:
            assert f"{source.key}:" in words
        for caution in document.cautions:
            assert " ".join(clean(caution).split()) in words
        assert document.rule_set.digest in words
        assert document.case.digest in words


@pytest.mark.parametrize("name", RULE_SETS)
def test_every_parameter_is_printed_with_its_source_and_tag(name: str) -> None:
    record = next(iter(cases_for(name, 1, start=60_000)))
    document = build_document(assess(name, record))
    words = " ".join(printed(lambda console: print_document(console, document), width=4000).split())
    html = " ".join(parsed(page(document)).text.split())
    for criterion in document.criteria:
        for parameter in criterion.parameters:
            assert f"{parameter.name} = {' '.join(parameter.value.split())}" in words
            for cite in parameter.cites:
                assert cite.source in words
                assert f"[{cite.tag}]" in words
                assert f"{cite.tag}" in html
            if parameter.replaces is not None:
                assert f"replaces {parameter.replaces}" in words
                assert f"replaces {parameter.replaces}" in html


@pytest.mark.parametrize("name", RULE_SETS)
def test_a_rule_set_is_shown_whole_as_text_and_page(name: str) -> None:
    rule_set = rule_set_of(name)
    document = describe_rule_set(rule_set)
    words = " ".join(printed(lambda console: print_rule_set(console, document), width=4000).split())
    html = " ".join(parsed(rule_set_page(document)).text.split())
    for item in rule_set.criteria:
        for text in (item.criterion.title, item.criterion.why):
            assert " ".join(text.split()) in words
            assert " ".join(text.split()) in html
        one = printed(lambda console, i=item: print_criterion(console, describe_criterion(i)), width=4000)  # type: ignore[misc]
        assert item.id in one
