"""The pages in order: address, title, function."""

from collections.abc import Callable

from ui.views.referral import referral
from ui.views.report import report_check
from ui.views.rule_sets import rule_sets
from ui.views.side_by_side import side_by_side

PAGES: list[tuple[str, str, Callable[[], None]]] = [
    ("", "Referral", referral),
    ("report", "Report check", report_check),
    ("compare", "Side by side", side_by_side),
    ("rules", "Rule sets", rule_sets),
]
