"""The head line of every page: which referral, which rule set, which day; open, export, undo."""

import streamlit as st

from candidacy.case.edit import empty_record, with_header
from candidacy.case.load import load_case, parse_case
from candidacy.case.record import CaseRecord
from candidacy.case.typed_usual import usual_day
from candidacy.foundation.dates import DateError, day
from candidacy.foundation.errors import CaseError, Code, Problem, shorten
from candidacy.foundation.files import text_from_bytes
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import library_in_use
from candidacy.ui import show
from candidacy.ui.documents import source_menu
from candidacy.ui.exports import Export, case_exports, export_menu
from candidacy.ui.not_counted import not_counted
from candidacy.ui.session import desk, forget, hold, keep_now, menu_moved, safely, told

MAX_CASE_MB = 4


def bar(extra: list[Export] | None = None, *, with_rules: bool = True) -> None:
    """Draw the head line, and what was refused or told since the last run."""
    record = desk().record
    with st.container(horizontal=True, vertical_alignment="center", key="bar"):
        rules = desk().rule_set() if with_rules else None
        show.put("case_line.html", record=record, as_of=desk().as_of().isoformat(), trial=rules.trial if rules else (),
                 replaced=rules.own_words if rules else ())  # fmt: skip
        if with_rules:
            _rules()
        _case_menu(record)
        source_menu(record)
        export_menu([*case_exports(), *(extra or [])], [line.words for line in not_counted(desk())])
        refused = list(desk().drafts.values())
        steps, at = desk().steps, desk().at
        back = f"Drops the refused text “{refused[-1].text}”" if refused else f"Takes back: {steps[at].label}"
        st.button("Undo", key="undo", on_click=_undo, disabled=not refused and at == 0, shortcut="Alt+Z", width="content",
                  help=show.label(shorten(back, 200)) if refused or at else None)  # fmt: skip
        st.button("Redo", key="redo", on_click=_redo, disabled=desk().at == len(desk().steps) - 1, shortcut="Alt+Y",
                  width="content")  # fmt: skip
        keeper = keep_now()
        if keeper is not None and keeper.words:
            show.put_beside("kept.html", words=keeper.words, failed=keeper.failed)
    messages()


def messages() -> None:
    """What was told, refused or failed since the last run; it stays in sight, however far down the button was that brought it."""
    notice, refused, fault = told("notice"), told("refused"), told("fault")
    if not (notice or refused or fault):
        return
    with st.container(key="told"):
        if notice:
            show.note(notice, "notice")
        if refused:
            show.problems(refused, "Refused; nothing was changed")
        if fault:
            show.note(
                "E901 The program failed at the last action. Nothing that was entered before is lost.",
                "alarm",
            )


@safely
def _undo() -> None:
    desk().undo()


@safely
def _redo() -> None:
    desk().redo()


def _rules() -> None:
    names = rule_set_names()
    key = "kept-rules"
    hold(key, desk().rules)
    st.selectbox("Rule set", list(names), key=key, format_func=names.__getitem__, on_change=_choose_rules,
                 label_visibility="collapsed", width=250)  # fmt: skip


@safely
def _choose_rules() -> None:
    desk().rules = st.session_state["kept-rules"]


def rule_set_names() -> dict[str, str]:
    """Title and version of each rule set, by id, one's own first."""
    return {name: _rule_set_title(name) for name in library_in_use().rule_set_names()}


def _rule_set_title(name: str) -> str:
    file = desk().rule_set(name, trial=False).file
    return f"{file.title} {file.version} ({file.status.replace('_', ' ')})"


# --- open, and what the referral is called


def _case_menu(record: CaseRecord) -> None:
    with st.popover("Referral", width="content", key="case-menu", on_change=menu_moved) as menu:
        if not menu.open:
            return
        st.markdown("**Open another referral** (undo brings this one back)")
        files = {file.stem: file for file in sorted(demo_cases_folder().glob("*.yaml"))}
        if files:
            st.selectbox("Demonstration case (all invented)", list(files), index=None, key="demo", on_change=_open_demo,
                         placeholder="choose", format_func=lambda stem: stem.replace("-", " "))  # fmt: skip
        count = st.session_state.get("uploads", 0)
        st.file_uploader("Case file (YAML or JSON)", key=f"case-file-{count}", on_change=_open_upload, args=(count,),
                         max_upload_size=MAX_CASE_MB, help="Read in memory only; checked whole before it is opened.")  # fmt: skip
        with st.container(horizontal=True):
            st.button("Start empty", key="start-empty", on_click=_open_empty)
            st.button(
                "Close and forget",
                key="forget",
                on_click=forget,
                help="Drops this referral, its history and its reports, here and where they were saved.",
            )
        st.markdown("**This referral**")
        for name, text, limit in (("id", "Reference (no name, no record number)", 64), ("title", "Title", 200), ("as_of",
                                  "Assess as of (YYYY-MM-DD; empty: today)", 30)):  # fmt: skip
            key = f"head-{name}"
            value = getattr(record, name) or ""
            if st.session_state.get(f"{key}-refused") != desk().referral:
                hold(key, value)
            st.text_input(text, key=key, max_chars=limit, on_change=_rename, args=(name,))


@safely
def _rename(name: str) -> None:
    text = st.session_state[f"head-{name}"].strip()
    st.session_state[f"head-{name}-refused"] = (
        desk().referral
    )  # what was refused of it stays in the field, of no other
    try:
        if name == "as_of" and text:
            text, shown = usual_day(text) or (text, "")
            day(text)
            if shown:
                st.session_state["notice"] = f"Assessed as of {shown}."
        record = with_header(desk().record, **{name: (text or None) if name == "as_of" else text})
    except DateError as error:
        raise CaseError(
            [Problem(Code.BAD_DATE, str(error), field=name, found=shorten(text), expected="YYYY-MM-DD")]
        ) from None
    except ValueError:
        allowed = "1 to 64 letters, digits, points, hyphens and underscores, the first a letter or digit"
        raise CaseError(
            [Problem(Code.BAD_SCALAR, "not allowed", field=name, found=shorten(text), expected=allowed)]
        ) from None
    st.session_state[f"head-{name}-refused"] = None
    desk().take(record, f"{name.replace('_', ' ')}: {text or 'taken out'}")


@safely
def _open_demo() -> None:
    stem = st.session_state["demo"]
    if stem is not None:
        case = load_case(demo_cases_folder() / f"{stem}.yaml")
        desk().open(case.record, f"opened demonstration case {stem}")
        st.session_state["demo"] = None


@safely
def _open_upload(count: int) -> None:
    file = st.session_state[f"case-file-{count}"]
    if file is not None:
        st.session_state["uploads"] = count + 1
        case = parse_case(text_from_bytes(file.getvalue(), file.name), file.name)
        desk().open(case.record, f"opened case file {shorten(file.name)}")


@safely
def _open_empty() -> None:
    desk().open(empty_record(), "started an empty referral")
