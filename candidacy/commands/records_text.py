"""Kept referrals as text: the work list, a referral, its history."""

import csv
import io
import json
from collections.abc import Sequence
from typing import Any

from msgspec.structs import asdict

from candidacy.conference.queue import standing_told
from candidacy.foundation.spreadsheet import guarded
from candidacy.foundation.visible import clean
from candidacy.records.answers import OF_ANOTHER_FORM
from candidacy.records.decisions import Decision
from candidacy.records.referral import Event, Referral
from candidacy.records.reports import KeptReport
from candidacy.records.work import WorkRow

DECISIONS = {"treat": "treat", "not": "do not treat", "not_yet": "not yet", "more_tests": "more tests"}
# What an entry is called for a reader, and which of its fields say what it was about.
_WIDE = {"referral": 28, "since": 10, "due": 10}
_EVENTS: dict[str, tuple[str, tuple[str, ...]]] = {
    "case_saved": ("saved", ("version",)),
    "course_saved": ("saved the course", ("version",)),
    "assessed": ("assessed", ("standing_name", "rules", "rules_version", "as_of")),
    "report_kept": ("kept a report", ("kind",)),
    "letter_kept": ("kept a letter", ("kind", "version")),
    "note_added": ("noted", ("text",)),
    "act_added": ("added an act", ("act", "owner", "due")),
    "act_ended": ("ended an act", ("act", "state")),
    "work_set": ("work list", ("owner", "waiting_for", "state")),
    "decision_signed": ("signed", ("decision", "discs", "meaning", "reason")),
    "item_set": ("conference", ("question", "state")),
    "recused": ("recused", ("person",)),
    "rated": ("rated", ()),
    "exported": ("exported", ("words",)),
    "removed": ("removed", ("words",)),
    "read": ("read", ()),
}


def work_list(rows: Sequence[WorkRow], form: str, to_file: bool) -> str:
    """The work list as a table, CSV or JSON."""
    if form == "json":
        return json.dumps([asdict(row) for row in rows], ensure_ascii=False, indent=2) + "\n"
    if form == "csv":
        made = io.StringIO()
        writer = csv.writer(made, lineterminator="\n")
        writer.writerow(WorkRow.__struct_fields__)
        writer.writerows([_cell(value) for value in asdict(row).values()] for row in rows)
        return made.getvalue()
    return _table(rows, to_file)


def _cell(value: object) -> object:
    return guarded(value) if isinstance(value, str) else value


def _table(rows: Sequence[WorkRow], to_file: bool) -> str:
    from rich.box import SIMPLE
    from rich.table import Table
    from rich.text import Text

    from candidacy.commands.console import console_for

    table = Table(box=SIMPLE, show_edge=False, pad_edge=False)
    for heading in ("referral", "standing", "waiting for", "since", "next act", "due", "owner"):
        table.add_column(
            heading, no_wrap=heading == "referral", overflow="fold", min_width=_WIDE.get(heading)
        )
    for row in rows:
        table.add_row(*(Text(clean(cell)) for cell in _cells(row)))
    buffer = io.StringIO()
    console = console_for(buffer, to_file=to_file)
    console.print(table)
    console.print(Text(f"{len(rows)} referral{'s' * (len(rows) != 1)}", style="dim"))
    return buffer.getvalue()


def _cells(row: WorkRow) -> tuple[str, ...]:
    return (row.reference, standing_told(row), row.waiting_for, row.waiting_since[:10], row.next_act, row.next_due,
            row.owner or row.next_owner)  # fmt: skip


def referral_text(found: Referral) -> str:
    """A referral as it stands."""
    row = found.work
    lines = [
        f"{row.reference}, version {row.version}" + (": invented for demonstration" if row.invented else "")
    ]
    lines += [f"  {standing_told(row)}" + (f" under {row.rules} as of {row.as_of}" if row.standing else "")]
    if row.waiting_for:
        lines.append(f"  waits for {row.waiting_for}, since {row.waiting_since[:10]}")
    if found.answer is not None:
        document = found.answer.readable
        if document is None:
            lines.append(f"  ! {OF_ANOTHER_FORM}: candidacy records assess {row.reference}")
        else:
            lines += [f"  {sentence}" for sentence in document.stops]
            lines += ["", "Why (last kept answer):", *(f"  {sentence}" for sentence in document.reason)]
            lines += [f"  {caution}" for caution in document.cautions[:2]]
    for decision in found.decisions:
        lines += ["", *decision_lines(decision)]
    if found.acts:
        lines += ["", "To be done:"]
        lines += [f"  {act.seq}  {act.what}" + (f", {act.owner}" if act.owner else "") + (f", by {act.due}" if act.due else "")
                  for act in found.acts]  # fmt: skip
    if found.letters:
        lines += ["", "Letters, as drafted (candidacy records letter ENTRY prints one):"]
        lines += [
            f"  {each.seq}  {each.said.kind}, {each.at[:10]}, {each.person}, from version {each.said.version}"
            for each in found.letters
        ]
    if found.reports:
        lines += ["", "Reports, notes and letters, as read (candidacy records report ENTRY prints one):"]
        lines += [
            f"  {each.seq}  {each.kind.replace('_', ' ')}, {each.at[:10]}, {each.person}, findings taken over: {each.accepted}"
            for each in found.reports
        ]
    if found.notes:
        lines += ["", "Notes:", *(f"  {note.at[:10]} {note.person}: {note.text}" for note in found.notes)]
    if found.draft is not None:
        lines += [
            "",
            f"Unfinished work of yours of {found.draft.saved_at[:16].replace('T', ' ')} UTC is kept.",
        ]
    return "\n".join(clean(line) for line in lines) + "\n"


def decision_lines(decision: Decision) -> list[str]:
    """A decision in words, with what makes it to be looked at again."""
    said = decision.said
    what = DECISIONS[said.decision] + (f" {', '.join(said.discs)}" if said.discs else "")
    lines = [f"Decision {decision.seq}: {what}", f"  because {said.reason}"]
    lines += [f"  until {said.until}"] if said.until else []
    lines += [f"  after {said.after}"] if said.after else []
    lines += [f"  tests: {'; '.join(said.tests)}"] if said.tests else []
    lines += [f"  on condition: {each}" for each in said.conditions]
    lines += [f"  dissent of {each.person}: {each.reason}" for each in said.dissent]
    lines += [
        f"  responsible {said.responsible}"
        + (f", looked at again on {said.review_on}" if said.review_on else "")
    ]
    lines += [
        f"  signed {decision.at[:16].replace('T', ' ')} UTC by {decision.person} ({decision.role}): {said.meaning}"
    ]
    if decision.corrected_by:
        return [*lines, f"  CORRECTED by decision {decision.corrected_by}"]
    return [*lines, *(f"  LOOK AT IT AGAIN: {each}" for each in decision.changed)]


def history_text(events: Sequence[Event]) -> str:
    """The history of a referral, a line for each entry."""
    return "".join(f"{clean(line)}\n" for line in map(event_line, events))


def event_line(event: Event) -> str:
    """One entry in a line: number, moment, person, what, and why."""
    entry = event.entry
    name, names = _EVENTS.get(entry.what, (entry.what, ()))
    told = [_told(event.said[name]) for name in names if event.said.get(name)]
    gone = " (what it said was removed)" if entry.after and not event.said else ""
    why = f"; why: {event.why}" if event.why else ""
    about = f": {', '.join(told)}" if told else ""
    return f"{entry.seq:>6}  {entry.at[:19].replace('T', ' ')}  {entry.person} ({entry.role})  {name}{about}{why}{gone}"


def _told(value: Any) -> str:
    return " ".join(map(str, value)) if isinstance(value, list) else str(value)


def report_text(kept: KeptReport) -> str:
    """A kept report as it was read, without signs that would steer a terminal."""
    return "\n".join(clean(line) for line in kept.said.text.splitlines()) + "\n"


def report_json(kept: KeptReport) -> str:
    """A kept report with what was read from it and what of that was taken over."""
    said = kept.said.model_dump(mode="json")
    said["reading"] = json.loads(said["reading"]) if said["reading"] else None
    whole = {"entry": kept.seq, "reference": kept.reference, "at": kept.at, "person": kept.person, **said}
    return json.dumps(whole, ensure_ascii=False, indent=2) + "\n"
