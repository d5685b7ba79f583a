"""Tables on the desk: added, removed, and brought back after a removal."""

from typing import Any

import streamlit as st

from candidacy.foundation.shipped import demo_cases_folder
from candidacy.ui.cohort.setup import CASES, Setup, Table, uploaded
from candidacy.ui.session import desk

_REMEMBERED = (
    "cohort-tables",
    "cohort-mapping",
    "cohort-part-",
    "cohort-delimiter",
    "cohort-run",
    "cohort-samples",
)
_MOST_FORMER = 3


def present() -> Setup:
    """What lies on the desk now."""
    kept = desk().kept
    tables: dict[str, Table] = kept.get("cohort-tables", {})
    parts = {
        slot: str(kept.get(f"cohort-part-{slot}", "")).strip() for slot in tables if tables[slot].in_parts
    }
    delimited = any(table.delimited for table in tables.values())
    return Setup(
        tables=tables, parts={slot: part for slot, part in parts.items() if part},
        delimiter=kept.get("cohort-delimiter", "") if delimited else "", mapping=kept.get("cohort-mapping", ""),
    )  # fmt: skip


def add(slot: str, name: str, content: bytes | memoryview) -> None:
    """Put an upload on the desk; one that held the same before can be brought back."""
    tables = dict(present().tables)
    if slot in tables:
        remember(f"{tables[slot].name} replaced")
    tables[slot] = uploaded(slot, name, content)
    _put(tables)


def add_demonstration() -> None:
    """Take the folder of demonstration cases instead of everything else."""
    if present().tables:
        remember("tables replaced by the demonstration cases")
    _clear()
    _put({CASES: Table(demo_cases_folder(), "demonstration cases, all invented")})


def remove(slot: str) -> None:
    """Take one table off the desk; with the last one go the results."""
    tables = dict(present().tables)
    remember(f"{tables[slot].name} removed")
    del tables[slot]
    if tables:
        _put(tables)
    else:
        _clear()


def remove_all() -> None:
    """Take everything off the desk, results included."""
    remember("all tables removed")
    _clear()


def remember(label: str) -> None:
    """Keep the present state, so that it can be brought back."""
    kept = desk().kept
    state = {key: kept[key] for key in kept if key.startswith(_REMEMBERED)}
    kept["cohort-former"] = [*kept.get("cohort-former", []), (label, state)][-_MOST_FORMER:]


def last_removal() -> str:
    """What the last remembered change did; empty where there is none."""
    former = desk().kept.get("cohort-former", [])
    return former[-1][0] if former else ""


def bring_back() -> None:
    """Return to the state before the last remembered change."""
    kept = desk().kept
    former: list[tuple[str, dict[str, Any]]] = kept.get("cohort-former", [])
    if former:
        _clear()
        kept.update(former[-1][1])
        kept["cohort-former"] = former[:-1]


def _put(tables: dict[str, Table]) -> None:
    desk().kept["cohort-tables"] = tables
    desk().kept.pop("cohort-refused", None)
    # fresh uploaders let go of what they hold in memory
    st.session_state["cohort-uploads"] = st.session_state.get("cohort-uploads", 0) + 1


def _clear() -> None:
    kept = desk().kept
    for key in [key for key in kept if key.startswith((*_REMEMBERED, "cohort-refused"))]:
        del kept[key]
    job = kept.pop("cohort-job", None)
    if job is not None:
        job.give_up()
    st.session_state["cohort-uploads"] = st.session_state.get("cohort-uploads", 0) + 1
