"""What if: cases by standing for values of one parameter, or of two."""

import streamlit as st

from candidacy.rules.resolved import ResolvedCriterion, ResolvedParameter
from candidacy.ui import show
from candidacy.ui.cohort.archive import csv_text
from candidacy.ui.cohort.run import Run
from candidacy.ui.cohort.shown import counts_table, masked_counts, table_downloads
from candidacy.ui.cohort.tried import FORMS, Tried, Wanted, sign_between, start_values
from candidacy.ui.exports import Export
from candidacy.ui.session import keep, kept_choice, told_here

_NONE = ""
_NO_UNIT = (None, "", "1")
_STARTS_WITH = "body_mass_index_limit.bmi_upper_limit"


def what_if(run: Run, below: int) -> None:
    """Draw the view."""
    show.note(
        "Each value is tried as a local trial of the rule set of these results; the shipped rule set is never changed."
    )
    # limits of emergencies come last: they are the least fit to be tried
    ordered = sorted(run.cohort.rule_set.criteria, key=lambda item: item.force == "stop")
    items = {
        f"{item.id}.{name}": (item, parameter)
        for item in ordered
        for name, parameter in item.parameters.items()
    }
    if not items:
        show.note("This rule set has no parameter.")
        return
    names = sorted(items, key=lambda name: name != _STARTS_WITH)
    first = _parameter("Parameter", "what-if", items, names)
    others = [_NONE, *(name for name in items if name != first.key)]
    second = _parameter("Second parameter, if wanted", "what-if-second", items, others)
    if st.button("Try them", key="what-if-go"):
        with (
            told_here("Refused; nothing was tried"),
            st.spinner("Reading every case at each value", show_time=True),
        ):
            run.try_values([each for each in (first, second) if each.criterion])
    if run.tried is not None:
        _outcome(run, run.tried, below)


def _parameter(
    words: str, key: str, items: dict[str, tuple[ResolvedCriterion, ResolvedParameter]], names: list[str]
) -> Wanted:
    with st.container(horizontal=True, vertical_alignment="bottom"):
        name = st.selectbox(words, names, key=kept_choice(key, names[0], names), on_change=keep, args=(key, f"kept-{key}"),
                            width=520, format_func=lambda n: _words(*items[n]) if n else "none")  # fmt: skip
        if not name:
            return Wanted("", "", "")
        item, parameter = items[name]
        values = f"{key}-values-{name}"
        sign = "semicolons between" if sign_between(parameter) == ";" else f"as {FORMS}"
        unit = f" ({parameter.unit})" if parameter.unit not in _NO_UNIT else ""
        typed = st.text_input(f"Values{unit}, {sign}", key=kept_choice(values, start_values(parameter)), on_change=keep,
                              args=(values, f"kept-{values}"), max_chars=400, width=360)  # fmt: skip
    show.put("parameter.html", p=parameter)
    return Wanted(item.id, parameter.name, typed)


def _words(item: ResolvedCriterion, parameter: ResolvedParameter) -> str:
    return f"{item.criterion.title}: {parameter.declared.meaning}"


def _outcome(run: Run, tried: Tried, below: int) -> None:
    values = {name: _title(run, name) for name in tried.names}
    mark = "-masked" if below else ""
    files = [
        Export("What if (CSV)", f"cohort-what-if{mark}.csv", "text/csv",
               lambda: csv_text(masked_counts(tried.frame, below, tried.names)))
    ]  # fmt: skip
    if below:
        show.note("The plot is not drawn while counts are masked: its lines would show them.")
    else:
        st.image(
            run.plot("png"),
            width=760,
            alt="Cases by standing along the values tried; the same numbers stand in the table below.",
        )
        files += [Export("Plot (SVG)", "cohort-what-if.svg", "image/svg+xml", lambda: run.plot("svg")),
                  Export("Plot (PNG)", "cohort-what-if.png", "image/png", lambda: run.plot("png"))]  # fmt: skip
    counts_table(
        tried.frame,
        "Cases by standing for each value",
        {**values, **run.cohort.rule_set.decisions.counted},
        below,
        tried.names,
        narrow=True,
    )
    table_downloads(files)


def _title(run: Run, name: str) -> str:
    criterion, _, parameter = name.partition(".")
    item = run.cohort.rule_set.criterion(criterion)
    found = item.parameters[parameter]
    return f"{_words(item, found)}{f' ({found.unit})' if found.unit not in _NO_UNIT else ''}"
