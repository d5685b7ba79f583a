"""An assessment document as one self-contained page that prints; everything from a case is escaped."""

from functools import cache

from jinja2 import Environment

from candidacy.explain import record
from candidacy.explain.ahead import not_yet_lines
from candidacy.explain.cautions import EMERGENCY
from candidacy.explain.companions import COMPANIONS, companion_strip, not_due_line
from candidacy.explain.compare import Comparison
from candidacy.explain.document import AssessmentDocument, CriterionInfo
from candidacy.explain.firm import FIRM, all_sources, figure_lines, firm_lines
from candidacy.explain.first_page import ANNEX, BOXES, LABEL_BOX, first_page
from candidacy.explain.headline import condition_words, foot_words, headline
from candidacy.explain.hold_plan import hold_lines, hold_title, holds_head
from candidacy.explain.labels import (
    BURDEN_WORDS,
    WEIGHT_WORDS,
    force_words,
    mark_words,
    standing_words,
    status_words,
)
from candidacy.explain.marks import level_words, marks_of
from candidacy.explain.missing_document import asked_together
from candidacy.explain.printable import printable
from candidacy.explain.ruleset import RuleSetDocument
from candidacy.explain.settle_lines import sections
from candidacy.explain.wording import subject_words, unit_words
from candidacy.foundation.templates import template_text, templates_of
from candidacy.rules.vocabulary import GROUPS

_HERE = "candidacy.explain"


def page_templates(package: str) -> Environment:
    """The templates of a package, with the words for what a document holds."""
    environment = templates_of(package)
    environment.filters["force"] = force_words
    environment.globals.update(
        mark_words=mark_words,
        marks_of=marks_of,
        level_words=level_words,
        headline=headline,
        condition_words=condition_words,
        not_yet_lines=not_yet_lines,
        weights=WEIGHT_WORDS,
        burdens=BURDEN_WORDS,
        groups=GROUPS,
        record=record,
        companions_name=COMPANIONS,
        companion_strip=companion_strip,
        not_due_line=not_due_line,
    )
    return environment


@cache
def _templates() -> Environment:
    environment = page_templates(_HERE)
    environment.filters["status"] = status_words
    environment.filters["unit"] = unit_words
    environment.filters["subject"] = subject_words
    environment.globals.update(
        standing_words=standing_words,
        hold_lines=hold_lines,
        hold_title=hold_title,
        holds_head=holds_head,
        settle_sections=sections,
        emergency=EMERGENCY,
        annex=ANNEX,
        firm_name=FIRM,
        firm_lines=firm_lines,
        figure_lines=figure_lines,
        all_sources=all_sources,
        asked_together=asked_together,
        boxes=BOXES,
        label_box=LABEL_BOX,
        criterion_groups=criterion_groups,
        worst=worst,
        style=template_text(_HERE, "page.css"),
    )
    return environment


def render(template: str, **values: object) -> str:
    """Fill a shipped template; every value is escaped."""
    return _templates().get_template(template).render(**values)


def page(document: AssessmentDocument) -> str:
    """One assessment as a page."""
    document = printable(document)
    return render(
        "assessment.html",
        d=document,
        table=disc_rows(document),
        one=first_page(document),
        foot=_foot(document),
    )


def _foot(document: AssessmentDocument) -> str:
    return css_text(foot_words(document))


def css_text(text: str) -> str:
    """A text as a string of a style sheet, with every sign but plain letters and numbers escaped."""
    return "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in text)


def fragment(document: AssessmentDocument) -> str:
    """One assessment in short, as a part of another page such as a notebook; without style or script."""
    return render("fragment.html", d=printable(document))


def disc_rows(document: AssessmentDocument) -> list[tuple[str, str, list[CriterionInfo | None]]]:
    """Rows of the disc-by-criterion table: id, title, and the cell of each disc."""
    levels = [disc.level for disc in document.discs]
    rows: dict[str, tuple[str, dict[str, CriterionInfo]]] = {}
    for criterion in document.criteria:
        if criterion.subject in levels:
            rows.setdefault(criterion.id, (criterion.passing, {}))[1][criterion.subject] = criterion
    return [(key, title, [cells.get(level) for level in levels]) for key, (title, cells) in rows.items()]


_WORST = ("fail", "undetermined", "pass")


def criterion_groups(document: AssessmentDocument) -> list[tuple[str, list[list[CriterionInfo]]]]:
    """Criteria by group, what fails or is open first; of each its outcome for every subject, said once together."""
    found = []
    for group, title in GROUPS.items():
        rows: dict[str, list[CriterionInfo]] = {}
        for criterion in document.criteria:
            if criterion.group == group:
                rows.setdefault(criterion.id, []).append(criterion)
        if rows:
            found.append((title, sorted(rows.values(), key=lambda row: _WORST.index(worst(row).outcome))))
    return found


def worst(evaluations: list[CriterionInfo]) -> CriterionInfo:
    """The outcome of a criterion that matters first."""
    return min(evaluations, key=lambda row: _WORST.index(row.outcome))


def comparison_page(comparison: Comparison) -> str:
    """Several rule sets side by side as a page."""
    return render("comparison.html", c=printable(comparison))


def rule_set_page(document: RuleSetDocument) -> str:
    """A rule set as a page for a committee."""
    return render("ruleset.html", r=printable(document))
