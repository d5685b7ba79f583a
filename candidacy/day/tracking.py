"""The tissue tracking record: from each container to the recipient, and from each recipient to the containers, by code alone.

21 CFR 1271.290 asks for a distinct code that holds no name, social security or record number; a recipient is named by the
local reference of the case.
"""

import csv
import io
import json
from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import asdict

from candidacy.course.record import CourseRecord, Injection, Unit
from candidacy.foundation.spreadsheet import guarded

if TYPE_CHECKING:
    from candidacy.explain.pdf_parts import Paper

TITLE = "Tissue tracking record"
HEAD = (
    "code",
    "lot",
    "expires",
    "material",
    "date",
    "session",
    "recipient",
    "disc",
    "volume",
    "disposition",
    "trouble",
)
_SHOWN = (
    "Code",
    "Lot",
    "Expiry",
    "Material",
    "Date",
    "Session",
    "Recipient",
    "Disc",
    "Volume into the disc",
    "Disposition",
    "To settle",
)
_MEANING = (
    "By code alone: no name, social security number or record number. A recipient is the local reference of a case; the code "
    "leads to the donor through the supplier."
)


class Tracked(Struct, frozen=True):
    """One container in one session.

    ``trouble`` says in words what keeps it from being traced; empty where nothing does.
    """

    code: str
    lot: str
    expires: str
    material: str
    date: str
    session: int
    recipient: str
    disc: str
    volume: str
    disposition: str
    trouble: str


def tracking(records: Iterable[CourseRecord]) -> list[Tracked]:
    """Every container of course records, by code; what has no code stands first, because it cannot be traced."""
    found = [row for record in records for each in record.injections for row in _rows(record, each)]
    used = Counter(row.code for row in found if row.code)
    rows = [
        row if used[row.code] < 2 else _troubled(row, f"this code stands {used[row.code]} times")
        for row in found
    ]
    return sorted(rows, key=lambda row: (row.code, row.date, row.recipient, row.disc))


def _rows(record: CourseRecord, session: Injection) -> Iterable[Tracked]:
    for disc in session.discs:
        volume = f"{disc.volume.value:g} {disc.volume.unit}" if disc.volume else ""
        for unit in disc.units or (Unit(),):
            yield _row(record, session, unit, disc.level, disc.material, volume)
    for unit in session.unused_units:
        yield _row(record, session, unit, "none", "", "")


def _row(
    record: CourseRecord, session: Injection, unit: Unit, disc: str, material: str, volume: str
) -> Tracked:
    missing = [name for name, value in (("code", unit.code), ("lot", unit.lot), ("expiry", unit.expires),
                                        ("disposition", unit.disposition)) if not value]  # fmt: skip
    trouble = [f"no {name}" for name in missing]
    if unit.expires and unit.expires < session.date:
        trouble.append("past its expiry on the day")
    return Tracked(unit.code, unit.lot, unit.expires, material, session.date, session.id, record.case, disc, volume,
                   unit.disposition.replace("_", " "), "; ".join(trouble))  # fmt: skip


def _troubled(row: Tracked, words: str) -> Tracked:
    return Tracked(**(asdict(row) | {"trouble": "; ".join(filter(None, (row.trouble, words)))}))


def tracking_text(rows: list[Tracked]) -> str:
    """The record as text, both ways."""
    lines = [TITLE, _MEANING, "", f"From container to recipient ({len(rows)}):"]
    for row in rows:
        lines.append(f"  {row.code or 'NO CODE, not traceable'} -> {row.recipient}, {row.disc}, {row.date}")
        lines.append(f"      {_about(row)}")
        lines += [f"      TO SETTLE: {row.trouble}"] if row.trouble else []
    lines += ["", "From recipient to container:"]
    for recipient in sorted({row.recipient for row in rows}):
        named = [
            f"{row.code or 'NO CODE'} ({row.date}, {row.disc})" for row in rows if row.recipient == recipient
        ]
        lines.append(f"  {recipient} -> {', '.join(named)}")
    return "\n".join(lines) + "\n"


def _about(row: Tracked) -> str:
    told = (("lot", row.lot), ("expiry", row.expires), ("material", row.material), ("volume into the disc", row.volume),
            ("disposition", row.disposition))  # fmt: skip
    return "; ".join(f"{name} {value or 'not recorded'}" for name, value in told)


def tracking_csv(rows: list[Tracked]) -> str:
    """The record as CSV, guarded against being taken for formulas."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(HEAD)
    writer.writerows([guarded(asdict(row)[name]) for name in HEAD] for row in rows)
    return buffer.getvalue()


def tracking_json(rows: list[Tracked]) -> str:
    """The record as JSON."""
    return (
        json.dumps(
            {"schema_version": "1", "units": [asdict(row) for row in rows]}, indent=2, ensure_ascii=False
        )
        + "\n"
    )


def tracking_pdf(rows: list[Tracked], paper: "Paper" = "A4") -> bytes:
    """The record as a PDF."""
    from candidacy.explain.pdf_parts import SOFT, TONES, Sheets

    sheets = Sheets(TITLE, f"{TITLE}. Keep it as long as the law and your policy ask.", dense=True)
    sheets.title(TITLE)
    sheets.add(_MEANING, tone=SOFT)
    cells = [[str(asdict(row)[name]) for name in HEAD] for row in rows]
    tones = [[None] * (len(HEAD) - 1) + (["fail"] if row.trouble else [None]) for row in rows]
    sheets.heading("From container to recipient")
    sheets.table(_SHOWN, cells, (13, 9, 8, 12, 8, 5, 12, 7, 8, 8, 10), tones, size=6.5)
    sheets.heading("From recipient to container")
    for recipient in sorted({row.recipient for row in rows}):
        named = [
            f"{row.code or 'NO CODE'} ({row.date}, {row.disc})" for row in rows if row.recipient == recipient
        ]
        tone = (
            TONES["fail"]
            if any(not row.code for row in rows if row.recipient == recipient)
            else TONES["plain"]
        )
        sheets.add(", ".join(named), lead=f"{recipient}:", tone=tone)
    return sheets.to_bytes(paper)
