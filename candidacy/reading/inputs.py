"""Reports as they arrive: text, HTML, RTF, PDF with a text layer, Word, HL7 v2 results, FHIR, C-CDA.

Every form ends as plain text; what cannot be read is refused with its reason, never guessed.
"""

import re
from pathlib import Path

from candidacy.foundation.errors import Code, ReportError, shorten
from candidacy.reading import cda, fhir, hl7
from candidacy.reading.forms import document_text, is_xml, plain_text
from candidacy.reading.model import Mark
from candidacy.reading.report_bytes import MAX_BYTES, decode, refuse
from candidacy.reading.sent import AMENDED, PRELIMINARY, ReportText
from candidacy.reading.versions import Version, verdicts

MAX_CHARACTERS = 1_000_000
SUFFIXES = (".txt", ".text", ".pdf", ".docx", ".rtf", ".html", ".htm", ".xml", ".hl7", ".json")
_BROKEN = re.compile("[\ud800-\udfff\x00]")
_NO_TEXT = (b"%PDF-", b"PK\x03\x04", b"\xd0\xcf\x11\xe0")


def load(path: Path | str) -> tuple[ReportText, ...]:
    """Load the report or reports of one file; an HL7 message may hold several.

    Raises
    ------
    ReportError
        E101 unreadable, E102 too large, E103 not text, E104 not well-formed, E106 XML with entities, E107 nested too
        deeply, E109 empty, E401 no report in it (a scanned page without a text layer, an encrypted file, a
        message without result text), E404 withdrawn. Also where only one of several reports is refused.
    """
    return _strict(load_each(path))


def load_bytes(raw: bytes, name: str = "report") -> tuple[ReportText, ...]:
    """Load reports from the bytes of a file; the form is told from the bytes, then from the name. See `load`."""
    return _strict(load_bytes_each(raw, name))


def _strict(found: tuple[ReportText, ...]) -> tuple[ReportText, ...]:
    problems = [p for item in found for p in item.problems]
    if problems:
        raise ReportError(problems)
    return tuple(item for item in found if not item.superseded)


def load_each(path: Path | str) -> tuple[ReportText, ...]:
    """Load the reports of one file; one of several that is refused stands among the others with its problems.

    Raises
    ------
    ReportError
        As `load`, where the file as a whole is refused.
    """
    path = Path(path)
    name = shorten(path, 500)
    try:
        if path.is_dir():
            raise refuse(
                Code.UNREADABLE, "this is a folder, not a report", name, next_step="name the files in it"
            )
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        raise refuse(Code.UNREADABLE, "cannot be read", name, getattr(error, "strerror", "") or "") from error
    return load_bytes_each(raw, name)


def load_bytes_each(raw: bytes, name: str = "report") -> tuple[ReportText, ...]:
    """Like `load_each`, from the bytes of a file."""
    if len(raw) > MAX_BYTES:
        raise refuse(Code.TOO_LARGE, "the report is too large", name, next_step=f"at most {MAX_BYTES} bytes")
    form, sent = _sent(raw, name)
    many = len(sent) > 1
    items = [_checked(item, f"{name}#{n}" if many else name, form) for n, item in enumerate(sent, 1)]
    told = verdicts(
        [Version(i.name, i.status, i.key, i.issued, i.text, bool(i.problems)) for i in items] if many else []
    )
    for n, verdict in enumerate(told):
        items[n] = items[n]._replace(
            marks=(*items[n].marks, *verdict.marks),
            problems=(*items[n].problems, *verdict.problems),
            superseded=verdict.superseded,
        )
    return tuple(items)


def _sent(raw: bytes, name: str) -> tuple[str, list[ReportText]]:
    if raw.startswith(_NO_TEXT) or raw.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{\\rtf"):
        text, form, marks = document_text(raw, name)
        return form, [ReportText(text, marks=marks)]
    if raw[:2] not in (b"\xff\xfe", b"\xfe\xff") and b"\x00" in raw[:512]:
        text, form, marks = document_text(raw, name)
        return form, [ReportText(text, marks=marks)]
    if b"%PDF-" in raw[:1024]:
        text, form, marks = document_text(raw, name)
        return form, [ReportText(text, marks=marks)]
    text = decode(raw, name)
    start = text.lstrip("\ufeff \t\r\n\x0b")
    if hl7.is_message(start):
        return "hl7", hl7.reports(start, name)
    if start.startswith("{"):
        return "fhir", fhir.reports(start, name)
    if is_xml(start):
        return "cda", [cda.report(start, name)]
    shown, form, marks = plain_text(text)
    return form, [ReportText(shown, marks=marks)]


def _checked(item: ReportText, name: str, form: str) -> ReportText:
    text = item.text
    item = item._replace(name=name, form=form)
    if item.problems:
        return item
    if _BROKEN.search(text):
        text = _BROKEN.sub("\ufffd", text)
        if text.count("\ufffd") > len(text) // 20:
            raise refuse(Code.NOT_TEXT, "this is not a text file", name)
    if len(text) > MAX_CHARACTERS:
        raise refuse(
            Code.TOO_LARGE, "the report is too long", name, next_step=f"at most {MAX_CHARACTERS} characters"
        )
    if not text.strip():
        raise refuse(Code.EMPTY, "there is no text in it", name)
    marks = [Mark(s, f"the message sends it as {s}") for s in (PRELIMINARY, AMENDED) if item.status == s]
    return item._replace(text=text, marks=(*marks, *item.marks))
