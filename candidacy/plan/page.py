"""A plan as one self-contained page that prints, with its timeline as a drawing in it; everything from a case is escaped."""

from functools import cache

from jinja2 import Environment

from candidacy.explain.hold_plan import hold_lines, hold_title
from candidacy.foundation.templates import template_text, templates_of
from candidacy.plan.document import PlanDocument
from candidacy.plan.picture import picture
from candidacy.plan.text import HEADS, changes_lines

_HERE = "candidacy.plan"


@cache
def _templates() -> Environment:
    environment = templates_of(_HERE)
    environment.globals.update(
        hold_lines=hold_lines, hold_title=hold_title, heads=HEADS, changes_lines=changes_lines
    )
    return environment


def plan_page(plan: PlanDocument) -> str:
    """The whole page."""
    style = template_text("candidacy.explain", "page.css") + template_text(_HERE, "plan.css")
    return _templates().get_template("plan.html").render(p=plan, picture=timeline(plan), style=style)


def timeline(plan: PlanDocument) -> str:
    """The timeline alone, as SVG with a title and a description; empty where no step has a day."""
    found = picture(plan)
    return "" if found is None else _templates().get_template("timeline.svg").render(t=found, day=plan.day)
