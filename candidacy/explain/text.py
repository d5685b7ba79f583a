"""An assessment document as text for the terminal; complete without colour, and free text is never markup."""

from rich.box import SIMPLE
from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from candidacy.explain.ahead import not_yet_lines
from candidacy.explain.cited import cites_words
from candidacy.explain.cited_document import ParameterInfo
from candidacy.explain.companions import companions_line, not_due_line
from candidacy.explain.document import AssessmentDocument, CriterionInfo
from candidacy.explain.firm import FIRM, all_sources, figure_lines, firm_lines
from candidacy.explain.firm_document import FirmInfo
from candidacy.explain.hold_plan import hold_lines, hold_title, holds_head
from candidacy.explain.holds_document import HoldsInfo
from candidacy.explain.indented import Indented
from candidacy.explain.labels import BURDEN_WORDS, SHOWN, WEIGHT_WORDS
from candidacy.explain.lines import STYLES, alert_lines, emergency_lines, head_line, record_lines
from candidacy.explain.lines import heading as heading_line
from candidacy.explain.marks import Marks, level_words, marks_of
from candidacy.explain.missing_document import asked_together
from candidacy.explain.printable import printable
from candidacy.explain.record import OTHER_NOT_READ, other_unread, unread_words
from candidacy.explain.rich_lines import in_colour
from candidacy.explain.settle_lines import sections
from candidacy.rules.vocabulary import GROUPS


def print_document(console: Console, document: AssessmentDocument) -> None:
    """Print everything; `candidacy.explain.brief.print_brief` prints one screen."""
    console.print(Group(*_parts(printable(document))))


def _parts(document: AssessmentDocument) -> list[RenderableType]:
    marks = marks_of(document)
    parts: list[RenderableType] = [*in_colour(alert_lines(document)), _head(document)]
    if document.standing == "urgent":
        parts.reverse()
    parts += in_colour(record_lines(document))
    parts += [Text(f"! {notice}", style="yellow") for notice in document.notices]
    parts += in_colour(emergency_lines(document))
    if document.not_yet is not None:
        parts += [
            heading("What has to happen first"),
            *(Text(f"- {line}") for line in not_yet_lines(document)),
        ]
    if document.discs:
        parts += [heading("Discs"), *(Text(sentence) for sentence in document.which_disc.says)]
        parts.append(_disc_table(document, marks))
    for group, title in GROUPS.items():
        rows = [c for c in document.criteria if c.group == group]
        if rows:
            parts.append(heading(title))
            parts += [
                _criterion(row, marks, document.firm_words(row.id, row.subject)) for row in _worst_first(rows)
            ]
    parts.append(heading("Missing facts, those that could decide first"))
    parts.append(_missing(document) if document.missing else Text("  None."))
    parts += settle_parts(document)
    if document.holds is not None:
        parts += _holds(document.holds)
    if document.firm is not None:
        parts += _firm(document.firm)
    if document.settings:
        parts.append(heading("Settings behind values that were worked out"))
        parts += [Indented(_setting(setting), 2) for setting in document.settings]
    parts += _other_unread(document)
    parts += [heading("Sources"), *_sources(document), heading("Cautions")]
    parts += [Text(f"- {caution}") for caution in document.cautions]
    parts.append(_foot(document))
    return parts


def _other_unread(document: AssessmentDocument) -> list[RenderableType]:
    others = other_unread(document)
    if not others:
        return []
    return [heading(OTHER_NOT_READ), *(Text(f"- {unread_words(u)}", style="dim") for u in others)]


def heading(text: str) -> RenderableType:
    """The title of a part."""
    return in_colour([heading_line(text)])[0]


def _head(document: AssessmentDocument) -> RenderableType:
    lines = [*in_colour([head_line(document)]), *(Text(sentence) for sentence in document.reason)]
    rules = f"Rule set {document.rule_set.id} {document.rule_set.version} ({document.rule_set.status})"
    lines.append(Text(f"{rules}, as of {document.as_of}", style="dim"))
    lines += [Text(line) for line in (companions_line(document), not_due_line(document)) if line]
    return Group(*lines)


def _disc_table(document: AssessmentDocument, marks: Marks) -> Table:
    """Discs as columns, criteria as rows, with every outcome in words."""
    table = Table(box=SIMPLE, show_edge=False, pad_edge=False)
    table.add_column("")
    for disc in document.discs:
        table.add_column(Text(level_words(disc)))
    table.add_row(
        Text("standing", style="bold"),
        *(Text(marks.disc(d), style=STYLES[marks.tone(d.shown, d.level)]) for d in document.discs),
    )
    by_id: dict[str, dict[str, CriterionInfo]] = {}
    for row in document.criteria:
        if row.subject != "patient":
            by_id.setdefault(row.id, {})[row.subject] = row
    for cells in by_id.values():
        title = next(iter(cells.values())).passing
        table.add_row(Text(title), *(_cell(cells.get(d.level), d.level, marks) for d in document.discs))
    return table


def _cell(row: CriterionInfo | None, level: str, marks: Marks) -> Text:
    if row is None:
        return Text("")
    return Text(marks.cell(row.shown, level), style=STYLES[marks.tone(row.shown, level)])


def _worst_first(rows: list[CriterionInfo]) -> list[CriterionInfo]:
    order = {"fail": 0, "undetermined": 1, "pass": 2}
    return sorted(rows, key=lambda row: order[row.outcome])


def _criterion(row: CriterionInfo, marks: Marks, firm: str) -> RenderableType:
    line = Text()
    symbol = marks.symbol(row.shown, row.subject) or " "
    line.append(f"{symbol} {SHOWN[row.shown][1]:<14}", style=STYLES[marks.tone(row.shown, row.subject)])
    line.append("" if row.subject == "patient" else f"{row.subject}  ", style="bold")
    line.append(row.found, style="bold" if row.shown == "fail" else "")
    line.append(f"  [{row.force}; {row.id} {row.version}]", style="dim")
    lines: list[RenderableType] = [line]
    lines += [Indented(Text(phrase), 16) for phrase in row.because]
    if firm:
        lines.append(Indented(Text(f"{FIRM}: {firm}"), 16))
    lines.append(Indented(Text(row.rule, style="dim"), 16))
    if row.mendable is not None and row.force != "advisory":
        lines.append(Indented(Text(row.mendable.words), 16))
    if row.outcome == "fail" and row.act:
        lines.append(Indented(Text(f"Do now: {row.act}", style="bold red"), 16))
    lines += [Indented(_parameter(p), 16) for p in row.parameters]
    lines.append(Indented(Text(f"Why: {row.why}", style="dim"), 16))
    if row.spread:
        lines.append(Indented(Text(f"Spread between sources: {row.spread}", style="dim"), 16))
    lines += [Indented(Text(f"Caution: {c}", style="yellow"), 16) for c in row.cautions]
    return Group(*lines)


def _parameter(parameter: ParameterInfo) -> Text:
    text = f"{parameter.name} = {parameter.value}  ({cites_words(parameter.cites)})"
    if parameter.replaces is not None:
        text += f"; this rule set replaces {parameter.replaces}: {parameter.reason}"
    return Text(text, style="dim")


def _missing(document: AssessmentDocument) -> Table:
    table = Table(box=SIMPLE, show_edge=False, pad_edge=False)
    for heading in ("ask for", "of", "why missing", "weight", "to obtain", "needed by"):
        table.add_column(heading)
    for asked in asked_together(document.missing):
        m = asked.row
        table.add_row(
            Text(m.ask),
            Text(asked.of),
            Text(m.why),
            Text(WEIGHT_WORDS[m.weight]),
            Text(BURDEN_WORDS[m.burden]),
            Text(", ".join(m.criteria[:2]) + (f" +{len(m.criteria) - 2}" if len(m.criteria) > 2 else "")),
        )
    return table


def settle_parts(document: AssessmentDocument) -> list[RenderableType]:
    """What would settle the standing and what would change it, where it was asked for."""
    parts: list[RenderableType] = []
    for title, lines in sections(document):
        parts.append(heading(title))
        parts += [Indented(Text(line.text), 2 * line.depth) for line in lines]
    return parts


def _holds(holds: HoldsInfo) -> list[RenderableType]:
    """Medicines before the planned date, each with what the table says and who must agree."""
    parts: list[RenderableType] = [heading(f"Medicines before the procedure planned for {holds.planned}")]
    parts += [Text(f"! {caution}", style="yellow") for caution in holds.cautions]
    for label, text in holds_head(holds):
        parts.append(Text(f"{label}: {text}"))
    for medicine in holds.medicines:
        parts.append(Text(f"  {hold_title(medicine)}", style="bold"))
        for label, text in hold_lines(medicine, holds.planned):
            parts.append(Indented(Text(f"{label}: {text}"), 4))
        if medicine.cites:
            parts.append(Indented(Text(f"Source: {cites_words(medicine.cites)}", style="dim"), 4))
    if not holds.medicines:
        parts.append(Text("  No medicine is listed."))
    return parts


def _firm(info: FirmInfo) -> list[RenderableType]:
    """How firm the standings are, by which published figures, and of what nothing is told."""
    parts: list[RenderableType] = [heading(FIRM), *(Text(line) for line in firm_lines(info))]
    parts += [Text(sentence, style="dim") for sentence in info.asks]
    parts += [Indented(Text(line, style="dim"), 2) for line in (*figure_lines(info), *info.not_told)]
    parts += [Indented(_setting(setting), 2) for setting in info.settings]
    return parts


def _setting(setting: ParameterInfo) -> Text:
    return Text(f"{setting.meaning}: {setting.value}  ({cites_words(setting.cites)})", style="dim")


def _sources(document: AssessmentDocument) -> list[RenderableType]:
    return [
        Text(f"- {source.key}: {source.text}" + (f" ({source.limits})" if source.limits else ""), style="dim")
        for source in all_sources(document)
    ]


def _foot(document: AssessmentDocument) -> Text:
    return Text(
        f"\n{document.program}; engine {document.engine}; as of {document.as_of}\n"
        f"rule set {document.rule_set.id} {document.rule_set.version} {document.rule_set.digest}\n"
        f"case {document.case.id} {document.case.digest}",
        style="dim",
    )
