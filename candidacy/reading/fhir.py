"""Report text out of FHIR R4 (4.0.1): DiagnosticReport and DocumentReference, alone or in a Bundle.

DiagnosticReport: status, presentedForm, conclusion, text, effective[x], issued, identifier. DocumentReference:
status, docStatus, content.attachment, date. Standing after the value sets diagnostic-report-status,
document-reference-status and composition-status.
"""

import base64
import binascii
import json
from typing import Any

from candidacy.foundation.errors import Code, ReportError, shorten
from candidacy.reading.forms import document_text, plain_text
from candidacy.reading.markup import markup_text
from candidacy.reading.model import Mark
from candidacy.reading.report_bytes import MAX_BYTES, clean_day, refuse
from candidacy.reading.sent import AMENDED, FINAL, PRELIMINARY, WITHDRAWN, ReportText, left_out

_STATUS = {"preliminary": PRELIMINARY, "partial": PRELIMINARY, "registered": PRELIMINARY, "final": FINAL,
           "amended": AMENDED, "corrected": AMENDED, "appended": AMENDED,
           "cancelled": WITHDRAWN, "entered-in-error": WITHDRAWN}  # fmt: skip
_KINDS = ("DiagnosticReport", "DocumentReference")
_UNSTATED = ("unknown", "None", "")
_MAX_DEPTH_MESSAGE = "the message is nested too deeply"


def reports(text: str, name: str) -> list[ReportText]:
    """Give a report for each DiagnosticReport or DocumentReference; one that cannot be read has problems.

    Raises
    ------
    ReportError
        E104 not JSON, E401 no report in it.
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
    rows = [e.get("resource") for e in _rows(data.get("entry"))] if kind == "Bundle" else [data]
    wanted = [r for r in rows if isinstance(r, dict) and r.get("resourceType") in _KINDS]
    if not wanted:
        raise refuse(Code.BAD_REPORT, "there is no DiagnosticReport in it", name, str(kind))
    found: list[ReportText] = []
    for number, row in enumerate(wanted, 1):
        where = f"{name}, report {number}" if len(wanted) > 1 else name
        try:
            found.append(_one(row, where))
        except ReportError as error:
            if len(wanted) == 1:
                raise
            found.append(ReportText("", key=_key(row), problems=error.problems))
    return found


def _one(row: dict[str, Any], name: str) -> ReportText:
    standing, marks = _standing(row)
    issued = next((v for k in ("issued", "date") if isinstance(v := row.get(k), str)), "")
    meta = row.get("meta")
    if not issued and isinstance(meta, dict) and isinstance(meta.get("lastUpdated"), str):
        issued = meta["lastUpdated"]
    if standing == WITHDRAWN:
        said = row.get("docStatus") if row.get("docStatus") == "entered-in-error" else row.get("status")
        error = refuse(Code.WITHDRAWN, "the report was withdrawn", name, f"status {said}",
                       "ask the sender for the report that holds")  # fmt: skip
        return ReportText(
            "", day=_day(row), status=standing, key=_key(row), issued=issued, problems=error.problems
        )
    text, more = _text(row, name)
    if not text.strip():
        raise refuse(Code.BAD_REPORT, f"the {row['resourceType']} holds no text", name,
                     next_step="send presentedForm, conclusion or text")  # fmt: skip
    return ReportText(
        text, day=_day(row), status=standing, key=_key(row), issued=issued, marks=(*marks, *more)
    )


def _standing(row: dict[str, Any]) -> tuple[str, list[Mark]]:
    status = str(row.get("status"))
    if row["resourceType"] == "DocumentReference":
        if status == "entered-in-error":
            return WITHDRAWN, []
        replaced = [Mark("versions", "the message calls it superseded by another document")]
        marks = replaced if status == "superseded" else []
        status = str(row.get("docStatus"))
    else:
        marks = []
    if status not in _STATUS and status not in _UNSTATED:
        marks.append(
            Mark(
                "status_unknown",
                f"its status is written as {shorten(status)}, which the standard does not have",
            )
        )
    elif status == "unknown":
        marks.append(Mark("status_unknown", "the message says that its status is not known"))
    return _STATUS.get(status, ""), marks


def _key(row: dict[str, Any]) -> str:
    """The number of the report by which versions are told: its first identifier with its code, or the resource's id."""
    code = row.get("code", row.get("type"))
    codes = _rows(code.get("coding")) if isinstance(code, dict) else []
    study = next((c["code"] for c in codes if isinstance(c.get("code"), str)), "")
    for identifier in _rows(row.get("identifier")):
        if isinstance(value := identifier.get("value"), str) and value:
            return f"{identifier.get('system', '')} {value} {study}".strip()
    named = row.get("id")
    return f"{row.get('resourceType')}/{named}" if isinstance(named, str) and named else ""


def _day(report: dict[str, Any]) -> str:
    period = report.get("effectivePeriod")
    start = period.get("start") if isinstance(period, dict) else None
    return clean_day(str(report.get("effectiveDateTime") or start or ""))


def _text(row: dict[str, Any], name: str) -> tuple[str, tuple[Mark, ...]]:
    if row["resourceType"] == "DocumentReference":
        forms = [c["attachment"] for c in _rows(row.get("content")) if isinstance(c.get("attachment"), dict)]
    else:
        forms = _rows(row.get("presentedForm"))
    marks: list[Mark] = []
    chosen = ""
    for form in forms:
        try:
            text, more = _attachment(form, name)
        except ReportError as error:
            if len(forms) == 1:
                raise
            marks.append(Mark("left_out", f"an attachment was not read: {error.problems[0].message}"))
            continue
        if not text.strip():
            marks.append(Mark("left_out", "an attachment is only linked, not sent, and was not read"))
        elif not chosen:
            chosen, marks = text, [*marks, *more]
        elif _letters(text) != _letters(chosen):
            marks.append(Mark("left_out", "a further attachment has other words and was not read",
                              next_step="give each attachment as a report of its own"))  # fmt: skip
    parts: list[str] = []
    narrative = row.get("text")
    if chosen:
        return chosen, tuple(marks)
    if isinstance(narrative, dict) and isinstance(narrative.get("div"), str):
        shown, gone = markup_text(narrative["div"])
        parts.append(shown)
        marks += left_out(gone)
    conclusion = row.get("conclusion")
    if isinstance(conclusion, str) and conclusion not in "".join(parts):
        shown, _, more = plain_text(conclusion)
        parts.append(f"IMPRESSION:\n{shown}")
        marks += more
    return "\n".join(parts), tuple(marks)


def _letters(text: str) -> str:
    return "".join(ch for ch in text.lower() if ch.isalnum())


def _rows(value: Any) -> list[dict[str, Any]]:
    return [v for v in value if isinstance(v, dict)] if isinstance(value, list) else []


def _attachment(attachment: dict[str, Any], name: str) -> tuple[str, tuple[Mark, ...]]:
    data = attachment.get("data")
    if not isinstance(data, str):
        return "", ()
    if len(data) > MAX_BYTES * 4 // 3 + 4:
        raise refuse(Code.TOO_LARGE, "the attached report is too large", name)
    try:
        raw = base64.b64decode("".join(data.split()), validate=True)
    except (binascii.Error, ValueError) as error:
        raise refuse(Code.BAD_REPORT, "the attached report is not base64", name) from error
    text, _, marks = document_text(raw, name)
    return text, marks
