"""Result text out of HL7 v2 observation messages (ORU^R01).

Segments, separators and escape sequences after HL7 v2.5.1 chapter 2 (2.5, 2.7); OBR and OBX after chapter 7.
"""

import re

from candidacy.foundation.errors import Code
from candidacy.reading.report_bytes import clean_day, refuse

# OBR-25, HL7 table 0123.
_STATUS = {"P": "preliminary", "R": "preliminary", "F": "final", "C": "amended"}
_TEXT_TYPES = ("TX", "FT", "ST", "CF", "")
_BREAKS = re.compile(r"\.(?:br|sp\d*|ce|fi|nf|in[+-]?\d*|ti[+-]?\d*|sk[+-]?\d*)", re.IGNORECASE)


def reports(message: str, name: str) -> list[tuple[str, str, str]]:
    """Give (text, day, status) for each observation request of a message that carries result text.

    Raises
    ------
    ReportError
        E401 if the message is not an observation result or holds no text.
    """
    field = message[3]
    marks = message[4 : message.find(field, 4) if field in message[4:] else 8]
    component, repetition, escape, sub = list((marks + "^~\\&"[len(marks) :])[:4])
    segments = [s for s in re.split(r"[\r\n]+", message) if s.strip("\x0b\x1c ")]
    head = segments[0].split(field)
    kind = head[8].split(component) if len(head) > 8 else []
    if not kind or kind[0] != "ORU":
        raise refuse(
            Code.BAD_REPORT,
            "not an observation result message",
            name,
            "^".join(kind),
            "give an ORU^R01 message",
        )
    found: list[tuple[list[str], str, str]] = []
    for segment in segments[1:]:
        parts = segment.strip("\x0b\x1c").split(field)
        if parts[0] == "OBR":
            found.append(([], clean_day(_get(parts, 7)), _STATUS.get(_get(parts, 25), "")))
        elif parts[0] == "OBX" and _get(parts, 2) in _TEXT_TYPES:
            if not found:
                found.append(([], "", ""))
            value = _get(parts, 5)
            lines = [_plain(r, field, component, repetition, escape, sub) for r in value.split(repetition)]
            found[-1][0].append("\n".join(lines))
    texts = [
        ("\n".join(lines), day, status) for lines, day, status in found if any(line.strip() for line in lines)
    ]
    if not texts:
        raise refuse(
            Code.BAD_REPORT, "the message holds no result text", name, next_step="send OBX of type TX or FT"
        )
    return texts


def _get(parts: list[str], at: int) -> str:
    return parts[at] if at < len(parts) else ""


def _plain(text: str, field: str, component: str, repetition: str, escape: str, sub: str) -> str:
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
