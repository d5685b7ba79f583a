"""Cohort: screen a table of referrals, see who is left and why, try limits, open a case."""

from typing import Any

import streamlit as st

from candidacy.cohort.summary import summary_page
from candidacy.errors import CaseError, Code, Problem, shorten
from candidacy.explain.cautions import GENERAL
from candidacy.explain.labels import standing_words
from candidacy.rules.schema import STANDINGS
from candidacy.shipped import demo_cases_folder
from ui import show
from ui.bar import bar, rule_set_names
from ui.cohort_run import Run, Table, other_rule_set, proposal, run, uploaded
from ui.exports import Export
from ui.session import desk, hold, keep, kept_choice, safely

MAX_TABLE_MB = 200
_ENDINGS = ["csv", "tsv", "txt", "xlsx", "parquet", "duckdb"]
_VIEWS = [
    "Standings",
    "Criteria",
    "Who is left",
    "Reasons",
    "Missing",
    "What if",
    "Other rule set",
    "Set aside",
    "Cases",
]
_SHOWN_ROWS = 5000


def cohort() -> None:
    """Draw the page."""
    found: Run | None = st.session_state.get("cohort-run")
    bar(_exports(found) if found else [])
    _table_form()
    if desk().kept.get("cohort-table") is not None:
        _mapping_form()
        if st.button("Screen the table", type="primary", key="cohort-go"):
            _screen()
            found = st.session_state.get("cohort-run")
    if found is None:
        show.note(
            "Upload a table with one row per case, or take the demonstration cases. Nothing leaves this machine."
        )
    else:
        _results(found)
    show.put("cautions.html", cautions=GENERAL)


def _exports(found: Run) -> list[Export]:
    csv = [
        ("outcomes", "Outcomes of every case (CSV)"),
        ("tallies", "Tallies per criterion (CSV)"),
        ("attrition", "Participant flow (CSV)"),
    ]
    files = [
        Export(
            "Cohort summary to print (HTML)", "cohort.html", "text/html", lambda: summary_page(found.cohort)
        )
    ]
    return files + [Export(label, f"cohort-{name}.csv", "text/csv", lambda name=name: found.frame(name).to_csv(index=False))
                    for name, label in csv]  # type: ignore[misc]  # fmt: skip


# --- the table and what its columns hold


def _table_form() -> None:
    count = st.session_state.get("cohort-uploads", 0)
    left, right = st.columns(2)
    left.file_uploader("Table with one row per case (CSV, Excel, Parquet, DuckDB)", type=_ENDINGS, key=f"cohort-table-{count}",
                       max_upload_size=MAX_TABLE_MB, on_change=_take, args=("cohort-table", count))  # fmt: skip
    right.file_uploader("Second table with one row per disc, if there is one", type=_ENDINGS, key=f"cohort-discs-{count}",
                        max_upload_size=MAX_TABLE_MB, on_change=_take, args=("cohort-discs", count))  # fmt: skip
    with st.container(horizontal=True, vertical_alignment="center"):
        st.button("Take the demonstration cases", key="cohort-demo", on_click=_take_demo)
        st.button(
            "Drop the table",
            key="cohort-drop",
            on_click=_drop,
            disabled=desk().kept.get("cohort-table") is None,
        )
        for name, words in (("cohort-table", "Table"), ("cohort-discs", "Discs")):
            table: Table | None = desk().kept.get(name)
            if table is not None:
                show.note(f"{words}: {table.name}")


@safely
def _take(name: str, count: int) -> None:
    file = st.session_state[f"{name}-{count}"]
    if file is not None:
        desk().kept[name] = uploaded(shorten(file.name), file.getvalue())
        st.session_state.pop("cohort-run", None)


@safely
def _take_demo() -> None:
    _drop()
    desk().kept["cohort-table"] = Table(demo_cases_folder(), "demonstration cases, all invented")


@safely
def _drop() -> None:
    for name in ("cohort-table", "cohort-discs", "cohort-mapping"):
        desk().kept.pop(name, None)
    st.session_state.pop("cohort-run", None)
    st.session_state["cohort-uploads"] = st.session_state.get("cohort-uploads", 0) + 1


def _mapping_form() -> None:
    with st.expander("What the columns hold", expanded=bool(desk().kept.get("cohort-mapping"))):
        show.note("Needed where the headers are not element names with their unit. Start from a proposal, compare every "
                  "line with the table, correct it, and write confirmed: true. A wrong line gives wrong outcomes that look right.")  # fmt: skip
        st.button("Propose a mapping", key="cohort-propose", on_click=_propose)
        st.text_area("Mapping (YAML)", key=kept_choice("cohort-mapping", ""), height=260, on_change=keep, max_chars=400_000,
                     args=("cohort-mapping", "kept-cohort-mapping"))  # fmt: skip


@safely
def _propose() -> None:
    desk().kept["cohort-mapping"] = proposal(desk().kept["cohort-table"])


def _screen() -> None:
    with st.status("Screening", expanded=True) as status:
        bar_ = st.progress(0.0)

        def tell(what: str, done: int, of: int) -> None:
            bar_.progress(done / of, text=what)

        _run(tell)
        status.update(
            label="Screened" if st.session_state.get("cohort-run") else "Not screened", expanded=False
        )
    if "refused" in st.session_state:
        show.problems(st.session_state.pop("refused"), "Refused; nothing was screened")


@safely
def _run(tell: Any) -> None:
    old: Run | None = st.session_state.pop("cohort-run", None)
    if old is not None:
        old.cohort.close()
    kept = desk().kept
    st.session_state["cohort-run"] = run(
        desk(), kept["cohort-table"], kept.get("cohort-discs"), kept.get("cohort-mapping", ""), tell
    )


# --- what came of it


def _results(found: Run) -> None:
    outcome = found.cohort
    trial = f"; local trial: {'; '.join(outcome.rule_set.trial)}" if outcome.rule_set.trial else ""
    show.note(f"{outcome.cases:,} cases under {outcome.rule_set.file.title} {outcome.rule_set.file.version} as of "
              f"{outcome.as_of.isoformat()}; {outcome.set_aside:,} rows set aside{trial}.")  # fmt: skip
    if outcome.rule_set.digest != desk().rule_set().digest:
        show.note("The rule set chosen above is another one now: screen again to use it.", "notice")
    view = st.segmented_control("Result", _VIEWS, key=kept_choice("cohort-view", "Standings", _VIEWS), on_change=keep,
                                args=("cohort-view", "kept-cohort-view"), required=True, label_visibility="collapsed")  # fmt: skip
    {
        "Standings": _standings,
        "Criteria": lambda f: _frame(f, "tallies"),
        "Who is left": _flow,
        "Reasons": lambda f: _frame(f, "reasons"),
        "Missing": lambda f: _frame(f, "missing_ranking"),
        "What if": _what_if,
        "Other rule set": _other,
        "Set aside": lambda f: _frame(f, "set_aside_rows"),
        "Cases": _cases,
    }[view or "Standings"](found)


def _frame(found: Run, name: str) -> None:
    frame = found.frame(name)
    if frame.empty:
        show.note("None.")
        return
    st.dataframe(frame.head(_SHOWN_ROWS), hide_index=True, alt=name.replace("_", " "))
    if len(frame) > _SHOWN_ROWS:
        show.note(f"The first {_SHOWN_ROWS:,} of {len(frame):,} rows; the export has all.")


def _standings(found: Run) -> None:
    rows = [
        (standing_words(r["standing"]), r["standing"], r["cases"])
        for r in found.frame("standings").to_dict("records")
    ]
    show.put("tallies.html", rows=rows, head="Cases by standing")
    discs = found.frame("disc_standings")
    if not discs.empty:
        st.dataframe(discs, hide_index=True, alt="Discs by level and standing")


def _flow(found: Run) -> None:
    for unit, drawn in found.diagrams():
        st.subheader(f"{unit.capitalize()}")
        st.image(
            drawn,
            width=820,
            caption=f"Participant flow of {unit}; the same numbers stand in the table below.",
        )
    _frame(found, "attrition")


def _what_if(found: Run) -> None:
    items = {f"{i.id}.{n}": (i, p) for i in found.cohort.rule_set.criteria for n, p in i.parameters.items()}
    with st.container(horizontal=True, vertical_alignment="bottom"):
        first = "body_mass_index_limit.bmi_upper_limit"
        default = first if first in items else next(iter(items))
        name = st.selectbox("Parameter", list(items), key=kept_choice("what-if", default, list(items)), on_change=keep, width=460,
                            args=("what-if", "kept-what-if"),
                            format_func=lambda n: f"{items[n][0].criterion.title}: {items[n][1].declared.meaning}")  # fmt: skip
        st.text_input("Values, commas between", key=kept_choice("what-if-values", "30, 35, 40, 45"), on_change=keep, width=260,
                      args=("what-if-values", "kept-what-if-values"), max_chars=400)  # fmt: skip
        st.button("Try them", key="what-if-go", on_click=_try, args=(name,))
    result = st.session_state.get("what-if-result")
    if result is not None and result[0] is found and result[1] == name:
        st.image(
            result[3],
            width=640,
            caption="Cases by standing along the values; the same numbers stand in the table below.",
        )
        st.dataframe(result[2], hide_index=True, alt="Cases by standing for each value")


@safely
def _try(name: str) -> None:
    found: Run = st.session_state["cohort-run"]
    typed = [
        part.strip()
        for part in desk().kept.get("what-if-values", "30, 35, 40, 45").split(",")
        if part.strip()
    ]
    if not typed:
        raise CaseError([Problem(Code.EMPTY, "there is no value to try", field="values")])
    criterion, parameter = name.split(".")
    table, drawn = found.what_if(criterion, parameter, typed)
    st.session_state["what-if-result"] = (found, name, table, drawn)


def _other(found: Run) -> None:
    names = {n: t for n, t in rule_set_names().items() if n != found.cohort.rule_set.id}
    chosen = st.selectbox("Other rule set", list(names), key=kept_choice("cohort-other", next(iter(names)), list(names)),
                          format_func=names.__getitem__, on_change=keep, args=("cohort-other", "kept-cohort-other"))  # fmt: skip
    key = f"moves-{chosen}"
    if key not in found.frames:
        compared = other_rule_set(found, chosen)
        found.frames[key], found.frames[f"{key}-cases"] = compared.moves, compared.cases
    for part, words in (
        (key, "Who moves, and because of which criterion"),
        (f"{key}-cases", "Every case that moves"),
    ):
        st.subheader(words)
        _frame(found, part)


def _cases(found: Run) -> None:
    frame = found.frame("outcomes")
    shown = frame.head(_SHOWN_ROWS)
    if "standing" in shown:
        shown = shown.assign(standing=shown["standing"].map(lambda s: STANDINGS.get(s, s)))
    picked = st.dataframe(shown, hide_index=True, key="cohort-cases", on_select="rerun", selection_mode="single-row",
                          alt="Outcomes of every case").selection.rows  # fmt: skip
    if picked:
        hold("cohort-case", str(frame.iloc[picked[0]]["case_id"]))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        st.text_input("Case reference", key="cohort-case", width=260, max_chars=200)
        st.button("Open as the referral", key="cohort-open", on_click=_open)


@safely
def _open() -> None:
    found: Run = st.session_state["cohort-run"]
    reference = st.session_state["cohort-case"].strip()
    opened = found.cohort.open_case(reference)
    desk().open(opened.case.record, f"opened case {shorten(reference)} of the table")
    st.session_state["notice"] = (
        "Opened as the referral, with the same outcomes; undo brings the former one back."
    )
