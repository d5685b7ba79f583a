"""Report text out of a FHIR R4 DiagnosticReport, alone or in a Bundle.

Fields after FHIR R4 (4.0.1) DiagnosticReport: presentedForm, conclusion, text, effective[x].
"""

import base64
import binascii
import html
import json
import re
from typing import Any

from candidacy.foundation.errors import Code
from candidacy.reading.report_bytes import MAX_BYTES, clean_day, decode, docx_text, pdf_text, refuse

_BLOCK = re.compile(r"<\s*(?:br|/p|/div|/li|/tr|/h\d)\b[^>]*>", re.IGNORECASE)
_HIDDEN = re.compile(r"<(script|style)\b.*?</\1\s*>", re.IGNORECASE | re.DOTALL)
_TAG = re.compile(r"<[^>]*>")
# Value set DiagnosticReportStatus.
_STATUS = {"preliminary": "preliminary", "partial": "preliminary", "registered": "preliminary", "final": "final",
           "amended": "amended", "corrected": "amended", "appended": "amended"}  # fmt: skip
_MAX_DEPTH_MESSAGE = "the message is nested too deeply"


def reports(text: str, name: str) -> list[tuple[str, str, str]]:
    """Give (text, day, status) for each DiagnosticReport; its attached text first, else conclusion and narrative.

    Raises
    ------
    ReportError
        E104 not JSON, E401 no DiagnosticReport or none with text.
    """
    try:
        data = json.loads(text)
    except RecursionError as error:
        raise refuse(Code.TOO_DEEP, _MAX_DEPTH_MESSAGE, name) from error
    except ValueError as error:
        raise refuse(Code.SYNTAX, "not valid JSON", name, str(error)) from error
    if not isinstance(data, dict):
        raise refuse(Code.BAD_REPORT, "not a DiagnosticReport", name)
    kind = data.get("resourceType")
    if kind == "Bundle":
        entries = data.get("entry")
        rows = (
            [e.get("resource") for e in entries if isinstance(e, dict)] if isinstance(entries, list) else []
        )
    else:
        rows = [data]
    found = [r for r in rows if isinstance(r, dict) and r.get("resourceType") == "DiagnosticReport"]
    if not found:
        raise refuse(Code.BAD_REPORT, "there is no DiagnosticReport in it", name, str(kind))
    texts = [
        (body, _day(r), _STATUS.get(str(r.get("status")), ""))
        for r in found
        if (body := _text(r, name)).strip()
    ]
    if not texts:
        raise refuse(Code.BAD_REPORT, "the DiagnosticReport holds no text", name,
                     next_step="send presentedForm, conclusion or text")  # fmt: skip
    return texts


def _day(report: dict[str, Any]) -> str:
    period = report.get("effectivePeriod")
    start = period.get("start") if isinstance(period, dict) else None
    return clean_day(str(report.get("effectiveDateTime") or start or ""))


def _text(report: dict[str, Any], name: str) -> str:
    attached = [_attachment(a, name) for a in _rows(report.get("presentedForm"))]
    attached = [a for a in attached if a.strip()]
    if attached:
        return attached[0]
    parts: list[str] = []
    narrative = report.get("text")
    if isinstance(narrative, dict) and isinstance(narrative.get("div"), str):
        parts.append(_strip(narrative["div"]))
    conclusion = report.get("conclusion")
    if isinstance(conclusion, str) and conclusion not in "".join(parts):
        parts.append(f"IMPRESSION:\n{conclusion}")
    return "\n".join(parts)


def _rows(value: Any) -> list[dict[str, Any]]:
    return [v for v in value if isinstance(v, dict)] if isinstance(value, list) else []


def _attachment(attachment: dict[str, Any], name: str) -> str:
    data = attachment.get("data")
    if not isinstance(data, str):
        return ""
    if len(data) > MAX_BYTES * 4 // 3 + 4:
        raise refuse(Code.TOO_LARGE, "the attached report is too large", name)
    try:
        raw = base64.b64decode("".join(data.split()), validate=True)
    except (binascii.Error, ValueError) as error:
        raise refuse(Code.BAD_REPORT, "the attached report is not base64", name) from error
    kind = str(attachment.get("contentType", "")).lower()
    if raw[:5] == b"%PDF-":
        return pdf_text(raw, name)
    if raw[:4] == b"PK\x03\x04":
        return docx_text(raw, name)
    text = decode(raw, name)
    return _strip(text) if "html" in kind else text


def _strip(markup: str) -> str:
    return html.unescape(_TAG.sub("", _BLOCK.sub("\n", _HIDDEN.sub("", markup))))
