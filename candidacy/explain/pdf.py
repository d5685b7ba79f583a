"""Assessments, comparisons and rule sets as PDF for A4 or Letter; the same content as the other forms.

Written with reportlab: a pure wheel without system libraries, so it installs in a hospital wherever Python does.
"""

from datetime import datetime

from candidacy.explain.ahead import not_yet_lines
from candidacy.explain.cited import cites_words
from candidacy.explain.companions import COMPANIONS, companion_strip, not_due_line
from candidacy.explain.compare import Comparison
from candidacy.explain.document import AssessmentDocument, CriterionInfo
from candidacy.explain.firm import FIRM, all_sources, figure_lines, firm_lines
from candidacy.explain.first_page import first_page
from candidacy.explain.headline import NOT_A_DECISION, foot_words, headline, trial_footer
from candidacy.explain.hold_plan import hold_lines, hold_title, holds_head
from candidacy.explain.holds_document import HoldsInfo
from candidacy.explain.labels import (
    BURDEN_WORDS,
    WEIGHT_WORDS,
    force_words,
    mark_words,
    standing_words,
    status_words,
)
from candidacy.explain.marks import Marks, level_words, marks_of
from candidacy.explain.missing_document import asked_together
from candidacy.explain.page import criterion_groups, disc_rows, worst
from candidacy.explain.pdf_first_page import put_first_page
from candidacy.explain.pdf_parts import SOFT, TONES, Paper, Sheets
from candidacy.explain.record import (
    CONTRADICTIONS,
    DISPUTED,
    NOT_READ,
    OTHER_NOT_READ,
    REMARKS,
    conflict_lines,
    conflict_title,
    danger_lines,
    disputed_lines,
    fact_from,
    other_unread,
    remark_lines,
    unread_words,
    value_words,
)
from candidacy.explain.ruleset import RuleSetDocument
from candidacy.explain.settle_lines import sections
from candidacy.explain.wording import subject_words
from candidacy.rules.vocabulary import GROUPS


def assessment_pdf(document: AssessmentDocument, paper: Paper = "A4", made: datetime | None = None) -> bytes:
    """One assessment as PDF: page one, with boxes to fill by hand, then everything else as an annex.

    Parameters
    ----------
    document
        The assessment to print.
    paper
        ``A4`` or ``Letter``.
    made
        When it is made, which stands in its properties; now where nothing is given.
    """
    d = document
    sheets = Sheets(f"{d.case.id}: {headline(d)}", foot_words(d))
    put_first_page(sheets, first_page(d))
    _head(sheets, d)
    _record(sheets, d)
    for caution in d.cautions[:2]:
        sheets.add(caution, bold=True)
    for notice in d.notices:
        sheets.add(notice)
    if d.not_yet is not None:
        sheets.heading("What has to happen first")
        sheets.items(not_yet_lines(d))
    if d.discs:
        sheets.heading("Discs")
        for sentence in d.which_disc.says:
            sheets.add(sentence)
        _disc_table(sheets, d)
    marks = marks_of(d)
    for heading, criteria in criterion_groups(d):
        sheets.heading(heading)
        for evaluations in criteria:
            _criterion(sheets, evaluations, marks, d)
    _missing_and_facts(sheets, d)
    for title, lines in sections(d):
        sheets.heading(title)
        sheets.items([f"{'– ' * line.depth}{line.text}" for line in lines])
    if d.holds is not None:
        _holds(sheets, d.holds)
    if d.firm is not None:
        sheets.heading(FIRM)
        sheets.items(firm_lines(d.firm))
        for sentence in (*d.firm.asks, *figure_lines(d.firm), *d.firm.not_told):
            sheets.add(sentence, size=8)
        for setting in d.firm.settings:
            sheets.add(f"{setting.value} ({cites_words(setting.cites)})", lead=setting.meaning, size=7)
    if d.settings:
        sheets.heading("Settings behind values that were worked out")
        for setting in d.settings:
            sheets.add(f"{setting.value} ({cites_words(setting.cites)})", lead=f"{setting.meaning}:", size=8)
    others = other_unread(d)
    if others:
        sheets.heading(OTHER_NOT_READ)
        for unread in others:
            sheets.add(unread_words(unread), size=8)
    sheets.heading("Decision rules that fired")
    for fired in d.fired:
        because = f" Because of {', '.join(fired.because)}." if fired.because else ""
        decided = " (decided)" if fired.rule == d.decided_by else ""
        sheets.add(f"{fired.means}{because}", lead=f"{fired.rule}{decided}:")
    _sources(sheets, [(s.key, s.text, s.seen_as, s.limits) for s in all_sources(d)])
    sheets.heading("Cautions")
    sheets.items(d.cautions)
    return sheets.to_bytes(paper, made)


def _head(sheets: Sheets, d: AssessmentDocument) -> None:
    """Standing and alerts; an emergency of the case itself comes first, else what must be seen before a standing."""
    for part in (_standing, _alerts) if d.standing == "urgent" else (_alerts, _standing):
        part(sheets, d)


def _standing(sheets: Sheets, d: AssessmentDocument) -> None:
    tone = TONES[d.shown]
    words = [sheets.paragraph(headline(d), size=15, bold=True, tone=tone, role="H3")]
    sheets.box([*words, *(sheets.paragraph(sentence, size=9) for sentence in d.reason)], tone)


def _alerts(sheets: Sheets, d: AssessmentDocument) -> None:
    """What a standing must not hide: companions that stop, and signs of danger that nothing decides on."""
    tone = TONES["fail"]
    for sentence in d.stops:
        sheets.box([sheets.paragraph(f"‼ {sentence}", size=11, bold=True, tone=tone)], tone)
    dangers = danger_lines(d)
    if dangers:
        lines = [sheets.paragraph(f"‼ {NOT_READ}", size=11, bold=True, tone=tone)]
        sheets.box(
            [*lines, *(sheets.paragraph(line, size=9, bold=True, tone=tone) for line in dangers)], tone
        )


def _record(sheets: Sheets, d: AssessmentDocument) -> None:
    """The companion sets, disputed signs of danger, and contradictions of the record."""
    strip, waits = companion_strip(d), not_due_line(d)
    if strip:
        sheets.strip(COMPANIONS, strip)
    if waits:
        sheets.add(waits)
    if d.disputed:
        sheets.heading(DISPUTED)
        for line in disputed_lines(d):
            sheets.add(line, bold=True)
    if d.conflicts:
        sheets.heading(CONTRADICTIONS)
    for conflict in d.conflicts:
        lines = [sheets.subheading(conflict_title(conflict))]
        sheets.together([*lines, *(sheets.paragraph(line, left=10) for line in conflict_lines(conflict))])
    if d.remarks:
        sheets.heading(REMARKS)
        sheets.items(remark_lines(d))


def _disc_table(sheets: Sheets, d: AssessmentDocument) -> None:
    head, marks = ["Criterion", *(level_words(disc) for disc in d.discs)], marks_of(d)
    rows: list[list[object]] = [["Standing", *(marks.disc(disc) for disc in d.discs)]]
    tones: list[list[str | None]] = [[None, *(marks.tone(disc.shown, disc.level) for disc in d.discs)]]
    for _, title, cells in disc_rows(d):
        rows.append([title, *(marks.cell(cell.shown, cell.subject) if cell else "" for cell in cells)])
        tones.append([None, *(marks.tone(cell.shown, cell.subject) if cell else None for cell in cells)])
    width = min(17.0, 64 / len(d.discs))
    sheets.table(head, rows, [100 - width * len(d.discs), *[width] * len(d.discs)], tones)


def _criterion(sheets: Sheets, evaluations: list[CriterionInfo], marks: Marks, d: AssessmentDocument) -> None:
    """One criterion: its outcome for each subject, then what is common to all of them, said once."""
    c = worst(evaluations)
    lines = [sheets.subheading(c.found if len(evaluations) == 1 else c.passing)]
    for evaluation in evaluations:
        shown, subject = evaluation.shown, evaluation.subject
        level = "" if evaluation.subject == "patient" else f" {evaluation.subject}"
        words = [*([evaluation.found] if len(evaluations) > 1 else []), *evaluation.because]
        lines.append(sheets.paragraph("; ".join(words), lead=f"{marks.row(shown, subject)}{level}:", size=8,
                                      tone=TONES[marks.tone(shown, subject)], left=10, before=0.5))  # fmt: skip
        firm = d.firm_words(evaluation.id, subject)
        if firm:
            lines.append(sheets.paragraph(f"{FIRM}: {firm}", size=8, left=10, before=0.5))
        if evaluation.mendable is not None and evaluation.force != "advisory":
            lines.append(sheets.paragraph(evaluation.mendable.words, size=8, left=10, before=0.5))
    if c.act and c.outcome == "fail":
        lines.append(sheets.paragraph(f"Do now: {c.act}", bold=True, tone=TONES["fail"], left=10))
    limits = "; ".join(
        f"{p.meaning} {p.value} ({cites_words(p.cites)})"
        + (f", where this rule set replaces {p.replaces}: {p.reason}" if p.replaces else "")
        + (f", elsewhere {', '.join(p.alternatives)}" if p.alternatives and c.outcome != "pass" else "")
        for p in c.parameters
    )
    pieces = [f"{c.rule} ({c.id} {c.version}, {status_words(c.status)}; {force_words(c.force)}.)"]
    pieces += [f"Limits: {limits}."] if limits else []
    pieces += [f"Use: {cites_words(c.cites)}."]
    if c.outcome != "pass":
        more = [f"Why: {c.why}"]
        more += [f"Why this force: {c.force_reason}"] if c.force_reason else []
        more += [f"Spread between sources: {c.spread}"] if c.spread else []
        pieces = [pieces[0], *more, *pieces[1:], *(f"Caution: {caution}" for caution in c.cautions)]
    lines.append(sheets.paragraph(" ".join(pieces), size=7, tone=SOFT, left=10, before=0.5))
    sheets.together(lines)


def _missing_and_facts(sheets: Sheets, d: AssessmentDocument) -> None:
    sheets.heading("Missing facts, those that could decide first")
    if d.missing:
        sheets.table(
            ["Ask for", "Of", "Why missing", "Weight", "To obtain", "Needed by"],
            [
                [
                    m.ask,
                    asked.whose,
                    m.why,
                    WEIGHT_WORDS[m.weight],
                    BURDEN_WORDS[m.burden],
                    ", ".join(m.criteria),
                ]
                for asked in asked_together(d.missing)
                for m in [asked.row]
            ],
            [24, 9, 14, 18, 12, 23],
        )
    else:
        sheets.add("None.")
    sheets.heading("Values used")
    sheets.table(
        ["Element", "Of", "Value", "From"],
        [[f.label, subject_words(f.subject), value_words(f), fact_from(f)] for f in d.facts],
        [30, 11, 25, 34],
    )


def _holds(sheets: Sheets, holds: HoldsInfo) -> None:
    sheets.heading(f"Medicines before the procedure planned for {holds.planned}")
    for caution in holds.cautions:
        sheets.add(caution)
    for label, text in holds_head(holds):
        sheets.add(text, lead=f"{label}:")
    for medicine in holds.medicines:
        lines = [sheets.subheading(hold_title(medicine))]
        for label, text in hold_lines(medicine, holds.planned):
            lines.append(sheets.paragraph(text, lead=f"{label}:", size=8, left=10, before=0.5))
        if medicine.cites:
            lines.append(
                sheets.paragraph(cites_words(medicine.cites), lead="Source:", size=7, tone=SOFT, left=10)
            )
        sheets.together(lines)
    if not holds.medicines:
        sheets.add("No medicine is listed.")


def _sources(sheets: Sheets, rows: list[tuple[str, str, str, str]]) -> None:
    sheets.heading("Sources")
    for key, text, seen, limits in rows:
        more = f" Seen: {seen}." if seen else ""
        sheets.add(f"{text}.{more} {limits}", lead=f"{key}:", size=7.5)


def comparison_pdf(comparison: Comparison, paper: Paper = "A4", made: datetime | None = None) -> bytes:
    """One case under several rule sets as PDF; parameters as in `assessment_pdf`."""
    first = comparison.assessments[0]
    trials = " ".join(filter(None, map(trial_footer, comparison.assessments)))
    sets = "; ".join(
        f"{d.rule_set.id} {d.rule_set.version} {d.rule_set.digest}" for d in comparison.assessments
    )
    sheets = Sheets(
        f"{first.case.id} under {len(comparison.assessments)} rule sets",
        f"{trials} {NOT_A_DECISION} {first.program}; as of {first.as_of}; case {first.case.digest}; {sets}",
    )
    sheets.title(f"{first.case.id}: {first.case.title}" if first.case.title else first.case.id)
    sheets.add(f"Side by side, as of {first.as_of}", tone=SOFT)
    for place, line in enumerate(comparison.deciding):
        sheets.add(line, bold=not place)
    for document in comparison.assessments:
        sheets.heading(f"{document.rule_set.title} ({document.rule_set.id} {document.rule_set.version})")
        _head(sheets, document)
        _record(sheets, document)
        for text in (*document.which_disc.says, *document.notices):
            sheets.add(text)
    names = [d.rule_set.id + (" (trial)" if d.rule_set.trial else "") for d in comparison.assessments]
    width = min(16.0, 48 / len(names))
    for heading, flag in (
        ("Criteria that differ", True),
        ("Criteria with the same outcome everywhere", False),
    ):
        rows = [row for row in comparison.rows if row.differs is flag]
        if rows:
            sheets.heading(heading)
            words = [[mark_words(o) if o else "not used" for o in row.shown] for row in rows]
            sheets.table(["Criterion", "Of", *names, "What differs"],
                         [[row.title, subject_words(row.subject), *cells, "; ".join(row.differs_by)]
                          for row, cells in zip(rows, words, strict=True)],
                         [28, 8, *[width] * len(names), 64 - width * len(names)],
                         [[None, None, *row.shown, None] for row in rows])  # fmt: skip
    sheets.heading("Cautions")
    sheets.items(first.cautions)
    return sheets.to_bytes(paper, made)


def rule_set_pdf(document: RuleSetDocument, paper: Paper = "A4", made: datetime | None = None) -> bytes:
    """A rule set as PDF for a committee; parameters as in `assessment_pdf`."""
    r = document
    trial = f"Local trial: {'; '.join(r.trial)}. " if r.trial else ""
    sheets = Sheets(
        f"{r.title} {r.version}", f"{trial}{NOT_A_DECISION} Rule set {r.id} {r.version} {r.digest}"
    )
    sheets.title(r.title)
    sheets.add(
        f"Rule set {r.id}, version {r.version}, status {r.status}; to be reviewed by {r.review_by}", tone=SOFT
    )
    if r.trial:
        sheets.add(
            f"Local trial, not the shipped rule set: {'; '.join(r.trial)}.", bold=True, tone=TONES["fail"]
        )
    for words in r.replaced:
        sheets.add(words, bold=True, tone=TONES["fail"])
    if r.extends:
        sheets.add(r.reason, lead=f"Extends {r.extends}:")
    for lead, text in (("Scope:", r.scope), ("Users:", r.intended_users), ("Population:", r.population),
                       ("Out of scope:", "; ".join(r.out_of_scope)), ("Authoring basis:", r.authoring_basis),
                       ("Known limits:", "; ".join(r.known_limits)), ("Not tested on:", r.not_tested_on)):  # fmt: skip
        sheets.add(text, lead=lead)
    for group, heading in GROUPS.items():
        rows = [c for c in r.criteria if c.group == group]
        if rows:
            sheets.heading(heading)
        for c in rows:
            sheets.add(
                f"({c.kind}, {c.subject}; {force_words(c.force)}; {c.id} {c.version}, {status_words(c.status)})",
                lead=c.title,
                before=5,
            )
            sheets.add(f"{c.rule} {c.why}", left=10)
            for p in c.parameters:
                replaces = f" Replaces {p.replaces}: {p.reason}." if p.replaces else ""
                elsewhere = f" Elsewhere: {'; '.join(p.alternatives)}." if p.alternatives else ""
                sheets.add(f"{p.meaning}: {p.value} ({cites_words(p.cites)}).{replaces}{elsewhere}", left=10)
            for caution in c.cautions:
                sheets.add(f"Caution: {caution}", left=10)
    sheets.heading("From outcomes to a standing")
    sheets.table(
        ["When", "Standing", "Next"],
        [
            [
                d.when,
                standing_words(d.standing, d.standing_name),
                " ".join((d.next_step, *d.next_step_other_disc)),
            ]
            for d in r.decisions
        ],
        [45, 18, 37],
    )
    if r.companions:
        sheets.heading("Companion rule sets")
        for companion in r.companions:
            sheets.add(companion)
    _sources(sheets, [(s.key, s.text, s.seen_as, s.limits) for s in r.sources])
    sheets.heading("Changes")
    sheets.items(r.changes)
    return sheets.to_bytes(paper, made)
