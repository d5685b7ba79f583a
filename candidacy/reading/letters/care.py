"""Medicines, surgery, injections and treatments in one segment: an entry of its list, or the reason why not."""

from itertools import pairwise
from typing import Any

from candidacy.reading.letters.parts import Part, form_of
from candidacy.reading.letters.told import Said, Told, Where
from candidacy.reading.letters.words import words


def medicine(parts: list[Part], where: Where) -> Told | None:
    """A medicine that is taken, with dose, route, frequency and last dose where they are told."""
    drugs = [p for p in parts if p.role("medicines")]
    if not drugs:
        return None
    taken = where.verb == "taking" or any(p.role("taking") for p in parts)
    if where.section == "allergies":
        return Told(why="an allergy or intolerance for which there is no element")
    if len(drugs) > 1:
        return Told(why="several medicines run together")
    if not (taken or where.section == "medicines"):
        return Told(why="whether it is taken is not stated")
    agent = drugs[0].role("medicines").value  # type: ignore[union-attr]
    entry: dict[str, dict[str, Any]] = {"medicine_name": {"value": drugs[0].text}}
    if agent:
        entry["medicine_agent"] = {"value": agent}
    missed: list[Part] = []
    capped = several = False
    dated = any(p.role("last_dose") for p in parts)

    def put(element: str, form: dict[str, Any]) -> bool:
        fresh = element not in entry
        entry.setdefault(element, form)
        return fresh

    for n, p in enumerate(parts):
        if p is drugs[0] or p.role("taking") or p.role("last_dose"):
            continue
        fine = False
        count = _at_once(parts, n)
        if count:
            if count > 1 and parts[n + 1].text.lower() in words().data["in_all"]:
                return Told(why="how many are taken at once, or a day, is open")
            several, fine = several or count > 1, True
        elif p.kind == "strength" or (parts[n - 1] is drugs[0] and _is_bare_dose(p)):
            missed.append(p)
            fine = True
        elif p.role("quality") and p.role("quality").value == "current":  # type: ignore[union-attr]
            fine = True
        elif p.kind == "number" and p.unit in ("mg", "mcg") and not (p.bound or p.about):
            fine = put("medicine_dose", form_of(p, p.unit))
        elif (p.role("frequency") or p.role("route")) and p.start < drugs[0].start:
            return Told(why="how it is taken stands before the medicine")
        elif p.role("frequency"):
            value = p.role("frequency").value  # type: ignore[union-attr]
            fine = put("medicine_doses_per_day", {"value": float(value)}) if value else True
            if not value:
                missed.append(p)
        elif p.role("route"):
            fine = put("medicine_route", {"value": p.role("route").value})  # type: ignore[union-attr]
        elif p.role("as_needed"):
            fine = put("medicine_as_needed", {"value": True})
        elif p.role("results") and p.role("results").value in words().data["no_longer"]:  # type: ignore[union-attr]
            return Told(why="whether it is still taken is open")
        elif p.start > drugs[0].start and (p.role("results") or p.role("helped") or p.role("qualifiers")):
            missed.append(p)
            fine = True
        elif p.role("up_to"):
            fine = capped = True
        elif p.kind == "day" and dated and p.day != "no day":
            fine = put("medicine_last_dose_date", {"value": p.day})
        if not fine:
            return Told(why="not wholly understood")
    if dated and "medicine_last_dose_date" not in entry:
        return Told(why="when the last dose was taken is not understood")
    if several and "medicine_dose" in entry:  # the strength of one of them
        del entry["medicine_dose"]
        missed += [p for p in parts if p.unit in ("mg", "mcg")]
    if (capped or "medicine_as_needed" in entry) and "medicine_doses_per_day" in entry:
        entry["medicine_doses_per_day"] = {"at_most": entry["medicine_doses_per_day"]["value"]}
    return Told(entry=("medicines", entry), missed=tuple(missed))


def _at_once(parts: list[Part], n: int) -> int:
    """Give how many are taken at once where that stands before how often: ``two four times a day``; 0 where it is no such number."""
    if n + 1 >= len(parts) or not parts[n + 1].role("frequency"):
        return 0
    p = parts[n]
    if p.role("once") and p.text.lower() == "one":
        return 1
    if p.role("several") and p.text.lower() == "two":
        return 2
    return int(p.low) if p.kind == "number" and not p.unit and p.low == p.high and p.low < _DOSE else 0


def _is_bare_dose(part: Part) -> bool:
    """A dose without its unit, more than may be taken at once: ``naproxen 500 bd``."""
    return part.kind == "number" and not part.unit and not part.bound and part.low >= _DOSE


_DOSE = 5
"""Fewer may be a number of tablets."""


def _levels(parts: list[Part]) -> list[str] | None:
    found: list[str] = []
    for p in parts:
        role = p.role("discs")
        if role is not None:
            found += role.value
    return list(dict.fromkeys(found))


def is_past_care(part: Part) -> bool:
    """A word for an earlier time beside what was done for the pain: ``physiotherapy last year``."""
    return part.kind == "ago" or (
        part.role("stops") is not None and part.text.lower() in words().data["past_of_care"]
    )


_CALENDAR = ("day", "week", "month", "year")


def surgery(parts: list[Part], where: Where) -> Told | None:
    """Surgery of the lumbar spine, with its levels and date."""
    kinds = [p for p in parts if p.role("surgeries")]
    if not kinds:
        return None
    aside = [p for p in parts if any(p.role(n) for n in ("outcomes", "sides", "qualifiers"))]
    parts = [p for p in parts if p not in aside]
    levels = _levels(parts) or []
    dates = [p for p in parts if p.kind == "day"]
    lumbar = levels or any(p.role("lumbar") for p in parts)
    if not (
        where.section == "surgical"
        or where.verb == "done"
        or any(p.role("done") or p.role("history") for p in parts)
    ):
        return Told(why="whether it was done is not stated")
    used = sum(
        bool(
            p.role("surgeries") or p.role("discs") or p.role("lumbar") or p.role("done") or p.role("history")
        )
        for p in parts
    )
    if (
        not lumbar
        or len(kinds) > 1
        or len(dates) > 1
        or used + len(dates) != len(parts)
        or any(d.day == "no day" for d in dates)
    ):
        return Told(why="a surgery whose place or date is not understood")
    entry: dict[str, dict[str, Any]] = {"surgery_kind": {"value": kinds[0].role("surgeries").value}}  # type: ignore[union-attr]
    if levels:
        entry["surgery_levels"] = {"value": levels}
    if dates:
        entry["surgery_date"] = {"value": dates[0].day}
    missed = tuple(p for p in aside if p.role("outcomes"))
    return Told(
        (("", "prior_lumbar_surgery", {"value": True}, ""),),
        ("surgeries", entry),
        "its outcome is not kept" if missed else "",
        missed=missed,
    )


def injection(parts: list[Part], where: Where) -> Told | None:
    """One injection, with its levels, side, date and relief; of blocks of the facet joints also how they came out."""
    kinds = [p for p in parts if p.role("injections")]
    if not kinds:
        return None
    kind = kinds[0].role("injections").value  # type: ignore[union-attr]
    dates = [p for p in parts if p.kind == "day"]
    relief = [p for p in parts if p.kind == "number" and p.unit == "%"]
    words_of_relief = [p for p in parts if p.role("relief")]
    sides = [p for p in parts if p.role("sides")]
    found = [p for p in parts if p.role("block_results")] if kind in _BLOCKS else []
    done = [p for p in parts if p.role("done") or p.role("history")]
    behind = [p for p in parts if p.start > kinds[0].start]
    aside = [p for p in behind if p.role("results") or p.role("helped") or is_past_care(p) or _is_span(p)]
    if not (dates or done or where.verb == "done" or where.section == "treatments"):
        return Told(why="whether it was done is not stated")
    used = [
        p
        for p in parts
        if any(p.role(n) for n in ("injections", "discs", "done", "history", "state", "qualifiers", "once"))
        or p in [*dates, *sides, *aside, *found]
    ]
    if any(p.role("several") or p.unit == "courses" for p in parts):
        return Told(why="several injections in one statement")
    if (
        len(kinds) > 1 or len(dates) > 1 or len(relief) > 1 or len(sides) > 1 or len(found) > 1 or len(relief) != len(words_of_relief)
        or len(used) + 2 * len(relief) != len(parts) or any(d.day == "no day" for d in dates)
    ):  # fmt: skip
        return Told(why="an injection that is not wholly understood")
    entry: dict[str, dict[str, Any]] = {"injection_kind": {"value": kind}}
    levels = _levels(parts)
    missed = aside
    if levels and kind == "medial_branch_block":  # levels of nerves or joints, not of discs
        missed = [*aside, *(p for p in parts if p.role("discs"))]
    elif levels:
        entry["injection_levels"] = {"value": levels}
    if sides:
        entry["injection_side"] = {"value": sides[0].role("sides").value}  # type: ignore[union-attr]
    if dates:
        entry["injection_date"] = {"value": dates[0].day}
    if relief:
        entry["injection_relief"] = form_of(relief[0], "%")
    said: tuple[Said, ...] = ()
    if found:
        said = (
            ("", "facet_block_done", {"value": True}, ""),
            ("", "facet_block_result", {"value": found[0].role("block_results").value}, ""),  # type: ignore[union-attr]
        )
        said += tuple(("", "facet_block_date", {"value": d.day}, "") for d in dates)
    return Told(said, ("injections", entry), "not kept" if missed else "", missed=tuple(missed))


def _is_span(part: Part) -> bool:
    """How long relief lasted: ``for two weeks``, ``for a week``."""
    unit = part.role("units")
    return (part.kind == "number" and part.unit in _CALENDAR and not part.bound) or (
        part.kind == "phrase" and unit is not None and unit.value in _CALENDAR
    )


_BLOCKS = ("facet", "medial_branch_block")


def _kind_of(part: Part) -> str:
    """The kind of treatment a word is, or that a medicine which was tried is of; empty if it is neither."""
    role = part.role("treatments")
    if role is not None:
        return str(role.value)
    if part.role("PT") and part.text == "PT":
        return "physical_therapy"
    if part.role("medicines"):
        tried: dict[str, list[str]] = words().data["tried_medicines"]
        return next((kind for kind, names in tried.items() if part.text.lower() in names), "")
    return ""


def treatment(parts: list[Part], where: Where) -> Told | None:
    """A treatment that was done or failed, with its sessions, duration and result; a medicine counts that was tried."""
    kinds = [p for p in parts if _kind_of(p)]
    named = [p for p in parts if p.role("medicines")]
    if not kinds or (where.section in ("medicines", "allergies") and named):
        return None
    results = [p for p in parts if p.role("results")]
    done = [p for p in parts if p.role("done") or (p.role("history") and not named)]
    now = any(p.role(n) for p in parts for n in ("taking", "frequency", "route", "as_needed", "last_dose"))
    if named and (now or where.verb == "taking" or any(p.unit in ("mg", "mcg") for p in parts)):
        return None
    if not (results or done or where.verb in ("done", "failed") or where.section == "treatments"):
        return None if named else Told(why="whether it was done is not stated")
    sessions = [p for p in parts if p.kind == "number" and p.unit == "sessions"]
    counted = kinds[0].text.lower().endswith(("treatments", "adjustments"))
    sessions += [
        p for p, q in pairwise(parts) if counted and p.kind == "number" and not p.unit and q is kinds[0]
    ]
    calendar = [p for p in parts if p.kind == "number" and p.unit in _CALENDAR]
    lasted = [p for p in calendar if not any(r.start < p.start for r in results) and p.bound != "more_than"]
    supervised = [p for p in parts if p.role("supervised")]
    aside = [p for p in calendar if p not in lasted] + [
        p
        for p in parts
        if (p.kind == "day" and p.day != "no day")
        or p.unit == "courses"
        or p.kind == "period"
        or is_past_care(p)
        or any(p.role(n) for n in ("several", "helped", "frequency"))
    ]
    light = [
        p
        for p in parts
        if any(p.role(n) for n in ("qualifiers", "once", "stated_behind")) and p not in supervised
    ]
    if any(p.kind == "day" and where.day and p.day > where.day[: len(p.day)] for p in aside):
        return Told(why="a date after the letter's")
    if (
        len(kinds) > 1
        or len(sessions) > 1
        or len(lasted) > 1
        or len(results) > 1
        or len({p.start for p in [*kinds, *sessions, *lasted, *results, *done, *supervised, *aside, *light]})
        != len(parts)
    ):
        return Told(why="a treatment that is not wholly understood")
    entry: dict[str, dict[str, Any]] = {"treatment_kind": {"value": _kind_of(kinds[0])}}
    if sessions:
        entry["treatment_sessions"] = form_of(sessions[0])
    if lasted:
        entry["treatment_duration"] = form_of(lasted[0], lasted[0].unit)
    if supervised:
        entry["treatment_supervised"] = {"value": True}
    if results:
        value = results[0].role("results").value  # type: ignore[union-attr]
        entry["treatment_result"] = (
            {"value": value} if value else {"one_of": ["no_benefit", "insufficient_benefit"]}
        )
    elif where.verb == "failed":
        entry["treatment_result"] = {"one_of": ["no_benefit", "insufficient_benefit"]}
    return Told(entry=("treatments", entry), why="not kept" if aside else "", missed=tuple(aside))
