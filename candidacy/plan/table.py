"""The steps of a plan as a table for a spreadsheet; cells that one would take for formulas are guarded."""

import csv
import io

from candidacy.foundation.spreadsheet import guarded
from candidacy.plan.document import PlanDocument

COLUMNS = ("reference", "step", "part", "what", "owner", "due", "clock", "earliest", "state", "before_ordering", "agreement", "note",
           "detail", "as_of", "sequence")  # fmt: skip


def plan_csv(plan: PlanDocument) -> str:
    """A head, a row for each thing that stands against the day or keeps it from being planned, and a row for each step."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    said = [("urgent", words, "", plan.as_of) for words in plan.urgent]
    said += [("no_plan", words, "", plan.as_of) for words in plan.why_none]
    said += [("against_the_day", each.words, each.earliest, each.as_of) for each in plan.conflicts]
    for name, words, earliest, as_of in said:
        row = (plan.case.id, name, "", words, "", "", "", earliest, "open", "", "", "", "", as_of, "")
        writer.writerow([guarded(cell) for cell in row])
    for s in plan.steps:
        cells = (plan.case.id, s.id, plan.parts.get(s.part, s.part), s.facts, s.owner_words, s.due, s.clock, s.earliest, s.state,
                 "yes" if s.gate else "", s.agreement, s.moved_because or s.no_date_because, "; ".join([*s.lines, *s.says]), s.as_of,
                 s.sequence)  # fmt: skip
        writer.writerow([guarded(cell) for cell in cells])
    return out.getvalue()
