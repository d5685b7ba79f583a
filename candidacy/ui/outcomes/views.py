"""The lower half of the page: what was counted, one view at a time. It shows the document and computes nothing."""

from collections.abc import Callable
from typing import Any

import streamlit as st
from msgspec import Struct

from candidacy.explain.wording import listed
from candidacy.outcomes.counted import Outcomes
from candidacy.outcomes.figures import Figure, figures_of
from candidacy.outcomes.responding import ANSWERS
from candidacy.outcomes.text import at_least, group_words, percent
from candidacy.outcomes.visits import STATES
from candidacy.outcomes.writing import json_of, registry_csv, tables_of
from candidacy.ui import show
from candidacy.ui.exports import Export, downloads
from candidacy.ui.session import keep, kept_choice


class Shown(Struct, frozen=True):
    """What is counted, and its document as it may be shown."""

    found: Outcomes
    told: dict[str, Any]
    below: int


def views(shown: Shown) -> None:
    """Draw what is said of all of it, and the chosen view."""
    told, people = shown.told, shown.told["patients"]
    when = f", {people['first']} to {people['last']}" if people["first"] else ""
    lines = [
        f"{at_least(people['treated'])} patients with a session that is counted{when}; seen as of {told['on']}, at {told['visit']['title'].lower()}."
    ]
    if str(people["kept_out"]) != "0":
        lines.append(f"{people['kept_out']} kept out until what does not fit in their records is resolved.")
    if people["files_set_aside"]:
        lines.append(f"{people['files_set_aside']} files set aside; the others are counted.")
    if told["of_ones_own"]:
        lines.append(f"Of one's own, in the place of shipped content: {', '.join(told['of_ones_own'])}.")
    show.put("outcomes_head.html", lines=lines, mask=told["mask_words"], declared=told["declared_words"])
    chosen = st.segmented_control("Result", list(_VIEWS), key=kept_choice("outcomes-view", "Response", list(_VIEWS)), on_change=keep,
                                  args=("outcomes-view", "kept-outcomes-view"), required=True, label_visibility="collapsed")  # fmt: skip
    _VIEWS[chosen or "Response"](shown)
    show.put("cautions.html", cautions=dict.fromkeys(told["cautions"]))


def _figures(shown: Shown, *beginnings: str) -> None:
    for figure in _named(shown, beginnings):
        st.image(figure.draw("png"), width=760, alt=f"{figure.title}. {figure.words}")
        show.note(f"{figure.title}. {figure.words}")


def _named(shown: Shown, beginnings: tuple[str, ...]) -> list[Figure]:
    return [each for each in figures_of(shown.found, shown.told) if each.name.startswith(beginnings)]


def _others(counts: dict[str, Any]) -> str:
    parts = [f"{count} {ANSWERS[name]}" for name, count in counts["parts"].items() if str(count) != "0"]
    if str(counts["of_whom_died"]) != "0":
        parts.insert(0, f"{counts['of_whom_died']} died, counted as no response")
    return "; ".join(parts)


def _response(shown: Shown) -> None:
    rows = []
    for each in shown.told["definitions"]:
        title, counts = f"{each['title']}{' (declared)' if each['declared'] else ''}", each["counts"]
        if counts is None:
            rows.append([title, "", "", f"not counted: {each['not_counted']}", "", "", "", each["cites"]])
        else:
            rows.append([title, counts["responded"], counts["known"], percent(counts["complete"]), percent(counts["worst"]),
                         percent(counts["best"]), _others(counts), each["cites"]])  # fmt: skip
    show.put("counts.html", head="Response, definition by definition: share of known answers with a Wilson interval at 95 %; worst and "
             "best count every missing answer as no response and as a response", rows=rows, numbers=[1, 2], narrow=False,
             columns=["Definition", "Responded", "Known", "Share", "Worst", "Best", "Of the others", "Source"])  # fmt: skip
    show.note("No number needed to treat is given: there is no comparison group.")
    _figures(shown, "responses")
    show.put("outcomes_published.html", rows=shown.told["published"])
    visits = [[v["title"], *v["states"].values()] for v in shown.told["visits"]]
    show.put("counts.html", head="Visits", columns=["Visit", *STATES.values()], rows=visits, narrow=False,
             numbers=list(range(1, len(STATES) + 1)))  # fmt: skip


def _change(shown: Shown) -> None:
    if not shown.told["changes"]:
        show.note("Nobody has a measure both before the injection and at this visit.")
    for change in shown.told["changes"]:
        unit = f" {change['unit']}" if change["unit"] else ""
        mean = f"; mean improvement {change['mean']:.1f}{unit}" if change["mean"] is not None else ""
        spread = f", SD {change['spread']:.1f}" if change["spread"] is not None else ""
        rows = [
            [
                f"{b['words']}{' (in use)' if b['in_use'] else ''}",
                b["reached"],
                percent(b["share"]),
                b["cites"],
            ]
            for b in change["bars"]
        ]
        show.put("counts.html", head=f"{change['ask']}: {change['pairs']} with both values{mean}{spread}", rows=rows, narrow=False,
                 columns=["Improved by", "Reached", "Share", "Source"], numbers=[1])  # fmt: skip
        if change["important_within_error"] is not None:
            show.note(
                f"Called important and yet within error, by the rows in use: {change['important_within_error']}."
            )
    _figures(shown, "improvement")


def _later(shown: Shown) -> None:
    later, ends = shown.told["later"], shown.told["later"]["endings"]
    show.note(
        f"{ends['event']} had a later intervention at a treated disc; before that {ends['death']} died and {ends['elsewhere']} had "
        f"surgery of another level; {ends['seen_until']} were followed without one."
    )
    if later["masked"]:
        show.note("The curve is not shown while small counts are masked: it would give them away.", "notice")
        return
    rows = []
    for each in later["times"]:
        interval = f"{each['low']:.0%} to {each['high']:.0%}" if each["low"] is not None else ""
        rows.append(
            [
                each["title"],
                "not known" if each["free"] is None else f"{each['free']:.1%}",
                interval,
                each["at_risk"],
            ]
        )
    by = later["cumulative"]
    show.put("counts.html", head="Without a later intervention at a treated disc (Kaplan-Meier, log-log interval at 95 %)", rows=rows,
             narrow=True, columns=["At", "Without one", "Interval", "At risk"], numbers=[1, 2, 3])  # fmt: skip
    show.note(
        f"By day {later['until_days']}, where endings compete: intervention {by['event']:.1%}, death {by['death']:.1%}, surgery of "
        f"another level {by['elsewhere']:.1%}. Interventions without level and reason, counted as at a treated disc: {later['unclear']}."
    )
    _figures(shown, "later")


def _by_criterion(shown: Shown) -> None:
    told = shown.told
    if not told["declared"]:
        show.note(
            "Choose the definition that was declared beforehand; without one, no response by criterion is shown here."
        )
        return
    rules = listed(told["rule_sets"], "and") or "no rule set"
    show.note(
        f"Assessments made again under {rules}, as of the recorded days. {'. '.join(told['assessed_again'])}"
    )
    for group in told["groups"]:
        if not group["by_definition"]:
            show.note("The declared definition cannot be counted here.")
            return
        limit = (
            f", {group['parameter'].replace('_', ' ')} {group['in_use']:g} {group['unit']}"
            if group["parameter"]
            else ""
        )
        rows = [[g["group"], group_words(g)] for g in group["by_definition"][0]["groups"]]
        show.put(
            "counts.html",
            head=f"{group['title']}{limit}",
            columns=["Group", "Responded"],
            rows=rows,
            narrow=False,
            numbers=[],
        )


def _checks(shown: Shown) -> None:
    for check in shown.told["checks"]:
        st.subheader(check["title"])
        ratio = check["observed_over_expected"]
        over = (
            f" Observed over expected {ratio['ratio']:.1f} ({ratio['low']:.2f} to {ratio['high']:.2f})."
            if ratio
            else ""
        )
        show.note(
            f"{check['count']} of {check['of']}; expected {check['expected']:.1%} ({check['expected_cites']}).{over}"
        )
        show.note(check["words"], "notice" if check["signal"] else "soft")
        if check["not_counted"]:
            show.note(
                "Not counted: "
                + "; ".join(f"{count} {why}" for why, count in check["not_counted"].items())
                + "."
            )
        show.note(check["note"])
        _figures(shown, f"running_{check['id']}", f"funnel_{check['id']}")


def _records(shown: Shown) -> None:
    told = shown.told
    if shown.below:
        show.note(
            "References and what does not fit in single records are hidden while small counts are masked.",
            "notice",
        )
        return
    rows = [[each["file"], each["words"]] for each in told["set_aside"]]
    if rows:
        show.put("counts.html", head="Files set aside; nothing of them is counted", columns=["File", "Why"], rows=rows, narrow=False,
                 numbers=[])  # fmt: skip
    rows = [[each["reference"], each["words"]] for each in told["told"]]
    if rows:
        show.put("counts.html", head="What does not fit, and is kept out of what it touches", columns=["Patient", "What"], rows=rows,
                 narrow=False, numbers=[])  # fmt: skip
    for words in told["not_counted"]:
        show.note(words)
    if not (told["set_aside"] or told["told"] or told["not_counted"]):
        show.note("Every record fits.")


def _files(shown: Shown) -> None:
    mark = "-masked" if shown.below else ""
    told, found = shown.told, shown.found
    files = [Export("All of it (JSON)", f"outcomes{mark}.json", "application/json", lambda: json_of(told))]
    files += [
        Export(f"Table of {name} (CSV)", f"outcomes-{name}{mark}.csv", "text/csv", lambda name=name: tables_of(told)[name])  # type: ignore[misc]
        for name in ("responses", "visits", "groups", "changes")
    ]  # fmt: skip
    downloads(files, width="content")
    if shown.below:
        show.note(
            "The registry table names patients; it can be taken away where small counts are not masked."
        )
        return
    show.note(
        "The registry table has one row for each patient with the reference as given; nothing in it is masked.",
        "notice",
    )
    downloads(
        [
            Export("Registry table (CSV)", "registry.csv", "text/csv", lambda: registry_csv(found)[0]),
            Export("Registry table, dates as days from the injection (CSV)", "registry-days.csv", "text/csv",
                   lambda: registry_csv(found, True)[0]),
            Export("Data dictionary (CSV)", "dictionary.csv", "text/csv", lambda: registry_csv(found)[1]),
            Export("Data dictionary of the table with days (CSV)", "dictionary-days.csv", "text/csv",
                   lambda: registry_csv(found, True)[1]),
        ],
        width="content",
    )  # fmt: skip


_VIEWS: dict[str, Callable[[Shown], None]] = {
    "Response": _response,
    "Change": _change,
    "Later interventions": _later,
    "By criterion": _by_criterion,
    "Running checks": _checks,
    "Records": _records,
    "Files": _files,
}
