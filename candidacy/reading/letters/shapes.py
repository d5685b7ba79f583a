"""What one segment asserts: each shape uses every part of the segment, or nothing is asserted."""

from collections.abc import Callable
from typing import Any, NamedTuple

from candidacy.reading.letters.parts import Part, form_of
from candidacy.reading.letters.segments import Segment, is_light
from candidacy.reading.letters.words import words

_ADULT, _OLD = 18, 95
"""Years between which a bare number beside the letter of the sex is an age, and below which one may be a child's."""
Said = tuple[str, str, dict[str, Any], str]
"""List ("" for the patient), element, form, note."""


class Told(NamedTuple):
    """What a segment says: values, entries of lists, or the reason why nothing of it is used."""

    said: tuple[Said, ...] = ()
    entry: tuple[str, dict[str, dict[str, Any]]] | None = None
    why: str = ""
    ask: str = ""
    missed: tuple[Part, ...] = ()
    begin: int = -1
    """Where the words begin that it rests on, if before the segment: those that deny or state it."""


class Where(NamedTuple):
    """The heading a segment stands under, and the letter's day (empty if not known)."""

    section: str
    day: str
    verb: str = ""
    """The verb of a list that goes on: ``taking``, ``done``, ``failed``, ``allergic``."""


def row_says(says: dict[str, Any], note: str = "") -> tuple[Said, ...]:
    """The values of a row of the data file."""
    return tuple(("", e, v if isinstance(v, dict) else {"value": v}, note) for e, v in says.items())


def plain(segment: Segment) -> list[Part]:
    """The parts that weigh."""
    return [p for p in segment.parts if not is_light(p) or p.role("PT")]


def shaped(segment: Segment, where: Where, verb: str = "") -> Told:
    """Read a segment that holds no finding; ``verb`` is that of the list it goes on with."""
    where = where._replace(verb=verb)
    parts = [
        p for p in plain(segment) if not (p.role("PT") and is_light(p) and not segment.has("results", "done"))
    ]
    values = [p for p in parts if p.role("values")]
    rest = [p for p in parts if not p.role("values")]
    said: tuple[Said, ...] = ()
    if any(p.role(n) for p in parts for n in ("deny", "deny_all", "denied_behind")):
        return Told(why="a denial of what is not known to be denied so")
    if rest and rest[0].role("state") and any(p.unit == "year_old" for p in rest):
        return Told(why="an age that may be another's")
    letters = [p for p in rest if p.role("sex_letters")]
    aged = [p for p in rest if p.unit == "year_old" or _is_age_beside(p, letters)]
    if letters and len(letters) == 1 and (aged or segment.has("labels")):
        rest = [p._replace(unit="year_old") if p in aged else p for p in rest if p not in letters]
        said = (("", "sex", {"value": letters[0].role("sex_letters").value}, ""),)  # type: ignore[union-attr]
    rest = [p for p in rest if not (p.role("state") or p.role("stated_behind") or p.role("labels"))]
    if not _holds(rest, "score", "back_pain", "leg_pain"):
        rest = [p for p in rest if not (_quality(p) == "current" and values)]
    for p in values:
        said += row_says(p.role("values").value["says"])  # type: ignore[union-attr]
    if _dates_a_stop(values, rest):
        return Told((*said, ("", "smoking_stop_date", {"value": rest[-1].day}, "")))
    if not rest:
        return Told(said) if said else Told()
    for shape in _SHAPES:
        told = shape(rest, where)
        if told is not None:
            return told._replace(said=(*said, *told.said)) if not (told.why or told.ask) else told
    return Told(why="not wholly understood")


def _is_age_beside(part: Part, letters: list[Part]) -> bool:
    """``49F``: a bare number of years that the letter of the sex follows without a blank."""
    return (
        part.kind == "number"
        and not part.unit
        and _ADULT <= part.low <= _OLD
        and any(p.start == part.end for p in letters)
    )


def _holds(parts: list[Part], *names: str) -> bool:
    return any(p.kind == n or p.role(n) for p in parts for n in names)


def _quality(part: Part) -> str:
    role = part.role("quality")
    return str(role.value) if role else ""


def _dates_a_stop(values: list[Part], rest: list[Part]) -> bool:
    former = [p for p in values if p.role("values").value["says"].get("smoking_status") == "former"]  # type: ignore[union-attr]
    return len(former) == len(values) == len(rest) == 1 and rest[0].kind == "day" and rest[0].day != "no day"


def _age(parts: list[Part], where: Where) -> Told | None:
    if len(parts) == 1 and parts[0].unit == "year_old" and not (parts[0].bound or parts[0].about):
        if parts[0].low < _ADULT:
            return Told(why="an age that may be another's")
        return Told((("", "age", form_of(parts[0], "year"), ""),))
    return None


def _number(parts: list[Part], where: Where) -> Told | None:
    labels = [p for p in parts if p.role("numbers")]
    if not labels:
        return None
    if len(labels) > 1:
        return Told(why="several labels")
    row = labels[0].role("numbers").value  # type: ignore[union-attr]
    numbers = [p for p in parts if p.kind in ("number", "height", "score")]
    dates = [p for p in parts if p.kind == "day"]
    element = row["of"]
    if len(numbers) != 1 or len(numbers) + len(labels) + len(dates) != len(parts):
        return Told(why="which number belongs to it is open")
    part = numbers[0]
    if dates and (element not in words().data["dated"] or len(dates) > 1 or dates[0].day == "no day"):
        return Told(why="a date that is not understood here")
    if (
        part.kind == "score"
        or part.unit not in row["units"]
        or (part.kind == "height") != (part.kind == "height" and element == "body_height")
    ):
        return Told(
            why="the unit is not stated" if not part.unit else "not in a unit that is understood here"
        )
    form = form_of(
        part, part.unit if part.unit not in ("", "year_old", "cigarettes") else row.get("unit", "")
    )
    if dates:
        form["date"] = dates[0].day
    note = "; ".join([*(f"of {d.day}" for d in dates), *(["said to be approximate"] if part.about else [])])
    return Told((("", element, form, note), *row_says(row.get("says", {}))))


def _pain_score(parts: list[Part], where: Where) -> Told | None:
    scores = [p for p in parts if p.kind == "score"]
    if not scores:
        return None
    places = [n for p in parts for n in ("back_pain", "leg_pain") if p.role(n)]
    qualities = [q for p in parts if (q := _quality(p))]
    used = len(scores) + len(places) + len(qualities)
    if len(scores) == 1 and len(places) == 1 and len(qualities) == 1 and used == len(parts):
        element = f"{places[0]}_nrs_{qualities[0]}"
        if element != "leg_pain_nrs_current":
            return Told(
                (("", element, form_of(scores[0]), "said to be approximate" if scores[0].about else ""),)
            )
    lacks = [w for w, n in (("back or leg", places), ("average, worst or now", qualities)) if not n]
    if len(scores) == 1 and used == len(parts) and lacks:
        return Told(
            why="a pain score whose kind is not stated",
            ask=f"the pain score does not say {' nor '.join(lacks)}",
        )
    return Told(why="a pain score that is not wholly understood")


def _duration(parts: list[Part], where: Where) -> Told | None:
    if not any(p.role("back_pain") for p in parts):
        return None
    rest = [
        p
        for p in parts
        if not (p.role("back_pain") or p.role("history") or p.role("onset") or p.role("done"))
    ]
    onset = any(p.role("onset") for p in parts)
    if len(rest) != 1 or sum(p.role("back_pain") is not None for p in parts) != 1:
        return Told() if not rest else Told(why="not wholly understood")
    part = rest[0]
    if part.kind == "day" and onset and part.day != "no day":
        return Told((("", "pain_onset_date", {"value": part.day}, ""),))
    if part.role("vague") and not onset:
        return Told((("", "pain_duration", {"unknown": "uncertain_in_source"}, "said without a number"),))
    if part.kind == "number" and part.unit in ("month", "year") and not onset:
        if not where.day:
            return Told(
                why="a duration in a letter without a date",
                ask="the pain's duration is told, the letter's day is not",
            )
        about = "; said to be approximate" if part.about else ""
        return Told(
            (("", "pain_duration", form_of(part, part.unit), f"up to the letter's date, {where.day}{about}"),)
        )
    if part.kind == "number" and part.unit in ("week", "day"):
        return Told(why="a duration that is not in months or years")
    return Told(why="not wholly understood")


def _medicine(parts: list[Part], where: Where) -> Told | None:
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


def _surgery(parts: list[Part], where: Where) -> Told | None:
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


def _injection(parts: list[Part], where: Where) -> Told | None:
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


def _treatment(parts: list[Part], where: Where) -> Told | None:
    kinds = [p for p in parts if p.role("treatments") or (p.role("PT") and p.text == "PT")]
    if not kinds:
        return None
    sessions = [p for p in parts if p.kind == "number" and p.unit == "sessions"]
    lasted = [p for p in parts if p.kind == "number" and p.unit in ("month", "year")]
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


def _allergy(parts: list[Part], where: Where) -> Told | None:
    held = [p for p in parts if p.role("allergens")]
    named = [p for p in parts if p.role("allergic")]
    if not held or not (where.section == "allergies" or named or where.verb == "allergic"):
        return Told(why="an allergy is not stated") if held else None
    if len(held) + len(named) != len(parts) or len(named) > 1:
        return Told(why="not wholly understood")
    said: tuple[Said, ...] = ()
    for p in held:
        said += row_says(p.role("allergens").value["says"])  # type: ignore[union-attr]
    return Told(said)


_SHAPES: tuple[Callable[[list[Part], Where], Told | None], ...] = (
    _age, _number, _allergy, _pain_score, _medicine, _surgery, _injection, _treatment, _duration,
)  # fmt: skip
