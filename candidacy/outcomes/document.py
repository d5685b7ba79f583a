"""What was counted as plain data for text, page, JSON and screens, masked first where a threshold is given.

Unmasked, a count is a whole number. Masked, it is a text as `candidacy.cohort.answers.masking.masked` gives it: small ones
"<11", others rounded down, so that no subtraction, within a row or between tables, brings a small one back. A share rests on
exact counts, so it is then rounded to whole twentieths, and null where either of its parts is small.
"""

from typing import Any

from candidacy import __version__
from candidacy.cohort.answers.masking import masked
from candidacy.explain.cautions import GENERAL
from candidacy.explain.cited import cites_words
from candidacy.outcomes.change import Change
from candidacy.outcomes.checks import Watched
from candidacy.outcomes.counted import Outcomes, planned_days
from candidacy.outcomes.groups import Split
from candidacy.outcomes.intervals import (
    Proportion,
    difference,
    fall_of_the_chosen,
    number_needed,
    paired_difference,
)
from candidacy.outcomes.responding import FAILED, PENDING, UNKNOWN, Response
from candidacy.outcomes.survival import Ending
from candidacy.rules.outcome_files import ChosenHigh, PublishedResult, number_of

Shown = int | str
_ENDINGS: tuple[Ending, ...] = ("event", "death", "elsewhere", "seen_until")
# Shares beside masked counts are rounded to this.
STEP = 0.05
NO_GROUP = "no number needed: there is no comparison group, so no difference to invert"
INVENTED = "Demonstration data: records among these are invented and describe no real person."


def document(found: Outcomes, below: int) -> dict[str, Any]:
    """Everything that is told, with counts from 1 to ``below`` - 1 masked; 0 masks nothing."""
    responses = [_definition(found, each.id, below) for each in found.ordered]
    practice = found.practice
    return {
        "schema_version": "1",
        "program": f"candidacy {__version__}",
        "on": found.on.isoformat(),
        "name": practice.name,
        "digest": practice.digest,
        "visit": {"id": found.visit.id, "title": found.visit.title},
        "declared": found.declared,
        "declared_words": _declared(found),
        "mask_below": below,
        "mask_words": _mask_words(found, below),
        "patients": _patients(found, below),
        "of_ones_own": list(found.of_ones_own),
        "visits": [_visit(found, visit.id, visit.title, below) for visit in found.content.visits.visits],
        "definitions": responses,
        "published": [_published(each) for each in found.responders.published],
        "changes": [_change(change, below) for change in found.changes],
        "later": _later(found, below),
        "rule_sets": [f"{each.id} {each.file.version}" for each in found.again.rule_sets.values()],
        "assessed_again": [_patients_said(words, count, below) for words, count in found.again.told],
        "groups": _groups(found, below),
        "checks": [_check(watched, below) for watched in found.watched],
        "told": [] if below else [{"reference": reference, "words": words} for reference, words in found.told],
        "set_aside": [] if below else [{"file": each.file, "words": each.words} for each in practice.set_aside],
        "not_counted": [] if below else list(practice.told),
        "cautions": [*found.running.cautions, _chosen_high(found.running.chosen_high), *([INVENTED] if practice.invented else []),
                     *GENERAL[:2]],
    }  # fmt: skip


def _declared(found: Outcomes) -> str:
    if found.declared:
        return (
            f"Named as declared beforehand: {found.definitions[found.declared].title}. The program cannot know when it was chosen. "
            "The others are shown beside it."
        )
    return "No definition was declared beforehand, so all stand equal; choosing one now, with the results in sight, would mislead."


def _mask_words(found: Outcomes, below: int) -> str:
    if not below:
        return "Nothing is masked: for those who may see single patients."
    source = cites_words(found.running.mask_below.cites)
    return (
        f"Counts from 1 to {below - 1} are shown as <{below}, others rounded down to a multiple of {below}, and shares rounded to "
        f"{STEP:.0%} ({source}). Masking makes re-identification harder; it does not make counts anonymous, least of all beside other tables."
    )


def _patients(found: Outcomes, below: int) -> dict[str, Shown]:
    practice = found.practice
    treated, out, none, aside = (
        len(practice.treated), len(practice.kept_out), len(practice.not_injected), len(practice.set_aside),
    )  # fmt: skip
    notices = sum(bool(patient.notices) for patient in practice.patients)
    return {
        "treated": _count(treated, below),
        "kept_out": _count(out, below),
        "without_injection": _count(none, below),
        "with_notices": _count(notices, below),
        "files_set_aside": aside,
        "first": "" if below or not treated else practice.treated[0].injected.isoformat(),  # type: ignore[union-attr]
        "last": "" if below or not treated else practice.treated[-1].injected.isoformat(),  # type: ignore[union-attr]
    }


def _patients_said(words: str, count: int, below: int) -> str:
    return words.format(f"{_count(count, below)} patient{'s' if below or count != 1 else ''}")


def _count(count: int, below: int) -> Shown:
    return masked(count, below) if below else count


def _small(below: int, *counts: int) -> bool:
    return any(0 < count < below for count in counts)


def _share(proportion: Proportion, below: int, exact: bool = False) -> dict[str, float] | None:
    """A share with its interval; nothing of nobody, and nothing that would tell of a small count."""
    if proportion.share is None or proportion.interval is None:
        return None
    if _small(below, proportion.yes, proportion.of - proportion.yes):
        return None
    found = {"share": proportion.share, "low": proportion.interval.low, "high": proportion.interval.high}
    if exact and proportion.exact is not None:
        found |= {"exact_low": proportion.exact.low, "exact_high": proportion.exact.high}
    return {name: round(round(each / STEP) * STEP, 2) for name, each in found.items()} if below else found


def counts_of(found: Response, below: int) -> dict[str, Any]:
    """The counts of one response: known answers, what the others are, and the shares."""
    bounded = not _small(below, found.unknown)
    return {
        "responded": _count(found.responded, below),
        "not_responded": _count(sum(found.counts[each] for each in FAILED), below),
        "of_whom_died": _count(found.counts["died"], below),
        "unknown": _count(found.unknown, below),
        "pending": _count(found.pending, below),
        "parts": {name: _count(found.counts[name], below) for name in (*UNKNOWN, *PENDING)},
        "known": _count(found.known, below),
        "people": _count(found.people, below),
        "complete": _share(found.complete, below, exact=True),
        "worst": _share(found.worst, below) if bounded else None,
        "best": _share(found.best, below) if bounded else None,
    }


def _published(result: PublishedResult) -> dict[str, Any]:
    """A result with, where both groups were read, their difference and the number needed: there is a comparison group."""
    told: dict[str, Any] = {
        "words": result.words,
        "note": result.note,
        "cites": cites_words(result.cites),
        "difference": "",
    }
    if result.treated and result.control:
        share, interval = difference(*result.treated, *result.control)
        told["difference"] = (
            f"difference {share:.1%} ({interval.low:.1%} to {interval.high:.1%}), {number_needed(share, interval)}, derived"
        )
    return told


def _chosen_high(example: ChosenHigh) -> str:
    fall = fall_of_the_chosen(example.mean, example.spread, example.reliability, example.cut)
    return example.words.replace("{fall}", f"{fall:.1f}")


def _lasting(found: Outcomes, name: str, below: int) -> dict[str, Any] | None:
    """Response at the planned visit before against this one, in the same patients; nothing where a count is small or none is."""
    earlier, counts = found.lasting(name)
    if earlier is None or not sum(counts) or _small(below, *counts):
        return None
    share, interval = paired_difference(*counts)
    told = dict(
        zip(
            ("both", "only_earlier", "only_now", "neither"),
            (_count(each, below) for each in counts),
            strict=True,
        )
    )
    rounded = [round(round(each / STEP) * STEP, 2) if below else each for each in (share, *interval)]
    return {"visit": earlier, **told, **dict(zip(("difference", "low", "high"), rounded, strict=True))}


def _definition(found: Outcomes, name: str, below: int) -> dict[str, Any]:
    asked = found.definitions[name]
    why = found.countable(name)
    told = {
        "id": name, "title": asked.title, "note": asked.note, "cites": cites_words(asked.cites), "declared": name == found.declared,
        "visits": list(asked.at or (found.at,)), "not_counted": why,
    }  # fmt: skip
    if why:
        return told | {"counts": None, "one_sided": 0, "lasting": None, "number_needed": NO_GROUP}
    sided = found.one_sided(name)
    return told | {
        "counts": counts_of(found.response(name), below),
        "one_sided": _count(sided, below),
        "lasting": _lasting(found, name, below),
        "number_needed": NO_GROUP,
    }


def _visit(found: Outcomes, name: str, title: str, below: int) -> dict[str, Any]:
    states = found.states(name)
    return {
        "id": name,
        "title": title,
        "states": {state: _count(count, below) for state, count in states.items()},
    }


def _change(change: Change, below: int) -> dict[str, Any]:
    enough = change.pairs >= below
    bars = []
    for bar in change.bars:
        bars.append({
            "kind": bar.kind, "row": bar.key, "words": bar.words, "cites": bar.cites, "in_use": bar.in_use,
            "reached": _count(bar.reached.yes, below), "share": _share(bar.reached, below),
        })  # fmt: skip
    within = change.important_within_error
    return {
        "measure": change.measure.id, "ask": change.measure.ask, "unit": change.measure.unit, "pairs": _count(change.pairs, below),
        "mean": _rounded(change.mean, below) if enough else None, "spread": _rounded(change.spread, below) if enough else None,
        "bars": bars,
        "important_within_error": None if within is None else _count(within, below),
    }  # fmt: skip


def _rounded(number: float | None, below: int) -> float | None:
    return round(number, 1) if below and number is not None else number


def _later(found: Outcomes, below: int) -> dict[str, Any]:
    later = found.later
    endings = {name: later.count(name) for name in _ENDINGS}
    told: dict[str, Any] = {
        "endings": {name: _count(count, below) for name, count in endings.items()}, "until_days": later.until, "unclear": _count(later.unclear, below), "times": [], "cumulative": None,
        "median_days": None, "masked": bool(below),
    }  # fmt: skip
    if told["masked"]:
        return told
    for visit in found.content.visits.visits:
        days = planned_days(visit)
        free = later.curve.known_at(days)
        interval = later.curve.interval_at(days) if free is not None else None
        told["times"].append({
            "id": visit.id, "title": visit.title, "days": days, "free": free,
            "low": interval.low if interval else None, "high": interval.high if interval else None,
            "at_risk": _count(later.curve.at_risk(days), below),
        })  # fmt: skip
    told["cumulative"] = dict(later.by)
    told["median_days"] = later.curve.median
    return told


def _groups(found: Outcomes, below: int) -> list[dict[str, Any]]:
    names = [found.declared] if found.declared else [each.id for each in found.responders.definitions]
    countable = [name for name in names if not found.countable(name)]
    told = []
    for kind, splits in (
        ("standing", (found.standings,)),
        ("outcome", found.outcomes),
        ("value", found.values),
    ):
        for split in splits:
            told.append({
                "kind": kind, "criterion": split.criterion, "title": split.title, "parameter": split.parameter,
                "limits": list(split.limits), "in_use": split.in_use, "unit": split.unit,
                "by_definition": [{"definition": name, "title": found.definitions[name].title,
                                   "groups": grouped(found, split, name, below)} for name in countable],
            })  # fmt: skip
    return told


def grouped(found: Outcomes, split: Split, definition: str, below: int) -> list[dict[str, Any]]:
    """The groups of a division with their counts."""
    return [
        {
            "group": name,
            "responded": _count(response.responded, below),
            "known": _count(response.known, below),
            "without_answer": _count(response.unknown + response.pending, below),
            "complete": _share(response.complete, below),
        }
        for name, response in found.grouped(split, definition)
    ]


def _check(watched: Watched, below: int) -> dict[str, Any]:
    check = watched.check
    of = len(watched.happened)
    return {
        "id": check.id, "title": check.title, "note": check.note, "expected": watched.expected,
        "expected_cites": cites_words(check.expected.cites), "ratio": number_of(check.ratio), 
        "count": _count(watched.count, below), "of": _count(of, below), "not_counted": {} if below else watched.not_counted,
        "limit": watched.run.limit, "signal": watched.signal, "words": watched.words,
        "signals_at": [] if below else list(watched.run.signals), "quarters_outside": [] if below else list(watched.outside),
        "line": [] if below else list(watched.run.line), "excess": [] if below else list(watched.run.excess),
        "observed_over_expected": {"ratio": watched.ratio[0], "low": watched.ratio[1].low, "high": watched.ratio[1].high}
        if watched.ratio and not below else None,
        "chance": None if below else watched.chance,
        "quarters": [] if below else [
            {"quarter": p.name, "count": p.count, "of": p.of, "low": p.limits.low, "alert": p.limits.alert, "alarm": p.limits.alarm}
            for p in watched.points
        ],
    }  # fmt: skip
