"""What ``candidacy read`` was asked for, and how facts of a document get into a case record's file."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from candidacy.commands.output import emit, write_whole
from candidacy.commands.store_option import Keep
from candidacy.foundation.errors import CaseError, Code, Problem

if TYPE_CHECKING:
    from candidacy.case.record import CaseRecord, DocumentKind
    from candidacy.reading.elements import ReadFact


class Wish(NamedTuple):
    """What is asked of one report."""

    form: str
    out: Path | None
    replace: bool
    inputs: tuple[Path, ...]
    into: Path | None
    accept: bool
    ask: bool
    rules: str
    discs: tuple[str, ...]
    day: str
    kind: str = ""
    case: Path | None = None
    keep: Keep | None = None

    def give(self, text: str) -> None:
        """Print the answer, or write it."""
        emit(text, self.out, replace=self.replace, inputs=self.inputs)


class Arrived(NamedTuple):
    """A document that was read, as a case record lists it and a store keeps it.

    Attributes
    ----------
    kind, day
        What it is among the documents of a record, and its day, as far as it is known.
    note
        What stands beside it: passages that were not read and may tell of danger.
    text, reading
        Its text, and what was read from it, as data.
    """

    kind: "DocumentKind"
    day: str
    note: str
    text: str
    reading: Callable[[], dict[str, Any]]


def put_into(
    into: Path,
    path: Path,
    wish: Wish,
    arrived: Arrived,
    found: "Callable[[CaseRecord, str], tuple[CaseRecord, tuple[ReadFact, ...]]]",
) -> None:
    """Write the facts of a document into a case record's file, or beside it with ``--out``; say how many, and keep the document.

    ``found`` gives, for the record and the key of the document, the record with room for the facts, and the facts.

    Raises
    ------
    CaseError
        E211 for each value that differs from the record's, unless they are accepted, and where the record was changed
        meanwhile.
    StoreError
        With ``--keep``, before anything is written, where the store is none, keeps no referral of this reference, or lets
        this person enter nothing.
    """
    from candidacy.case.element import LISTS
    from candidacy.case.load import case_from_record, parse_case
    from candidacy.case.record import Document
    from candidacy.case.rewrite import rewritten
    from candidacy.foundation.files import raw_content, text_from_bytes
    from candidacy.reading.merge import document_key, merge

    raw = raw_content(into)
    record = parse_case(text_from_bytes(raw, str(into)), str(into)).record
    key = document_key(record, path.stem)
    document = Document(kind=arrived.kind, date=arrived.day or None, title=path.name, note=arrived.note)
    roomy, facts = found(record, key)
    merged = merge(roomy, facts, key, document, accept=wish.accept, name=str(into))
    case_from_record(merged.record, str(into))
    made = rewritten(raw.decode("utf-8"), record, merged.record, str(into)).encode("utf-8")
    target = wish.out or into
    _check_unchanged(into, raw)
    taken, left = (*merged.added, *merged.replaced), merged.kept
    kept = "" if wish.keep is None else _keep(wish.keep, record.id, key, arrived, taken, left)
    if wish.out is not None:
        write_whole(target, made, replace=wish.replace, inputs=wish.inputs)
    elif made != raw:
        _check_unchanged(into, raw)  # a store may have let somebody wait
        write_whole(target, made, replace=True)
    click.echo(
        f"{target}: {len(merged.added)} facts added, {len(merged.replaced)} replaced, {len(left)} left as they were"
    )
    for name in LISTS:
        if _stated_complete(record, name) and not _stated_complete(merged.record, name):
            click.echo(
                f"{name}: no longer stated to be complete, for the document tells of more: check the list"
            )
    if kept:
        click.echo(kept, err=True)


def _stated_complete(record: "CaseRecord", name: str) -> bool:
    listed = getattr(record, name)
    return listed is not None and listed.complete is True


def _check_unchanged(into: Path, raw: bytes) -> None:
    from candidacy.foundation.files import raw_content

    if raw_content(into) != raw:
        raise CaseError(
            [Problem(Code.CONTRADICTION, "the record was changed while the report was read", str(into),
                     next_step="run it again")]
        )  # fmt: skip


def _keep(
    keep: Keep,
    reference: str,
    key: str,
    arrived: Arrived,
    taken: "tuple[ReadFact, ...]",
    left: "tuple[ReadFact, ...]",
) -> str:
    """Keep the document; gives the line that tells it. It comes before the record's file is written, for a store may refuse."""
    from candidacy.explain.said import found_words
    from candidacy.reading.show import to_json

    with keep.opened() as store:
        kept = store.keep_report(
            reference, arrived.kind, arrived.text, reading=to_json(arrived.reading()), document=key, day=arrived.day,
            accepted=[found_words(fact.subject, fact.element, fact.entry) for fact in taken],
            refused=[found_words(fact.subject, fact.element, fact.entry) for fact in left],
        )  # fmt: skip
    return f"the text is {kept.words}"
