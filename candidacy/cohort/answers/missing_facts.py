"""Which missing facts hold a cohort up, and how many cases each would settle."""

from typing import Any

from candidacy.case.catalogue import catalogue
from candidacy.case.element import LEVELS
from candidacy.cohort.columns.conditions import ColumnarCriterion
from candidacy.cohort.columns.fact_columns import Wanted
from candidacy.cohort.columns.query import ColumnarEvaluation, passes_column
from candidacy.cohort.columns.standings import RECORD
from candidacy.cohort.engines import sqltext as sql
from candidacy.foundation.changed_copy import replace


def missing_ranking(evaluation: ColumnarEvaluation) -> list[dict[str, Any]]:
    """Missing facts, ranked by how many cases each would settle, then by how many wait for it.

    Returns
    -------
    list
        Rows of ``element``, ``waiting`` (cases with an undetermined criterion, of a force that decides, that
        waits for it) and ``settles`` (cases of standing incomplete in which it is the one fact still
        missing). An exact answer settles such a case, unless the answer itself asks for more: by naming a
        disc of which little is known, or by making what is worked out from it not apply or stay imprecise.
        A fact of several discs counts once for each case in ``waiting``. Discs that are not considered for
        treatment wait for nothing here.
    """
    wants: dict[tuple[str, str], list[str]] = {}
    for want in _wanted(evaluation):
        wants.setdefault((want.element, want.subject), []).append(want.where)
    if not wants:
        return []
    columns = {key: f"wanted_{place}" for place, key in enumerate(sorted(wants))}
    wanted = {name: sql.any_of(wants[key]) for key, name in columns.items()}
    engine = evaluation.frame.engine
    # a record that contradicts itself stays incomplete whatever else is answered
    record = evaluation.grounds("").get(RECORD)
    settled = f"NOT {record.fails}" if record is not None else sql.TRUE
    facts = f"{sql.count_true(columns.values())} AS facts"
    chosen = ["standing", f"{settled} AS agrees", facts, *columns.values()]
    waits = f"{evaluation.prefix}_waits"
    evaluation.hold_as(waits, chosen, wanted)
    by_element: dict[str, list[str]] = {}
    for (element, _), name in columns.items():
        by_element.setdefault(element, []).append(name)
    sums = []
    for names in by_element.values():
        some = sql.any_of(names)
        sums.append(sql.rows_with(some))
        sums.append(sql.rows_with(f"{some} AND facts = 1 AND agrees AND standing = 'incomplete'"))
    counts = engine.rows(f"SELECT {', '.join(sums)} FROM {waits}")[0]
    rows = []
    for place, element in enumerate(by_element):
        waiting, settles = counts[2 * place : 2 * place + 2]
        known = catalogue().get(element)
        label = element.replace("_", " ")
        if waiting:
            rows.append(
                {
                    "element": element,
                    "label": label,
                    "ask": known.ask or label if known else f"Complete list of {label}",
                    "burden": known.burden if known else "question",
                    "waiting": waiting,
                    "settles": settles,
                }
            )
    return sorted(rows, key=lambda row: (-row["settles"], -row["waiting"], row["element"]))


def _open(criterion: ColumnarCriterion) -> str:
    return f"({passes_column(criterion)} IS NULL)"


def _wanted(evaluation: ColumnarEvaluation) -> list[Wanted]:
    found, define = [], evaluation.shelf.define
    for criterion in evaluation.patient:
        if criterion.resolved.force != "advisory":
            found += list(criterion.missing(_open(criterion), define))
    for level, criteria in evaluation.discs.items():
        place = LEVELS.index(level)
        here = f"(named_{place} AND considered_{place} IS NOT FALSE)"
        for criterion in criteria:
            if criterion.resolved.force != "advisory":
                found += [
                    replace(want, where=sql.all_of((here, want.where)))
                    for want in criterion.missing(_open(criterion), define)
                ]
    return found
