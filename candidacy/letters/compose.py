"""A template and what an assessment tells, put together. Conditions choose, placeholders are filled once, nothing else happens."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby

from candidacy.explain.cited import source_info
from candidacy.letters.frame import frame, shown
from candidacy.letters.letter import Letter, Line, Section, SourceLine
from candidacy.letters.names import BY_HAND, STATES, blanks
from candidacy.letters.template import NOT, PLACEHOLDER, Codes, LetterTemplate, Paragraph
from candidacy.letters.values import Entry, Values
from candidacy.rules.cited import Citation, Source

BLANK = "____________________"


def compose(
    template: LetterTemplate,
    values: Values,
    filled: Mapping[str, str],
    sources: Mapping[str, Source],
    *,
    warnings: Iterable[str] = (),
    about: str = "",
    foot: str = "",
    discs: tuple[str, ...] = (),
) -> Letter:
    """Draft a letter.

    Parameters
    ----------
    filled
        Blanks that the practice filled in, by name; any other stays a visible blank, and the letter says so.
    sources
        The sources of the library, for what is cited.
    warnings
        What the practice must see first.
    about
        What the letter is about where there are several, such as a medicine.
    discs
        The considered discs, for codes per disc.
    """
    if template.codes is not None:
        entries = tuple(code_entries(template.codes, discs))
        some = {"any_codes"} if entries else set()
        values = Values(values.texts, {**values.lists, "codes": entries}, values.holding | some)
    made = _Draft(values, filled, sources)
    sections = []
    for part in template.parts:
        if holds(part.when, values.holding):
            lines = tuple(line for paragraph in part.paragraphs for line in made.lines(paragraph))
            if lines:
                sections.append(Section(part.heading, lines, part.alarm))
    notes = [line.marked for paragraph in template.notes for line in made.lines(paragraph)]
    return Letter(
        kind=template.id,
        title=template.title,
        reader=template.reader,
        state=next(name for name in STATES if name in values.holding),
        sections=tuple(sections),
        notes=(*warnings, *notes),
        open=tuple(blanks()[name] for name in dict.fromkeys(made.open)),
        sources=tuple(made.cited.values()),
        foot=foot,
        about=about,
        signature=tuple(frame()["signature"]),
    )


def holds(when: Iterable[str], holding: frozenset[str]) -> bool:
    """Whether every condition holds; one with "not " before it holds where the rest of it does not."""
    return all((c.removeprefix(NOT) in holding) is not c.startswith(NOT) for c in when)


def code_entries(codes: Codes, discs: tuple[str, ...]) -> Iterator[Entry]:
    """The code of each disc: the first disc bears one code, every further one another."""
    pair = codes.by_guidance[codes.guidance]
    for place, disc in enumerate(discs):
        yield {"disc": shown(disc), "code": shown(pair.added if place else pair.first)}


class _Draft:
    """Lines in the making, with the sources and blanks met on the way."""

    def __init__(self, values: Values, filled: Mapping[str, str], sources: Mapping[str, Source]) -> None:
        self._values, self._filled, self._sources = values, filled, sources
        self.open: list[str] = []
        self.cited: dict[tuple[str, str, str], SourceLine] = {}

    def lines(self, paragraph: Paragraph) -> Iterator[Line]:
        """The lines of a paragraph: none, one, or one for each entry of its list."""
        if not holds(paragraph.when, self._values.holding):
            return
        entries = self._values.lists[paragraph.each] if paragraph.each else ({},)
        for entry in entries:
            yield self._line(paragraph, entry)

    def _line(self, paragraph: Paragraph, entry: Entry) -> Line:
        marks = tuple(dict.fromkeys(self._mark(cite) for cite in paragraph.cites))
        if paragraph.columns:
            cells = tuple(self._fill(column.text, entry) for column in paragraph.columns)
            return Line(
                "row", cells=cells, head=tuple(column.head for column in paragraph.columns), marks=marks
            )
        return Line(paragraph.shape, self._fill(paragraph.text, entry), marks=marks)

    def _fill(self, text: str, entry: Entry) -> str:
        """Every placeholder by its value, once: what comes from a record is never read as a template."""
        return PLACEHOLDER.sub(lambda found: self._value(found[1], entry), " ".join(text.split()))

    def _value(self, name: str, entry: Entry) -> str:
        if name in entry:
            return entry[name]
        if name in self._values.texts:
            return self._values.texts[name]
        if name in self._filled and name not in BY_HAND:
            return shown(self._filled[name])
        self.open.append(name)
        return BLANK

    def _mark(self, cite: Citation) -> str:
        key = (cite.source, cite.at, cite.tag)
        if key not in self.cited:
            text = source_info(cite.source, self._sources[cite.source]).text
            place = f", {cite.at}" if cite.at else ""
            self.cited[key] = SourceLine(len(self.cited) + 1, f"{text}{place}", cite.tag)
        number = self.cited[key].number
        return f"{number}" if cite.tag == "seen" else f"{number}: {cite.tag}"


def runs_of(section: Section) -> Iterator[tuple[tuple[str, ...], list[Line]]]:
    """The lines of a section in runs of one shape; rows of one table with their heads before them."""
    for (_, head), run in groupby(section.lines, key=lambda line: (line.shape, line.head)):
        yield head, list(run)
