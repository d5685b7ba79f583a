"""Result text out of HL7 v2 observation messages (ORU^R01), one or many in a file.

Segments, separators and escape sequences after HL7 v2.5.1 chapter 2 (2.5, 2.7, 2.10 batches); OBR and OBX after
chapter 7 (7.4.1, 7.4.2), their standing after tables 0123 (OBR-25) and 0085 (OBX-11); ED after 2.A.24.
"""

import base64
import binascii
import re
from typing import NamedTuple

from candidacy.foundation.errors import Code, ReportError, shorten
from candidacy.reading.forms import document_text, plain_text
from candidacy.reading.model import Mark
from candidacy.reading.report_bytes import clean_day, refuse
from candidacy.reading.sent import AMENDED, FINAL, PRELIMINARY, WITHDRAWN, ReportText

# HL7 table 0123, OBR-25. An order without result (O, I, S, Y, Z) or cancelled (X) holds no report.
_REQUEST = {"P": PRELIMINARY, "R": PRELIMINARY, "A": PRELIMINARY, "F": FINAL, "C": AMENDED, "X": WITHDRAWN}
_NO_RESULT = {
    "O": "order received, no result", "I": "procedure incomplete, no result", "S": "procedure scheduled, not done",
    "Y": "no order on record", "Z": "no record of this patient",
}  # fmt: skip
# HL7 table 0085, OBX-11; A, B and V since 2.8. D deletes the line, W was posted as wrong, X has no result; I, N and O hold none.
_LINE = {"P": PRELIMINARY, "R": PRELIMINARY, "S": PRELIMINARY, "F": FINAL, "U": FINAL, "C": AMENDED,
         "V": FINAL, "A": AMENDED, "B": AMENDED}  # fmt: skip
_GONE = {
    "D": "deleted", "W": "posted as wrong", "X": "without result", "I": "result pending", "N": "not asked",
    "O": "order detail",
}  # fmt: skip
_TEXT_TYPES = ("TX", "FT", "ST", "CF", "")
_BREAKS = re.compile(r"\.(?:br|sp\d*|ce|fi|nf|in[+-]?\d*|ti[+-]?\d*|sk[+-]?\d*)", re.IGNORECASE)
_MESSAGE = re.compile(r"(?:^|(?<=[\r\n\x0b\x1c]))[ \t\x0b]*(?=MSH[^\w\s])")
_MAX_MESSAGES = 10_000


class _Marks(NamedTuple):
    """The separators of one message (MSH-1, MSH-2)."""

    field: str
    component: str
    repetition: str
    escape: str
    sub: str


def is_message(start: str) -> bool:
    """Say whether a text is an HL7 v2 message or a file of them."""
    return re.match(r"(?:MSH|FHS|BHS)[^\w\s]", start) is not None


def reports(text: str, name: str) -> list[ReportText]:
    """Give a report for each observation request that carries result text; one that cannot be read has problems.

    Raises
    ------
    ReportError
        E401 if no message in the file is an observation result, E102 if there are too many.
    """
    messages = [m for m in _MESSAGE.split(text)[1:] if m.strip("\x0b\x1c\r\n ")]
    if not messages:
        raise refuse(Code.BAD_REPORT, "a batch without messages", name, next_step="give an ORU^R01 message")
    if len(messages) > _MAX_MESSAGES:
        raise refuse(Code.TOO_LARGE, "too many messages", name, next_step=f"at most {_MAX_MESSAGES} a file")
    found: list[ReportText] = []
    for number, message in enumerate(messages, 1):
        where = f"{name}, message {number}" if len(messages) > 1 else name
        try:
            found += _message(message, where)
        except ReportError as error:
            if len(messages) == 1:
                raise
            found.append(ReportText("", problems=error.problems))
    return found


def _message(message: str, name: str) -> list[ReportText]:
    field = message[3]
    ends = [at for at in (message.find(field, 4), message.find("\r", 4), message.find("\n", 4)) if at > 0]
    given = message[4 : min(ends, default=8)][:4]
    if not given or len({field, *given}) <= len(given):
        raise refuse(Code.BAD_REPORT, "the message does not name its separators", name, message[:20])
    marks = _Marks(field, *(given + "^~\\&"[len(given) :]))
    segments = [s for s in re.split(r"[\r\n]+", message) if s.strip("\x0b\x1c ")]
    head = segments[0].split(field)
    kind = _get(head, 8).split(marks.component)
    if kind[0] != "ORU":
        raise refuse(
            Code.BAD_REPORT,
            "not an observation result message",
            name,
            "^".join(kind),
            "give an ORU^R01 message",
        )
    requests: list[_Request] = []
    for segment in segments[1:]:
        parts = segment.strip("\x0b\x1c").split(field)
        if parts[0] == "OBR":
            requests.append(_Request(parts, marks, name, _get(head, 6)))
        elif parts[0] == "OBX":
            if not requests:
                requests.append(_Request([], marks, name, _get(head, 6)))
            requests[-1].line(parts)
    found = [r.sent() for r in requests if r.speaks()]
    if not found:
        raise refuse(
            Code.BAD_REPORT,
            "the message holds no result text",
            name,
            next_step="send OBX of type TX, FT or ED",
        )
    return found


class _Request:
    """One observation request with its result lines."""

    def __init__(self, parts: list[str], marks: _Marks, name: str, sent: str) -> None:
        self.marks, self.name = marks, name
        self.day = clean_day(_get(parts, 7))
        self.code = _get(parts, 25)
        # OBR-3 filler order number, or OBR-2 placer, with the study of OBR-4, since one number may stand for several
        # studies; OBR-22 is when the standing changed.
        number, study = _get(parts, 3) or _get(parts, 2), _get(parts, 4).split(marks.component)[0]
        self.key = f"order {number} {study}".strip() if number else ""
        self.issued = re.sub(r"\D.*", "", _get(parts, 22) or sent)
        self.lines: list[str] = []
        self.gone: list[tuple[str, str]] = []
        self.codes: set[str] = set()
        self.found: list[Mark] = []
        self.problems: list[ReportError] = []

    def line(self, parts: list[str]) -> None:
        kind, code = _get(parts, 2), _get(parts, 11)
        value = _get(parts, 5)
        if kind in _TEXT_TYPES:
            some = [_plain(r, self.marks) for r in value.split(self.marks.repetition)]
            text = "\n".join(some)
        elif kind == "ED" and value:
            text = self._document(value)
        else:
            return
        if code in _GONE:
            self.gone.append((_GONE[code], " ".join(text.split())))
            self.codes.add(code)
        elif text.strip() or kind != "ED":
            self.lines.append(text)
            self.codes.add(code)

    def _document(self, value: str) -> str:
        """The text of a document inside the message: application, type, subtype, code, data."""
        parts = [*value.split(self.marks.component), "", "", "", "", ""]
        data = _plain(parts[4], self.marks)
        try:
            if parts[3].lower() == "base64":
                raw = base64.b64decode("".join(data.split()), validate=True)
                text, _, marks = document_text(raw, self.name)
                self.found += marks
                return text
            if parts[3].upper() in ("A", ""):
                return data
            raise refuse(Code.BAD_REPORT, "the document in the message is in a code that is not read", self.name,
                         parts[3], "send Base64 or text")  # fmt: skip
        except (binascii.Error, ValueError):
            self.problems.append(
                refuse(Code.BAD_REPORT, "the document in the message is not base64", self.name)
            )
        except ReportError as error:
            self.problems.append(error)
        return ""

    def speaks(self) -> bool:
        return bool(self.gone or self.problems or self.code in (*_NO_RESULT, "X")) or any(
            line.strip() for line in self.lines
        )

    def sent(self) -> ReportText:
        text = "\n".join(self.lines)
        standing = _REQUEST.get(self.code, "")
        unread = [p for error in self.problems for p in error.problems]
        if standing == WITHDRAWN:
            return self._refused("the order was cancelled", f"OBR-25 {self.code}", WITHDRAWN)
        if self.code in _NO_RESULT:
            return self._refused(_NO_RESULT[self.code], f"OBR-25 {self.code}", "")
        if not text.strip() and self.gone:
            about = "; ".join(dict.fromkeys(why for why, _ in self.gone))
            wrong = not self.codes.isdisjoint(("D", "W"))
            return self._refused(f"every line of it is {about}", "OBX-11", WITHDRAWN if wrong else "")
        if not text.strip():
            return ReportText("", key=self.key, problems=tuple(unread))
        shown, _, more = plain_text(text)
        marks = [*self.found, *more]
        marks += [Mark("left_out", f"a document in the message was not read: {p.message}") for p in unread]
        for why in dict.fromkeys(w for w, _ in self.gone):
            words = "; ".join(t for w, t in self.gone if w == why)
            marks.append(
                Mark("left_out", f"lines of the message that are {why} were not read: {shorten(words, 300)}")
            )
        odd = [c for c in sorted({self.code, *self.codes}) if c and c not in (*_REQUEST, *_LINE, *_GONE)]
        if odd:
            marks.append(
                Mark(
                    "status_unknown",
                    f"its standing is written as {', '.join(map(shorten, odd))}, which the standard does not have",
                )
            )
        lines = {_LINE[c] for c in self.codes if c in _LINE}
        if PRELIMINARY in lines:  # a line that is not final makes the whole so
            standing = PRELIMINARY
        elif AMENDED in lines and standing != PRELIMINARY:
            standing = AMENDED
        return ReportText(
            shown, day=self.day, status=standing, key=self.key, issued=self.issued, marks=tuple(marks)
        )

    def _refused(self, why: str, where: str, standing: str) -> ReportText:
        code = Code.WITHDRAWN if standing else Code.BAD_REPORT
        error = refuse(code, why, self.name, where, "ask the sender for the report that holds")
        return ReportText(
            "", day=self.day, status=standing, key=self.key, issued=self.issued, problems=error.problems
        )


def _get(parts: list[str], at: int) -> str:
    return parts[at].strip() if at < len(parts) and at != 5 else parts[at] if at < len(parts) else ""


def _plain(text: str, marks: _Marks) -> str:
    field, component, repetition, escape, sub = marks
    if escape not in text:
        return text
    letters = {"F": field, "S": component, "R": repetition, "E": escape, "T": sub, "H": "", "N": ""}
    out: list[str] = []
    rest = text.split(escape)
    for at, piece in enumerate(rest):
        if at % 2 == 0:
            out.append(piece)
        elif at == len(rest) - 1:  # an escape that is never closed is text
            out.append(escape + piece)
        elif piece in letters:
            out.append(letters[piece])
        elif _BREAKS.fullmatch(piece):
            out.append("\n")
        elif re.fullmatch(r"X(?:[0-9A-Fa-f]{2})+", piece):
            out.append(bytes.fromhex(piece[1:]).decode("cp1252", "replace"))
    return "".join(out)
