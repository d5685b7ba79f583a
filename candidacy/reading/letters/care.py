"""Medicines, surgery, injections and treatments in one segment: an entry of its list, or the reason why not."""

from typing import Any

from candidacy.reading.letters.parts import Part, form_of
from candidacy.reading.letters.told import Told, Where


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
    dated = any(p.role("last_dose") for p in parts)

    def put(element: str, form: dict[str, Any]) -> bool:
        fresh = element not in entry
        entry.setdefault(element, form)
        return fresh

    for p in parts:
        if p is drugs[0] or p.role("taking") or p.role("last_dose"):
            continue
        fine = False
        if p.kind == "number" and p.unit in ("mg", "mcg") and not (p.bound or p.about):
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
        elif p.kind == "day" and dated and p.day != "no day":
            fine = put("medicine_last_dose_date", {"value": p.day})
        if not fine:
            return Told(why="not wholly understood")
    if dated and "medicine_last_dose_date" not in entry:
        return Told(why="when the last dose was taken is not understood")
    if "medicine_as_needed" in entry and "medicine_doses_per_day" in entry:
        entry["medicine_doses_per_day"] = {"at_most": entry["medicine_doses_per_day"]["value"]}
    return Told(entry=("medicines", entry), missed=tuple(missed))


def _levels(parts: list[Part]) -> list[str] | None:
    found: list[str] = []
    for p in parts:
        role = p.role("discs")
        if role is not None:
            found += role.value
    return list(dict.fromkeys(found))


def surgery(parts: list[Part], where: Where) -> Told | None:
    """Surgery of the lumbar spine, with its levels and date."""
    kinds = [p for p in parts if p.role("surgeries")]
    if not kinds:
        return None
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
    return Told((("", "prior_lumbar_surgery", {"value": True}, ""),), ("surgeries", entry))


def injection(parts: list[Part], where: Where) -> Told | None:
    """One injection, with its levels, date and relief."""
    kinds = [p for p in parts if p.role("injections")]
    if not kinds:
        return None
    dates = [p for p in parts if p.kind == "day"]
    relief = [p for p in parts if p.kind == "number" and p.unit == "%"]
    words_of_relief = [p for p in parts if p.role("relief")]
    if not (dates or any(p.role("done") for p in parts)):
        return Told(why="whether it was done is not stated")
    used = sum(
        bool(p.role("injections") or p.role("discs") or p.role("done") or p.role("state")) for p in parts
    )
    if (
        len(kinds) > 1 or len(dates) > 1 or len(relief) > 1 or len(relief) != len(words_of_relief)
        or used + len(dates) + 2 * len(relief) != len(parts) or any(d.day == "no day" for d in dates)
    ):  # fmt: skip
        return Told(why="an injection that is not wholly understood")
    entry: dict[str, dict[str, Any]] = {"injection_kind": {"value": kinds[0].role("injections").value}}  # type: ignore[union-attr]
    levels = _levels(parts)
    if levels:
        entry["injection_levels"] = {"value": levels}
    if dates:
        entry["injection_date"] = {"value": dates[0].day}
    if relief:
        entry["injection_relief"] = form_of(relief[0], "%")
    return Told(entry=("injections", entry))


def treatment(parts: list[Part], where: Where) -> Told | None:
    """A treatment that was done or failed, with its sessions, duration and result."""
    kinds = [p for p in parts if p.role("treatments") or (p.role("PT") and p.text == "PT")]
    if not kinds:
        return None
    sessions = [p for p in parts if p.kind == "number" and p.unit == "sessions"]
    lasted = [p for p in parts if p.kind == "number" and p.unit in ("day", "week", "month", "year")]
    results = [p for p in parts if p.role("results")]
    done = [p for p in parts if p.role("done")]
    if not (results or done or where.verb in ("done", "failed")):
        return Told(why="whether it was done is not stated")
    if (
        len(kinds) > 1
        or len(sessions) > 1
        or len(lasted) > 1
        or len(results) > 1
        or len(kinds + sessions + lasted + results + done) != len(parts)
    ):
        return Told(why="a treatment that is not wholly understood")
    role = kinds[0].role("treatments")
    entry: dict[str, dict[str, Any]] = {
        "treatment_kind": {"value": role.value if role else "physical_therapy"}
    }
    if sessions:
        entry["treatment_sessions"] = form_of(sessions[0])
    if lasted:
        entry["treatment_duration"] = form_of(lasted[0], lasted[0].unit)
    if results:
        value = results[0].role("results").value  # type: ignore[union-attr]
        entry["treatment_result"] = (
            {"value": value} if value else {"one_of": ["no_benefit", "insufficient_benefit"]}
        )
    elif where.verb == "failed":
        entry["treatment_result"] = {"one_of": ["no_benefit", "insufficient_benefit"]}
    return Told(entry=("treatments", entry))
