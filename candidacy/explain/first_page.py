"""Page one of a print: what a person must see on one sheet, in blocks that PDF and browser print alike.

What warns comes before what explains and is never left out; lists are cut to what one sheet holds, and say so. The boxes
are filled by hand.
"""

from collections.abc import Sequence
from math import ceil
from typing import NamedTuple

from msgspec import Struct

from candidacy.explain.ahead import not_yet_lines
from candidacy.explain.asked import asked_first
from candidacy.explain.cautions import EMERGENCY, GENERAL, INVENTED
from candidacy.explain.companions import COMPANIONS, companion_strip
from candidacy.explain.document import AssessmentDocument, FactInfo
from candidacy.explain.headline import headline
from candidacy.explain.labels import BURDEN_WORDS, SHOWN
from candidacy.explain.marks import marks_of
from candidacy.explain.missing_document import Asked, asked_together
from candidacy.explain.record import (
    CONTRADICTIONS,
    DISPUTED,
    NOT_READ,
    REMARKS,
    conflict_title,
    danger_lines,
    disputed_lines,
    remark_lines,
)
from candidacy.explain.wording import subject_words

ANNEX = "Annex"
LABEL_BOX = "Label of the patient: to be put here by hand. The program holds no name."
BOXES = (
    ("Reviewed by (name, role)", "By hand"),
    ("Decision, made by physician and patient", "By hand: the program decides nothing"),
    ("Reasons, where the decision differs from the standing", "By hand"),
    ("Signature and date", "By hand"),
)
# Of the cautions that every output carries, those that a reader of one page must see.
PAGE_CAUTIONS = (GENERAL[0], GENERAL[1], GENERAL[3])
_SIGNS_A_LINE = 96
_LINES = 47  # of text on the smaller of the two papers, beside title, label and boxes
_REASONS = 3


class Block(Struct, frozen=True):
    """A part of page one. ``alarm`` is printed in a frame; ``listed`` says that the lines are items of a list."""

    title: str
    lines: tuple[str, ...]
    alarm: bool = False
    listed: bool = True


class FirstPage(Struct, frozen=True):
    """Page one: title and what it is of, blocks before the standing, the standing, and blocks after it.

    ``tone`` is the colour of the standing, ``strip`` the companion sets with theirs.
    """

    title: str
    of: str
    before: tuple[Block, ...]
    standing: str
    tone: str
    strip: tuple[tuple[str, str, str], ...]
    blocks: tuple[Block, ...]

    @property
    def scale(self) -> float:
        """How much smaller than usual it is printed by a browser, where even the shortest lists are long."""
        return (
            round(min(1.0, max(0.6, 0.92 * _LINES / max(1, _height(self)))), 2)
            if _height(self) > _LINES
            else 1.0
        )

    @property
    def strip_name(self) -> str:
        return COMPANIONS


class _Room(NamedTuple):
    """How many lines of each list are shown, and how many signs of each."""

    dangers: int
    missing: int
    discs: int
    sources: int
    notices: int
    asks: int
    signs: int


_ROOMS = (
    _Room(8, 8, 5, 8, 5, 6, 600),
    _Room(6, 5, 4, 5, 4, 4, 400),
    _Room(4, 4, 3, 4, 3, 3, 260),
    _Room(2, 3, 2, 3, 2, 2, 180),
    _Room(0, 2, 2, 2, 1, 1, 120),
    _Room(0, 2, 1, 1, 1, 1, 80),
)


def first_page(document: AssessmentDocument) -> FirstPage:
    """Page one of an assessment, as full as one sheet allows."""
    pages = [_page(document, room) for room in _ROOMS]
    return next((page for page in pages if _height(page) <= _LINES), pages[-1])


def _page(d: AssessmentDocument, room: _Room) -> FirstPage:
    alarms = _alarms(d, room)
    title = f"{d.case.id}: {d.case.title}" if d.case.title else d.case.id
    rules = d.rule_set
    after = alarms if d.standing == "urgent" else ()
    return FirstPage(
        title=_cut(title, min(room.signs, 220)),
        of=f"Rule set {rules.title} ({rules.id} {rules.version}, {rules.status}), as of {d.as_of}",
        before=() if after else alarms,
        standing=headline(d),
        tone=d.shown,
        strip=tuple((name, _cut(words, room.signs), tone) for name, words, tone in companion_strip(d)),
        blocks=(*after, *_blocks(d, room)),
    )


def _alarms(d: AssessmentDocument, room: _Room) -> tuple[Block, ...]:
    """What a standing must not hide, each at least by its beginning."""
    stops = tuple(_cut(f"‼ {sentence}", 2 * room.signs) for sentence in d.stops)
    dangers = tuple(_cut(line, room.signs) for line in danger_lines(d, cited=False))
    if len(dangers) > room.dangers:
        named = [
            f"{_upper(u.fact.label)}{_of(u.fact.subject)}: {u.fact.value}" for u in d.unread if u.dangers
        ]
        dangers = (f"{'; '.join(named)}. Why each matters: see the annex.",)
    found = [Block("", stops, alarm=True, listed=False)] if stops else []
    return (*found, *([Block(f"‼ {NOT_READ}", dangers, alarm=True)] if dangers else ()))


def _blocks(d: AssessmentDocument, room: _Room) -> tuple[Block, ...]:
    shown = asked_together(asked_first(d))
    notices = _first(d.notices, room.notices, room.signs)
    cautions = [*([EMERGENCY] if EMERGENCY in d.cautions else []), *([INVENTED] if d.case.invented else [])]
    blocks = (
        Block("Why", _first([f"{_upper(each)}." for each in reasons(d)], _REASONS, room.signs)),
        Block("Next", (_cut(d.reason[1] if d.standing == "urgent" else d.next_step, 2 * room.signs),), listed=False),
        Block("What has to happen first", _first(not_yet_lines(d), room.asks, room.signs, last=True)),
        Block(DISPUTED, _first(disputed_lines(d), room.asks, room.signs), alarm=True),
        Block(CONTRADICTIONS, _first([_contradiction(d, n) for n in range(len(d.conflicts))], room.asks, room.signs)),
        Block(REMARKS, _first(remark_lines(d), room.asks, room.signs)),
        Block("What is missing", _first([_ask(asked) for asked in shown], room.missing, room.signs,
                                        facts=[asked.facts for asked in shown])
              or ("Nothing that could change the standing.",)),
        Block("Considered discs", _discs(d, room)),
        Block("Sources and dates", _first(sources(d), room.sources, room.signs) or ("No source is recorded.",)),
        Block("Cautions", (*cautions, *notices, *PAGE_CAUTIONS)),
    )  # fmt: skip
    return tuple(block for block in blocks if block.lines)


def reasons(document: AssessmentDocument) -> list[str]:
    """The grounds of the standing in words; of one that passes also how much was weighed."""
    found = list(document.grounds)
    if document.standing != "candidate":
        return found
    told = ", ".join(f"{number} {SHOWN[shown][1].lower()}" for shown, _, number in marks_of(document).tally())
    found.append(f"outcomes for the patient and the discs that are or may be considered: {told}")
    if not (document.conflicts or document.disputed or any(u.dangers for u in document.unread)):
        found.append("no related facts of the record differ, and no recorded sign of danger is left out")
    return found


def sources(document: AssessmentDocument) -> list[str]:
    """Where the facts that were read come from: each document with its date and the number of facts, the latest first."""
    found: dict[str, list[FactInfo]] = {}
    for fact in document.facts:
        if fact.known and not fact.worked_out_from:
            found.setdefault(fact.document or fact.recorded_by, []).append(fact)
    rows = []
    for name, facts in found.items():
        dates = sorted({fact.date for fact in facts if fact.date}, reverse=True)
        kind = facts[0].document_kind.replace("_", " ") or name or "no source named"
        day = f"{dates[-1]} to {dates[0]}" if len(dates) > 1 else dates[0] if dates else "no date"
        undated = sum(not fact.date for fact in facts) if dates else 0
        more = f", {undated} of them undated" if undated else ""
        rows.append((dates[0] if dates else "", f"{_upper(kind)}, {day} ({_facts(len(facts))}{more})"))
    rows.sort(key=lambda row: row[0], reverse=True)
    return [words for _, words in rows]


def _discs(d: AssessmentDocument, room: _Room) -> tuple[str, ...]:
    marks = marks_of(d)
    considered = [f"{disc.level}: {marks.disc(disc)}" for disc in d.discs if disc.considered == "met"]
    unknown = [f"{disc.level}: {marks.disc(disc)}; not known whether considered" for disc in d.discs
               if disc.considered == "unknown"]  # fmt: skip
    told = [each for each in d.which_disc.says if not each.startswith("Considered")]
    lines = considered or ["No disc is known to be considered."]
    return (*lines, *_first([*told, *unknown], room.discs, room.signs))


def _contradiction(d: AssessmentDocument, number: int) -> str:
    conflict = d.conflicts[number]
    return f"{conflict_title(conflict)}: {conflict.says or conflict.question}"


def _of(subject: str) -> str:
    return "" if subject == "patient" else f" ({subject_words(subject)})"


def _ask(asked: Asked) -> str:
    m = asked.row
    of = f" ({asked.of})" if asked.entries else _of(m.subject)
    return f"{m.ask}{of}: {m.why}; to obtain: {BURDEN_WORDS[m.burden]}"


def _first(
    lines: Sequence[str], most: int, signs: int, *, last: bool = False, facts: Sequence[int] = ()
) -> tuple[str, ...]:
    """The first lines, and how many more the annex holds; the ``last`` one, which sums up, always.

    Where a line stands for several ``facts``, what is left is counted in these.
    """
    kept = [*lines[: most - 1], lines[-1]] if last and len(lines) > most else list(lines[:most])
    left = sum(facts[len(kept) :]) if facts else len(lines) - len(kept)
    return (*(_cut(line, signs) for line in kept), *([f"and {left} more: see the annex"] if left > 0 else ()))


def _cut(text: str, signs: int) -> str:
    """A text that is too long for its place, cut at a word and marked so."""
    if len(text) <= signs:
        return text
    return f"{text[:signs].rsplit(' ', 1)[0]} … (whole in the annex)"


def _height(page: FirstPage) -> int:
    """Lines of text that a page takes, somewhat overstated."""
    blocks = (*page.before, *page.blocks)
    lines = sum(ceil(len(line) / _SIGNS_A_LINE) for block in blocks for line in block.lines)
    strip = ceil(sum(len(name) + len(words) + 6 for name, words, _ in page.strip) / _SIGNS_A_LINE)
    heads = 1.4 * sum(bool(block.title) for block in blocks) + sum(block.alarm for block in blocks)
    return ceil(lines + strip + heads + 2 * len(page.standing) / 80 + len(page.title) / 60)


def _facts(number: int) -> str:
    return f"{number} fact{'' if number == 1 else 's'}"


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
