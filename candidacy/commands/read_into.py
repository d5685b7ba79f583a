"""What ``candidacy read`` was asked for, and how facts of documents get into a case record's file."""

from collections.abc import Callable, Iterable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from candidacy.commands.output import emit, write_whole
from candidacy.commands.store_option import Keep
from candidacy.foundation.errors import CaseError, Code, Problem

if TYPE_CHECKING:
    from candidacy.case.record import CaseRecord, DocumentKind
    from candidacy.reading.elements import ReadFact
    from candidacy.reading.merge import Differing, Merged
    from candidacy.reading.whose import Person


class Wish(NamedTuple):
    """What is asked of one report."""

    form: str
    out: Path | None
    replace: bool
    inputs: tuple[Path, ...]
    into: "IntoRecord | None"
    differing: "Differing"
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


class _Put(NamedTuple):
    """A document that was put into a record, and what is told of it once the record is written."""

    path: Path
    key: str
    arrived: Arrived
    merged: "Merged"
    said: list[str]
    told: "Person"
    was_there: bool
    """Whether the record lists it already, and holds all that it tells."""

    @property
    def counted(self) -> str:
        merged = self.merged
        if self.was_there:
            return (
                f"the record lists this document already, as {self.key}, with all it tells; nothing was added"
            )
        conflict = f", {len(merged.in_conflict)} in conflict, to be settled" if merged.in_conflict else ""
        return (
            f"{len(merged.added)} facts added, {len(merged.replaced)} replaced, "
            f"{len(merged.kept)} left as they were{conflict}"
        )


class IntoRecord:
    """The file of a case record while documents are put into it; nothing is written before `write`.

    Raises
    ------
    CaseError
        Where the record cannot be read.
    """

    def __init__(self, path: Path, wish: Wish) -> None:
        from candidacy.case.load import parse_case
        from candidacy.foundation.files import raw_content, text_from_bytes

        self._path, self._wish = path, wish
        self._raw = raw_content(path)
        self._was = self._record = parse_case(text_from_bytes(self._raw, str(path)), str(path)).record
        self._put: list[_Put] = []

    def put(
        self,
        path: Path,
        arrived: Arrived,
        found: "Callable[[CaseRecord, str], tuple[CaseRecord, tuple[ReadFact, ...]]]",
        said: Iterable[str],
    ) -> None:
        """Take the facts of a document over; ``said`` is told of it once all is written.

        ``found`` gives, for the record and the key of the document, the record with room for the facts, and the facts.

        Raises
        ------
        CaseError
            E211 for each value that differs from the record's, unless the wish says what is done then; the value of another
            document of the same run is never replaced. E211 too for a document whose own words tell of another patient.
        """
        from candidacy.case.load import case_from_record
        from candidacy.case.record import Document
        from candidacy.reading.merge import Beside, document_key, listed_as, merge
        from candidacy.reading.whose import in_conflict, person_told, told_anew

        key = document_key(self._record, path.stem)
        roomy, facts = found(self._record, key)
        told = person_told(arrived.text, arrived.day, date.today(), facts)
        known = self._checked_whose(path, told)
        note = "; ".join(filter(None, (arrived.note, told_anew(told, known, facts))))
        document = Document(kind=arrived.kind, date=arrived.day or None, title=path.name, note=note)
        facts = (*in_conflict(told, known), *facts)
        beside = [Beside(str(each.path), (*each.merged.taken, *each.merged.kept)) for each in self._put]
        name = str(self._path)
        merged = merge(roomy, facts, key, document, differing=self._wish.differing, name=name, beside=beside)
        there = "" if merged.taken else listed_as(self._record, document)
        if there:
            merged = merged._replace(record=self._record)
        case_from_record(merged.record, name)
        self._record = merged.record
        self._put.append(_Put(path, there or key, arrived, merged, list(said), told, bool(there)))

    def _checked_whose(self, path: Path, told: "Person") -> "Person":
        """Whom the record is of, unless the document tells of another patient than it or than a document of the same run."""
        from candidacy.reading.whose import of_another, person_recorded

        known, step = person_recorded(self._was, date.today()), "find out whose it is"
        theirs = f"{step}; where it is this patient's, put right what is wrong first, or use --conflict to write down what each says"
        apart = (
            []
            if self._wish.differing == "conflict"
            else [of_another(told, known, str(path), str(self._path), theirs)]
        )
        apart += [of_another(told, each.told, str(path), str(each.path), step) for each in self._put]
        if problems := [each for each in apart if each is not None]:
            raise CaseError(problems)
        return known

    def write(self) -> None:
        """Write the record's file, or beside it with ``--out``; say what was taken over, and keep the documents.

        Raises
        ------
        CaseError
            E211 where the record was changed meanwhile.
        StoreError
            With ``--keep``, before anything is written, where the store is none, keeps no referral of this reference, or
            lets this person enter nothing.
        """
        from candidacy.case.rewrite import rewritten

        into, wish = self._path, self._wish
        made = rewritten(self._raw.decode("utf-8"), self._was, self._record, str(into)).encode("utf-8")
        self._check_unchanged()
        kept = [] if wish.keep is None else _keep(wish.keep, self._record.id, self._put)
        if wish.out is not None:
            write_whole(wish.out, made, replace=wish.replace, inputs=wish.inputs)
        elif made != self._raw:
            self._check_unchanged()  # a store may have let somebody wait
            write_whole(into, made, replace=True)
        self._tell(wish.out or into)
        for line in kept:
            click.echo(line, err=True)

    def _tell(self, target: Path) -> None:
        from candidacy.case.element import LISTS

        alone, step = len(self._put) == 1, "" if len(self._put) == 1 else "  "
        for each in self._put:
            click.echo(f"{target if alone else each.path}: {each.counted}")
            for line in each.said:
                click.echo(step + line)
        for name in LISTS:
            if _stated_complete(self._was, name) and not _stated_complete(self._record, name):
                click.echo(
                    f"{name}: no longer stated to be complete, for a document tells of more: check the list"
                )
        if not alone:
            click.echo(f"written: {target}")

    def _check_unchanged(self) -> None:
        from candidacy.foundation.files import raw_content

        if raw_content(self._path) != self._raw:
            raise CaseError(
                [Problem(Code.CONTRADICTION, "the record was changed while the report was read", str(self._path),
                         next_step="run it again")]
            )  # fmt: skip


def _stated_complete(record: "CaseRecord", name: str) -> bool:
    listed = getattr(record, name)
    return listed is not None and listed.complete is True


def _keep(keep: Keep, reference: str, documents: Iterable[_Put]) -> list[str]:
    """Keep documents, all or none; gives the lines that tell it. It comes before the record's file is written, for a store may refuse."""
    from candidacy.explain.said import found_words
    from candidacy.reading.show import to_json

    with keep.opened() as store:
        from candidacy.records.reports import report_said

        said = [
            report_said(
                each.arrived.kind, each.arrived.text, reading=to_json(each.arrived.reading()), document=each.key,
                day=each.arrived.day,
                accepted=[found_words(f.subject, f.element, f.entry) for f in each.merged.taken],
                refused=[found_words(f.subject, f.element, f.entry) for f in each.merged.kept],
            )
            for each in documents
        ]  # fmt: skip
        return [f"the text is {kept.words}" for kept in store.keep_reports(reference, said)]
