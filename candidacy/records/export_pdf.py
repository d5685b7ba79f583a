"""The export of a referral as PDF: what was decided, the last answer's standing, notes, and the whole history."""

from datetime import datetime
from typing import Any

from candidacy.explain.document import AssessmentDocument
from candidacy.explain.headline import headline
from candidacy.explain.pdf_parts import SOFT, Paper, Sheets
from candidacy.explain.record import beside_standing
from candidacy.records.entries import KINDS
from candidacy.records.export import events_of
from candidacy.records.referral import Event

_FOOTER = "Decision support for licensed clinicians: not a diagnosis, not an order. The JSON form holds every text and the proofs."
_LONG = ("record", "document", "text", "reading")  # told by name and length; the JSON form holds them


def export_pdf(exported: dict[str, Any], paper: Paper = "A4") -> bytes:
    """An export as PDF, for A4 or Letter; equal exports give equal bytes."""
    head = exported["head"]
    sheets = Sheets(
        f"{exported['reference']}: kept referral",
        f"{_FOOTER} {exported['program']}; head {head['size']}:{head['root']}",
    )
    events = events_of(exported)
    sheets.add(f"{exported['reference']}: kept referral", size=14, bold=True)
    sheets.add(f"{len(events)} entries of {head['size']}; head {head['root']}", tone=SOFT)
    answers = [event for event in events if event.entry.what == "assessed" and event.said]
    if answers:
        _answer(sheets, answers[-1])
    decisions = [event for event in events if event.entry.what == "decision_signed" and event.said]
    corrected = {event.said["corrects"]: event.entry.seq for event in decisions}
    for event in decisions:
        _decision(sheets, event, corrected.get(event.entry.seq, 0))
    notes = [event for event in events if event.entry.what == "note_added" and event.said]
    if notes:
        sheets.heading("Notes")
        for event in notes:
            sheets.add(event.said["text"], lead=f"{event.entry.at[:10]} {event.entry.person}:")
    sheets.heading("History")
    sheets.table(
        ("entry", "moment (UTC)", "who", "what", "said"),
        [_row(event) for event in events],
        (6, 15, 16, 13, 50),
    )
    # it says what was kept until its last entry, so that is its moment
    return sheets.to_bytes(paper, made=datetime.fromisoformat(events[-1].entry.at))


def _answer(sheets: Sheets, event: Event) -> None:
    document = AssessmentDocument.model_validate_json(event.said["document"])
    sheets.heading(f"Last kept answer (entry {event.entry.seq})")
    sheets.add(headline(document), size=12, bold=True)
    rules = document.rule_set
    sheets.add(
        f"Under {rules.title} ({rules.id} {rules.version}, {rules.status}) as of {document.as_of}", tone=SOFT
    )
    for sentence in (*document.stops, *document.reason, *beside_standing(document)):
        sheets.add(sentence)
    for caution in document.cautions[:2]:
        sheets.add(caution, bold=True)


def _decision(sheets: Sheets, event: Event, corrected_by: int) -> None:
    said, entry = event.said, event.entry
    sheets.heading(f"Decision (entry {entry.seq})")
    if corrected_by:
        sheets.add(f"It stands no more: corrected by entry {corrected_by}", bold=True)
    for name, value in said.items():
        if value and name not in ("record_digest", "rules_digest", "what"):
            sheets.add(_words(value), lead=f"{name.replace('_', ' ')}:")
    sheets.add(f"signed {entry.at} by {entry.person} ({entry.role}): {said['meaning']}", bold=True)


def _row(event: Event) -> tuple[str, ...]:
    entry, said = event.entry, event.said
    told = [
        f"{name.replace('_', ' ')}: {_words(value)}"
        for name, value in said.items()
        if value and name not in _LONG
    ]
    told += [f"{name}: {len(said[name])} signs" for name in _LONG if said.get(name)]
    if entry.after and not said and entry.what in KINDS:
        told = ["removed under a retention rule"]
    return (
        str(entry.seq),
        entry.at[:19].replace("T", " "),
        f"{entry.person} ({entry.role})",
        entry.what,
        "; ".join(told),
    )


def _words(value: object) -> str:
    if isinstance(value, list):
        return "; ".join(_words(each) for each in value)
    if isinstance(value, dict):
        return ", ".join(f"{name} {each}" for name, each in value.items())
    return str(value)
