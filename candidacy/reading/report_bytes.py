"""What every form of report needs: its limit in bytes, text in its usual codes, days, and refusals."""

import re
from datetime import date

from candidacy.foundation.errors import Code, Problem, ReportError, shorten

MAX_BYTES = 20_000_000


def refuse(code: Code, message: str, name: str, found: str = "", next_step: str = "") -> ReportError:
    """Make the error for a report that cannot be read."""
    return ReportError([Problem(code, message, name, found=shorten(found), next_step=next_step)])


def decode(raw: bytes, name: str) -> str:
    """Decode text in UTF-8, UTF-16 with a mark, or the Western single-byte code of older systems."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return raw.decode("utf-16")
        except UnicodeDecodeError as error:
            raise refuse(Code.NOT_TEXT, "not valid UTF-16 text", name) from error
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    if b"\x00" in raw or sum(b < 9 or 13 < b < 32 for b in raw) > len(raw) // 100:
        raise refuse(
            Code.NOT_TEXT, "this is not a text file", name, next_step="give .txt, .pdf, .docx, .hl7 or .json"
        )
    return raw.decode("cp1252", errors="replace")


def clean_day(text: str) -> str:
    """Give a day as ``YYYY-MM-DD`` from the start of a message's date, or nothing if it is no date."""
    found = re.match(r"(\d{4})-?(\d{2})-?(\d{2})", text.strip())
    if found is None:
        return ""
    try:
        return date(*(int(p) for p in found.groups())).isoformat()
    except ValueError:
        return ""
