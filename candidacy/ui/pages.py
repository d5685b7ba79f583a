"""The pages in order: address, title, function. A page is loaded when it is first opened."""

from collections.abc import Callable
from importlib import import_module

from candidacy.ui import show


def _page(module: str, function: str, extra: str) -> Callable[[], None]:
    def draw() -> None:
        try:
            view = getattr(import_module(f"candidacy.ui.{module}"), function)
        except ModuleNotFoundError as error:
            if (error.name or "").split(".")[0] == "candidacy":
                raise
            show.note(f"This page needs an extra: pip install 'candidacy[{extra}]'", "notice")
            return
        view()

    return draw


PAGES: list[tuple[str, str, Callable[[], None]]] = [
    ("", "Referral", _page("referral.page", "referral", "ui")),
    ("day", "The day", _page("day.page", "the_day", "ui")),
    ("report", "Report check", _page("report.page", "report_check", "reading")),
    ("plan", "Plan", _page("plan.page", "plan_page", "plan")),
    ("compare", "Side by side", _page("side_by_side", "side_by_side", "ui")),
    ("letters", "Letters", _page("letters.page", "letters", "letters")),
    ("rules", "Rule sets", _page("rule_sets", "rule_sets", "ui")),
    ("work", "Work list", _page("work_list", "work_list", "records")),
    ("conference", "Conference", _page("conference.page", "conference", "records")),
    ("follow", "Follow-up", _page("follow_up.page", "follow_up", "ui")),
    ("cohort", "Cohort", _page("cohort.page", "cohort", "cohort")),
    ("outcomes", "Outcomes", _page("outcomes.page", "outcomes", "outcomes")),
]
