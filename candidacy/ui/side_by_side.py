"""Side by side: one case under several rule sets, and several cases at once."""

from collections import OrderedDict
from typing import Any

import pandas as pd
import streamlit as st

from candidacy.case.load import load_case, parse_case
from candidacy.case.record import CaseRecord
from candidacy.explain.compare import Comparison, compare
from candidacy.explain.document import AssessmentDocument
from candidacy.explain.found import in_sentence
from candidacy.explain.headline import headline
from candidacy.explain.page import comparison_page
from candidacy.explain.record import flags
from candidacy.explain.trial import trial_file_part
from candidacy.foundation.errors import CaseError, InputError, Problem, shorten
from candidacy.foundation.files import text_from_bytes
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.ui import show
from candidacy.ui.exports import Export
from candidacy.ui.head_line import MAX_CASE_MB, bar, rule_set_names
from candidacy.ui.session import desk, keep, kept_choice, safely

_OFTEN_COMPARED = ("trial_style_strict", "wide_screen", "practice_baseline")
_TRIAL = " + local trial"
_MAX_CASES = 500
_KEPT_SETS = 8  # rule sets of which the cells of that many cases are kept


def side_by_side() -> None:
    """Draw the page."""
    chosen = _chosen()
    documents = [_document(name) for name in chosen]
    comparison = compare(documents) if len(documents) > 1 else None
    bar(_exports(comparison) if comparison else [], with_rules=False)
    view = st.segmented_control("View", ["This referral", "Several cases"], key=kept_choice("compare-view", "This referral"),
                                on_change=keep, args=("compare-view", "kept-compare-view"), required=True,
                                label_visibility="collapsed")  # fmt: skip
    names = _options()
    st.multiselect("Rule sets", list(names), key=kept_choice("compare", _default(), list(names)), format_func=names.__getitem__,
                   on_change=keep, args=("compare", "kept-compare"))  # fmt: skip
    if view == "Several cases":
        _several(chosen)
    elif comparison is None:
        show.note("Choose two or more rule sets.", "notice")
    else:
        show.put("side_by_side.html", c=comparison)
        show.put("cautions.html", cautions=documents[0].cautions)


def _options() -> dict[str, str]:
    names = rule_set_names()
    return names | {
        name + _TRIAL: f"{names[name]}, local trial" for name, trial in desk().trials.items() if trial
    }


def _default() -> list[str]:
    names = [name for name in _options() if name != desk().rules]
    likely = [name for name in _OFTEN_COMPARED if name in names]
    return [desk().rules, *(likely or names[:1])]


def _chosen() -> list[str]:
    allowed = _options()
    return [name for name in desk().kept.get("compare", _default()) if name in allowed]


def _document(name: str, record: CaseRecord | None = None) -> AssessmentDocument:
    return desk().document(record, name.removesuffix(_TRIAL), trial=name.endswith(_TRIAL))


def _exports(comparison: Comparison) -> list[Export]:
    tried = [each for document in comparison.assessments for each in document.rule_set.tried]
    name = f"{desk().record.id}-side-by-side{trial_file_part(tried)}"

    def pdf() -> bytes:
        from candidacy.explain.pdf import comparison_pdf

        return comparison_pdf(comparison)

    return [
        Export("Side by side (JSON)", f"{name}.json", "application/json", comparison.to_json),
        Export(
            "Side by side to print (HTML)", f"{name}.html", "text/html", lambda: comparison_page(comparison)
        ),
        Export("Side by side (PDF)", f"{name}.pdf", "application/pdf", pdf),
    ]


# --- several cases


def _several(chosen: list[str]) -> None:
    count = st.session_state.get("many-uploads", 0)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.button("Take the demonstration cases", key="many-demo", on_click=_take_demo, width="content")
        st.button(
            "Clear the table", key="many-clear", on_click=_clear, width="content", disabled=not _cases()
        )
    left, right = st.columns(2)
    left.file_uploader("Case files (YAML or JSON)", accept_multiple_files=True, key=f"many-files-{count}", on_change=_take_files,
                       args=(f"many-files-{count}",), max_upload_size=MAX_CASE_MB)  # fmt: skip
    right.file_uploader("Or a folder of them", accept_multiple_files="directory", type=["yaml", "yml", "json"],
                        key=f"many-folder-{count}", on_change=_take_files, args=(f"many-folder-{count}",),
                        max_upload_size=MAX_CASE_MB)  # fmt: skip
    refused: list[tuple[str, tuple[Problem, ...]]] = desk().kept.get("cases-refused", [])
    if _cases():
        table = pd.DataFrame([_row(name, record, chosen) for name, record in _cases()])
        st.dataframe(table, hide_index=True, key="cases-table", on_select="rerun", selection_mode="single-row",
                     alt="Cases with their standing under each rule set")  # fmt: skip
        names = [name for name, _ in _cases()]
        with st.container(horizontal=True, vertical_alignment="bottom"):
            picked = st.session_state["cases-table"].selection.rows
            place = picked[0] if picked and picked[0] < len(names) else None
            st.selectbox(
                "Case",
                range(len(names)),
                index=place or 0,
                format_func=lambda n: names[n],
                key=f"open-case-{place}",
            )
            st.button("Open as the referral", key="open-case", on_click=_open, args=(f"open-case-{place}",))
    for name, problems in refused:
        show.problems(problems, f"{name}: refused")


def _cases() -> list[tuple[str, CaseRecord]]:
    found: list[tuple[str, CaseRecord]] = desk().kept.get("cases", [])
    return found


def _row(name: str, record: CaseRecord, chosen: list[str]) -> dict[str, Any]:
    row: dict[str, Any] = {"file": name, "reference": record.id, "title": record.title}
    for rules in chosen:
        row |= _cells(rules, record)
    return row


def _cells(rules: str, record: CaseRecord) -> dict[str, Any]:
    """What the table says of a case under a rule set; worked out once, since there are more cases than documents kept."""
    on = desk()
    rule_set = on.rule_set(rules.removesuffix(_TRIAL), trial=rules.endswith(_TRIAL))
    held: OrderedDict[tuple[int, str, str], tuple[CaseRecord, dict[str, Any]]]
    held = st.session_state.setdefault("case-cells", OrderedDict())
    key = (id(record), rule_set.digest, on.as_of(record).isoformat())
    found = held.get(key)
    if (
        found is None or found[0] is not record
    ):  # records are never changed; one that is held here keeps its identity
        document = _document(rules, record)
        discs = ", ".join(
            f"{d.level} {in_sentence(d.standing_name)}" for d in document.discs if d.considered != "not_met"
        )
        cells = {rules: headline(document), f"{rules}: look at first": "; ".join(flags(document)), f"{rules}: discs": discs,
                 f"{rules}: missing": len(document.missing)}  # fmt: skip
        found = held[key] = record, cells
        while len(held) > _MAX_CASES * _KEPT_SETS:
            held.popitem(last=False)
    return found[1]


@safely
def _take_demo() -> None:
    found, refused = [], []
    for file in sorted(demo_cases_folder().glob("*.yaml")):
        try:
            found.append((file.stem, load_case(file).record))
        except CaseError as error:
            refused.append((file.stem, error.problems))
    _add(found, refused)


@safely
def _take_files(key: str) -> None:
    found, refused = [], []
    files = st.session_state[key] or []
    for file in files:
        try:
            text = text_from_bytes(file.getvalue(), file.name)
            found.append((shorten(file.name), parse_case(text, file.name).record))
        except InputError as error:
            refused.append((shorten(file.name), error.problems))
    if files:
        st.session_state["many-uploads"] = st.session_state.get("many-uploads", 0) + 1
    _add(found, refused)


def _add(found: list[tuple[str, CaseRecord]], refused: list[tuple[str, tuple[Problem, ...]]]) -> None:
    rest = [(name, record) for name, record in _cases() if name not in {n for n, _ in found}]
    desk().kept["cases"] = [*rest, *found][:_MAX_CASES]
    desk().kept["cases-refused"] = refused
    if len(rest) + len(found) > _MAX_CASES:
        st.session_state["notice"] = (
            f"Only {_MAX_CASES} cases fit this table; screen more on the Cohort page."
        )


@safely
def _clear() -> None:
    desk().kept["cases"] = []
    desk().kept["cases-refused"] = []


@safely
def _open(key: str) -> None:
    name, record = _cases()[st.session_state[key]]
    desk().open(record, f"opened {name}")
    st.session_state["notice"] = "Opened as the referral; undo brings the former one back."
