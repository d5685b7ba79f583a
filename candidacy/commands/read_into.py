"""What ``candidacy read`` was asked for, and how facts of a document get into a case record's file."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from candidacy.commands.output import emit, write_whole
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

    def give(self, text: str) -> None:
        """Print the answer, or write it."""
        emit(text, self.out, replace=self.replace, inputs=self.inputs)


def put_into(
    into: Path,
    path: Path,
    wish: Wish,
    kind: "DocumentKind",
    day: str,
    found: "Callable[[CaseRecord, str], tuple[CaseRecord, tuple[ReadFact, ...]]]",
    note: str = "",
) -> None:
    """Write the facts of a document into a case record's file, or beside it with ``--out``; say how many.

    ``found`` gives, for the record and the key of the document, the record with room for the facts, and the facts. ``note``
    is what stands beside the document: passages that were not read and may tell of danger.

    Raises
    ------
    CaseError
        E211 for each value that differs from the record's, unless they are accepted, and where the record was changed
        meanwhile.
    """
    from candidacy.case.load import case_from_record, parse_case
    from candidacy.case.record import Document
    from candidacy.case.rewrite import rewritten
    from candidacy.foundation.files import raw_content, text_from_bytes
    from candidacy.reading.merge import document_key, merge

    raw = raw_content(into)
    record = parse_case(text_from_bytes(raw, str(into)), str(into)).record
    key = document_key(record, path.stem)
    document = Document(kind=kind, date=day or None, title=path.name, note=note)
    roomy, facts = found(record, key)
    merged = merge(roomy, facts, key, document, accept=wish.accept, name=str(into))
    case_from_record(merged.record, str(into))
    made = rewritten(raw.decode("utf-8"), record, merged.record, str(into)).encode("utf-8")
    target = wish.out or into
    if wish.out is not None:
        write_whole(target, made, replace=wish.replace, inputs=wish.inputs)
    elif made != raw:
        if raw_content(into) != raw:
            raise CaseError(
                [Problem(Code.CONTRADICTION, "the record was changed while the report was read", str(into),
                         next_step="run it again")]
            )  # fmt: skip
        write_whole(target, made, replace=True)
    added, replaced, kept = len(merged.added), len(merged.replaced), len(merged.kept)
    click.echo(f"{target}: {added} facts added, {replaced} replaced, {kept} left as they were")
