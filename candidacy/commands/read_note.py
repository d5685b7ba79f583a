"""``candidacy read`` for discography and procedure notes: which of the documents they are, and their answers."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from candidacy.commands.read_into import Wish, put_into
from candidacy.foundation.errors import Code, Problem, ReportError

if TYPE_CHECKING:
    from candidacy.reading.inputs import ReportText
    from candidacy.reading.notes.model import NoteReading


_AS = {"letter": "letter (only what it tells of imaging is read)"}


def answered(loaded: Sequence["ReportText"], path: Path, name: str, wish: Wish) -> str | None:
    """Answer for a note and give nothing, or give the line that tells as what the documents are to be read.

    Raises
    ------
    ReportError
        E401 where a document's words fit several kinds and none was named, or one file holds different kinds.
    """
    from candidacy.reading.notes.kinds import settled

    whole = [t for t in loaded if not (t.problems or t.superseded)]
    guesses = [settled(t.text, wish.kind, name, "imaging") for t in whole]
    if not any(g.kind in ("discography", "procedure") for g in guesses):
        told = dict.fromkeys(f"Read as {_AS.get(g.kind or '', g.kind)}: {g.why}" for g in guesses)
        return "\n".join(told)
    if len(loaded) > 1:
        raise ReportError(
            [Problem(Code.BAD_REPORT, "the file holds several documents, a note among them", name,
                     found=str(len(loaded)), next_step="give one note a file")]
        )  # fmt: skip
    _answer(whole[0], path, name, wish)
    return None


def _answer(report: "ReportText", path: Path, name: str, wish: Wish) -> None:
    from candidacy.commands.read_ask import asked_for
    from candidacy.reading.notes import show
    from candidacy.reading.notes.elements import day_of, told
    from candidacy.reading.notes.kinds import settled
    from candidacy.reading.notes.model import Question
    from candidacy.reading.notes.read import read_note
    from candidacy.reading.show import to_json

    kind = settled(report.text, wish.kind, name, "imaging")
    reading = read_note(report.text, kind.kind, name)._replace(why=kind.why)
    sent = tuple(Question(mark.about, "", "", ()) for mark in report.marks)
    reading = reading._replace(questions=(*sent, *reading.questions))
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


def _into(into: Path, reading: "NoteReading", report: "ReportText", path: Path, wish: Wish) -> None:
    from candidacy.reading.notes.elements import DOCUMENTS, day_of, note_facts, with_place_for

    day = wish.day or report.day
    put_into(
        into,
        path,
        wish,
        DOCUMENTS[reading.kind],
        day or day_of(reading),
        lambda record, key: with_place_for(record, note_facts(reading, key, day)),
    )
    click.echo(f"read as {reading.kind}: {reading.why}")
    for question in reading.questions:
        click.echo(f"to settle: {question.about}")
    if reading.unread:
        click.echo(
            f"not read: {sum(len(a.missed) for a in reading.unread)} passages; see candidacy read {path}"
        )
