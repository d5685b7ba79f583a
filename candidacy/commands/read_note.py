"""``candidacy read`` for discography and procedure notes and letters: which of the documents they are, and their answers."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from candidacy.commands.read_into import Arrived, IntoRecord, Wish
from candidacy.foundation.errors import Code, Problem, ReportError

if TYPE_CHECKING:
    from candidacy.reading.notes.model import NoteReading
    from candidacy.reading.sent import ReportText

_OF_IMAGING = "what it tells of imaging is read with --kind imaging"


def answered(loaded: Sequence["ReportText"], path: Path, name: str, wish: Wish) -> str | None:
    """Answer for a note and give nothing, or give the line that tells as what the documents are to be read.

    Raises
    ------
    ReportError
        E401 where a document's words fit several kinds and none was named, or one file holds different kinds.
    """
    from candidacy.reading.as_kind import OWN_KINDS
    from candidacy.reading.notes.kinds import settled

    whole = [t for t in loaded if not (t.problems or t.superseded)]
    guesses = [settled(t.text, wish.kind, name, "imaging") for t in whole]
    if not any(g.kind in OWN_KINDS for g in guesses):
        told = dict.fromkeys(f"Read as {g.kind}: {g.why}" for g in guesses)
        return "\n".join(told)
    if len(loaded) > 1:
        raise ReportError(
            [Problem(Code.BAD_REPORT, "the file holds several documents, a note or letter among them", name,
                     found=str(len(loaded)), next_step="give one a file")]
        )  # fmt: skip
    _answer(whole[0], path, name, wish)
    return None


def _answer(report: "ReportText", path: Path, name: str, wish: Wish) -> None:
    from candidacy.commands.read_ask import asked_for
    from candidacy.reading.as_kind import read_as
    from candidacy.reading.notes import show
    from candidacy.reading.notes.elements import day_of, told
    from candidacy.reading.notes.kinds import settled
    from candidacy.reading.show import to_json

    kind = settled(report.text, wish.kind, name, "imaging")
    if kind.kind == "letter":
        kind = kind._replace(why=f"{kind.why}; {_OF_IMAGING}")
    reading = read_as(report._replace(name=name), kind, wish.day)
    if wish.ask and reading.kind != "discography":
        raise click.UsageError(
            "--ask is for imaging reports and discography; an open point of a note is listed without it"
        )
    if wish.ask:
        wish.give(asked_for(told(reading), report.day or day_of(reading), report.status, wish))
    elif wish.into is not None:
        _into(wish.into, reading, report, path, wish)
    elif wish.form == "json":
        wish.give(to_json(show.as_data(reading, path.name)))
    elif wish.form == "html":
        wish.give(show.as_html(reading, path.name))
    else:
        wish.give(show.as_text(reading, path.name))


def _into(into: IntoRecord, reading: "NoteReading", report: "ReportText", path: Path, wish: Wish) -> None:
    from candidacy.reading.as_kind import facts_of_note, placed, written_day
    from candidacy.reading.dangers import note_of
    from candidacy.reading.notes.elements import DOCUMENTS
    from candidacy.reading.notes.show import as_data

    day = wish.day or report.day
    arrived = Arrived(DOCUMENTS[reading.kind], day or written_day(reading), note_of(reading.text, reading.unread),
                      report.text, lambda: as_data(reading, path.name))  # fmt: skip
    said = [f"read as {reading.kind}: {reading.why}"]
    said += [f"to settle: {question.about}" for question in reading.questions]
    if reading.unread:
        missed = sum(len(a.missed) for a in reading.unread)
        said.append(f"not read: {missed} passages; see candidacy read {path}")
    into.put(
        path,
        arrived,
        lambda record, key: placed(record, reading.kind, facts_of_note(reading, key, day)),
        said,
    )
