"""What is wrong with what a template says: names that there are not, facts without a source, words of promise or order,
words of another standing, and for patients sentences that are too hard to read."""

import re
from collections.abc import Iterator, Mapping

from candidacy.foundation.errors import Code
from candidacy.letters.frame import frame, words_of, words_under
from candidacy.letters.names import CONDITIONS, LISTS, allowed
from candidacy.letters.readability import HIGHEST_GRADE, hardest
from candidacy.letters.template import NOT, PLACEHOLDER, LetterTemplate, Paragraph, names_in
from candidacy.rules.cited import Source
from candidacy.rules.findings import Findings, no_such_source

_Place = tuple[str | int, ...]


def template_faults(template: LetterTemplate, sources: Mapping[str, Source], findings: Findings) -> None:
    """Add everything that is wrong with the content of a template."""
    _title(template, findings)
    for place, paragraph, conditions in paragraphs(template):
        _conditions(paragraph.when, (*place, "when"), findings)
        _names(paragraph, template, place, findings)
        _words(paragraph, conditions, place, findings)
        _sources(paragraph, sources, place, findings)
    for number, part in enumerate(template.parts):
        _conditions(part.when, ("parts", number, "when"), findings)
        _forbidden(part.heading, ("parts", number, "heading"), findings)
        _of_one_standing(part.heading, part.when, ("parts", number, "heading"), findings)
        _no_braces(part.heading, ("parts", number, "heading"), findings)
    if template.codes is not None:
        if template.codes.guidance not in template.codes.by_guidance:
            findings.add(("codes", "guidance"), Code.BAD_RULE, "no codes for this guidance", found=template.codes.guidance,
                         expected=", ".join(template.codes.by_guidance))  # fmt: skip
        for cite in template.codes.cites:
            _known(cite.source, sources, ("codes", "cites"), findings)
    if template.reader == "patient" and not findings.problems:
        found = hardest(template)
        if found.grade > HIGHEST_GRADE:
            findings.add(("parts",), Code.BAD_RULE, "too hard to read for a patient", found=f"grade {found.grade:.1f} where "
                         f"{', '.join(found.when) or 'always'}", expected=f"Flesch-Kincaid grade at most {HIGHEST_GRADE}",
                         next_step=f"shorter sentences and words; the hardest: {found.sentence}")  # fmt: skip


def paragraphs(template: LetterTemplate) -> Iterator[tuple[_Place, Paragraph, tuple[str, ...]]]:
    """Every paragraph with its place and the conditions under which it stands, those of its part among them."""
    for number, note in enumerate(template.notes):
        yield ("notes", number), note, note.when
    for number, part in enumerate(template.parts):
        for inside, paragraph in enumerate(part.paragraphs):
            yield ("parts", number, "paragraphs", inside), paragraph, (*part.when, *paragraph.when)


def _title(template: LetterTemplate, findings: Findings) -> None:
    for name in ("title", "about"):
        _forbidden(getattr(template, name), (name,), findings)
        _of_one_standing(getattr(template, name), (), (name,), findings)
        _no_braces(getattr(template, name), (name,), findings)


def _conditions(when: tuple[str, ...], place: _Place, findings: Findings) -> None:
    for condition in when:
        if condition.removeprefix(NOT) not in CONDITIONS:
            findings.add(
                place,
                Code.BAD_RULE,
                "no such condition",
                found=condition,
                expected=", ".join(sorted(CONDITIONS)),
            )


def _names(paragraph: Paragraph, template: LetterTemplate, place: _Place, findings: Findings) -> None:
    if paragraph.each and paragraph.each not in LISTS:
        findings.add(
            (*place, "each"), Code.BAD_RULE, "no such list", found=paragraph.each, expected=", ".join(LISTS)
        )
        return
    names = allowed(template.for_each, paragraph.each)
    for text in paragraph.texts:
        for name in names_in(text):
            if name not in names:
                findings.add(place, Code.BAD_RULE, "no such placeholder", found="{" + name + "}",
                             expected=", ".join(sorted(names)))  # fmt: skip
        _no_braces(PLACEHOLDER.sub("", text), place, findings)
    if (
        paragraph.says == "record"
        and not any(names_in(text) for text in paragraph.texts)
        and not paragraph.when
    ):
        findings.add((*place, "says"), Code.BAD_RULE, "says what the record tells, without a placeholder or a condition",
                     found=paragraph.text, expected="frame for courtesy, or fact with its source")  # fmt: skip


def _no_braces(text: str, place: _Place, findings: Findings) -> None:
    if "{" in text or "}" in text:
        findings.add(place, Code.BAD_RULE, "a brace that opens no placeholder", found=text,
                     expected="{name}, in small letters and _")  # fmt: skip


def _words(paragraph: Paragraph, conditions: tuple[str, ...], place: _Place, findings: Findings) -> None:
    for text in paragraph.texts:
        _forbidden(text, place, findings)
        _of_one_standing(text, conditions, place, findings)


def _of_one_standing(text: str, conditions: tuple[str, ...], place: _Place, findings: Findings) -> None:
    for condition in frame()["only_under"]:
        said = words_under(condition, text)
        if said and condition not in conditions:
            findings.add(place, Code.BAD_RULE, "words that belong to one standing, without its condition", found=said[0],
                         expected=f"when: [{condition}]")  # fmt: skip


def _forbidden(text: str, place: _Place, findings: Findings) -> None:
    for said in words_of("forbidden", text):
        findings.add(place, Code.BAD_RULE, "a word of promise or order, which no letter says", found=said,
                     next_step="say what is known, with its source, or ask")  # fmt: skip


def _sources(paragraph: Paragraph, sources: Mapping[str, Source], place: _Place, findings: Findings) -> None:
    for cite in paragraph.cites:
        _known(cite.source, sources, (*place, "cites"), findings)
        if cite.tag == "memory, low":
            findings.add(
                (*place, "cites"),
                Code.UNCITED,
                "no letter rests on what is recalled with doubt",
                found=cite.tag,
            )
    if paragraph.says == "fact":
        if not paragraph.cites:
            findings.add(
                place, Code.UNCITED, "a fact without a source", found=paragraph.text, expected="cites"
            )
        return
    text = PLACEHOLDER.sub("", " ".join(paragraph.texts))
    number = re.search(r"\d+", text)
    said = [*([number.group()] if number else []), *words_of("numbers", text), *words_of("factual", text)]
    if said and not paragraph.cites:
        findings.add(place, Code.UNCITED, "a number or statement of fact without a source", found=said[0],
                     expected="says: fact, with cites")  # fmt: skip


def _known(key: str, sources: Mapping[str, Source], place: _Place, findings: Findings) -> None:
    if key not in sources:
        findings.add_misfit(no_such_source(place, key, sources))
