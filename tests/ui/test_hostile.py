"""Text from outside is shown as written: never as markup, in no place of any page."""

import html
import re

import pytest

from candidacy.case.edit import with_document, with_fact, with_header
from candidacy.case.record import CaseRecord, Document, FactEntry
from candidacy.ui.report.desk import new_report
from candidacy.ui.show import label
from tests.ui.conftest import demo

HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(2)> **bold** :red[x] [a](javascript:alert(3)) {{7*7}} $x$"
# The one image of our own; its words are days and titles of steps.
DRAWING = '<div class="c-timeline"><img alt="Timeline around '
PAGES = [
    "",
    "report.page.report_check",
    "side_by_side.side_by_side",
    "rule_sets.rule_sets",
    "day.page.the_day",
    "plan.page.plan_page",
]


def _record() -> CaseRecord:
    record = with_header(demo("one-disc-candidate"), title=HOSTILE, note=HOSTILE)
    record = with_document(record, "<b>key</b>", Document(kind="other", title=HOSTILE, author=HOSTILE))
    entry = FactEntry(value=120, unit="kg", words=HOSTILE, by=HOSTILE, note=HOSTILE, source="<b>key</b>")
    return with_fact(record, "patient", "body_weight", entry)


@pytest.mark.parametrize("view", PAGES)
def test_hostile_text_stays_text(screen, view):
    page = screen(view, _record(), source="<b>key</b>", role=HOSTILE)
    page.desk.kept["reports"] = [
        new_report(
            HOSTILE,
            f"L4-5: {HOSTILE} 4 mm protrusion. {HOSTILE} No canal stenosis and no narrowing of the foramina is seen.",
            "2026-10-01",
        )
    ]
    page.at.session_state["source-menu"] = True
    views = ["Facts", "Missing", "Criteria", "Discs"] if not view else [""]
    for part in views:
        page.desk.kept["view"] = part
        page.run()
        bodies = [b for b in page.bodies if not b.startswith("<style>")]
        for body in bodies:
            assert "<img" not in body.removeprefix(DRAWING)
            assert "<b>key" not in body
            assert "49" not in re.findall(r"\{\{.*?\}\}", body)
            if "move" not in body:
                assert "<script>alert" not in body
        for item in page.at.markdown:
            assert "alert(" not in item.value
        for kind in (
            "button",
            "text_input",
            "selectbox",
            "multiselect",
            "button_group",
            "toggle",
            "expander",
        ):
            for widget in page.at.get(kind):
                assert "<img" not in (widget.label or ""), kind
        assert any(html.escape("<script>") in body for body in bodies)


def test_a_label_loses_no_sign_and_gains_no_meaning():
    shown = label(HOSTILE)
    assert shown.replace("\\", "") == HOSTILE
    for sign in "<[*:`":
        assert not re.search(rf"(?<!\\)\{sign}", shown)
