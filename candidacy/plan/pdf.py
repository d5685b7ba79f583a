"""A plan as PDF: conflicts first, the timeline as a drawing with its words beside it, then steps, medicines and the rest."""

from datetime import datetime
from typing import Any

from reportlab.lib import colors
from reportlab.platypus import Flowable

from candidacy.explain.cited import cites_words
from candidacy.explain.hold_plan import hold_lines, hold_title
from candidacy.explain.pdf_parts import INK, LINE, SOFT, TONES, Paper, Sheets
from candidacy.explain.pdf_tags import artifact
from candidacy.plan.document import PlanDocument
from candidacy.plan.picture import LEFT, Picture, picture
from candidacy.plan.text import HEADS, changes_lines


def plan_pdf(plan: PlanDocument, paper: Paper = "A4", made: datetime | None = None) -> bytes:
    """The plan as PDF; see `Sheets.to_bytes` for ``made``.

    Raises
    ------
    ValueError
        For a paper that is not A4 or Letter.
    """
    p = plan
    digests = (
        f"rules {p.rule_set.digest[:26]}; plan {p.plan.digest[:26]}; case {p.case.id} {p.case.digest[:26]}"
    )
    title = f"{HEADS[p.kind]}: {p.case.id}, {p.weekday} {p.day} {p.hour}".rstrip()
    sheets = Sheets(title, f"{p.cautions[-2]} {p.program}; made on {p.as_of}; {digests}")
    sheets.title(title)
    for caution in p.cautions:
        sheets.add(caution, bold=True)
    for notice in p.notices:
        sheets.add(notice, bold=True, tone=TONES["fail"])
    for each in p.urgent:
        sheets.add(each, size=11, bold=True, tone=TONES["fail"])
    if p.kind != "urgent":
        _body(sheets, p)
    sheets.heading("Sources")
    for source in p.sources:
        sheets.add(f"{source.text} {source.limits}", lead=f"{source.key}:", size=7)
    return sheets.to_bytes(paper, made)


def _body(sheets: Sheets, p: PlanDocument) -> None:
    for standing in p.standings:
        sheets.add(standing.reason, tone=SOFT)
    if p.changes is not None:
        sheets.heading(f"What changed since the plan for {p.changes.moved_from}")
        sheets.items([line[2:] for line in changes_lines(p)])
    sheets.heading("Against this day")
    for each in p.earliest_says:
        sheets.add(each, bold=True)
    lines = [
        f"{c.words}{f' Free of it from {c.earliest}.' if c.earliest else ''} (judged as of {c.as_of})"
        for c in p.conflicts
    ]
    sheets.items([*lines, *p.why_none] or ["Nothing with what is recorded now."])
    if p.kind == "plan":
        sheets.heading(f"Before the material is ordered{f' ({p.gate.order_by})' if p.gate.order_by else ''}")
        sheets.add(p.gate.says, bold=True)
        sheets.items(
            [
                _gate(item.words, item.why, p.owners.get(item.owner, item.owner), item.settled)
                for item in p.gate.items
            ]
        )
    sheets.heading("Steps")
    found = picture(p)
    if found is not None:
        sheets.draw(_Timeline(found))
        sheets.add("Squares are settled before ordering, filled marks are done, the broken line is the day of this plan. "
                   "The table tells the same.", size=7, tone=SOFT)  # fmt: skip
    rows = []
    for s in p.steps:
        mark = {"done": "✓ ", "cancelled": "cancelled: ", "planned": ""}[s.state]
        note = " ".join(
            part for part in (s.moved_because or s.no_date_because, s.agreement, cites_words(s.cites)) if part
        )
        detail = "; ".join([*s.lines, *s.says])
        rows.append(
            [
                f"{s.due or 'no date'} {s.clock}",
                f"{mark}{s.facts}{f'. {detail}' if detail else ''}",
                s.owner_words,
                note,
            ]
        )
    sheets.table(["Day", "What", "Owner", "Note"], rows, [12, 46, 12, 30])
    if p.holds is not None:
        sheets.heading(f"Medicines, as of {p.as_of}")
        sheets.items(p.holds.cautions, size=7)
        for medicine in p.holds.medicines:
            lines = [f"{label}: {text}" for label, text in hold_lines(medicine, p.holds.planned)]
            sheets.together(
                [
                    sheets.subheading(hold_title(medicine)),
                    *(sheets.paragraph(line, left=10) for line in lines),
                ]
            )
    if p.discography is not None:
        sheets.heading(f"Discography, as of {p.as_of}")
        sheets.items(p.discography.says)
        for line in p.discography.form.splitlines():
            sheets.add(line, left=0 if not line.startswith(" ") else 10)
    for heading, lines in (("Cost and coverage", p.cost),
                           ("Material", [*p.material.says, *(row.words for row in p.material.rows)] if p.material else [])):  # fmt: skip
        if lines:
            sheets.heading(heading)
            sheets.items(lines)


def _gate(words: str, why: str, owner: str, settled: bool) -> str:
    more = f": {why}" if why and why != words else ""
    return f"{'✓' if settled else '☐'} {words}{more} ({owner})"


class _Timeline(Flowable):  # type: ignore[misc]
    """The picture, drawn; a reader aloud passes over it, because the table after it says the same."""

    def __init__(self, found: Picture) -> None:
        super().__init__()
        self._found = found

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self._factor = width / self._found.width
        self.width, self.height = width, self._found.height * self._factor
        return self.width, self.height

    def draw(self) -> None:
        with artifact(self.canv):
            self._draw(self.canv)

    def _draw(self, canvas: Any) -> None:
        t = self._found
        canvas.saveState()
        canvas.scale(self._factor, self._factor)

        def up(y: float) -> float:
            return t.height - y

        canvas.setFont("CandidacySans", 14)
        canvas.setStrokeColor(colors.HexColor(LINE))
        for name, x in t.ticks:
            canvas.setFillColor(colors.HexColor(SOFT))
            canvas.line(x, up(24), x, 0)
            canvas.drawCentredString(x, up(17), name)
        for name, y in t.lanes:
            canvas.setFillColor(colors.HexColor(INK))
            room = LEFT - 14  # up to the middle of the first mark, which would cover what is longer
            canvas.setFont("CandidacySans", 14 * min(1, room / canvas.stringWidth(name, "CandidacySans", 14)))
            canvas.drawString(0, up(y + 4), name)
        canvas.setStrokeColor(colors.HexColor("#12406b"))
        canvas.setLineWidth(2)
        canvas.line(t.zero, up(20), t.zero, 0)
        canvas.setLineWidth(1)
        canvas.setDash(4, 3)
        canvas.line(t.now, up(24), t.now, 0)
        canvas.setDash()
        canvas.setLineWidth(2)
        for mark in t.marks:
            canvas.setFillColor(colors.HexColor("#0b4a2c" if mark.state == "done" else "#ffffff"))
            if mark.gate:
                canvas.rect(mark.x - 5, up(mark.y) - 5, 10, 10, fill=1)
            else:
                canvas.circle(mark.x, up(mark.y), 5, fill=1)
        canvas.restoreState()
