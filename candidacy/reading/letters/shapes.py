"""What one segment asserts: each shape uses every part of the segment, or nothing is asserted."""

from collections.abc import Callable
from typing import Any

from candidacy.foundation.units import convert
from candidacy.foundation.values import Span
from candidacy.reading.letters.care import injection, medicine, surgery, treatment
from candidacy.reading.letters.findings import is_dealt_with
from candidacy.reading.letters.parts import Part, form_of
from candidacy.reading.letters.segments import Segment, is_light
from candidacy.reading.letters.told import Said, Told, Where, row_says
from candidacy.reading.letters.words import words
from candidacy.reading.notes.model import WITHOUT_NUMBER
from candidacy.reading.phrase_steps import Role

_SINCE = "since"
_ROUNDED = 0.01
"""Share by which the same measure in two units may differ, since each is rounded."""
_ADULT, _OLD = 18, 95
"""Years between which a bare number beside the letter of the sex is an age, and below which one may be a child's."""


def _of_the_pain() -> tuple[str, ...]:
    """Labels behind which the pain is meant that the letter speaks of."""
    return (*words().data["pain"], *words().data["durations"])


def plain(segment: Segment) -> list[Part]:
    """The parts that weigh; ``currently`` does beside a score that nothing else says the kind of."""
    scored = any(p.kind == "score" for p in segment.parts)
    scored = scored and not any(_quality(p) and not is_light(p) for p in segment.parts)
    return [p for p in segment.parts if not is_light(p) or p.role("PT") or (scored and _quality(p))]


def shaped(segment: Segment, where: Where, verb: str = "") -> Told:
    """Read a segment that holds no finding; ``verb`` is that of the list it goes on with."""
    pain = (
        where.pain
        if any(p.kind == "score" for p in segment.parts)
        or any(p.role("labels") and p.text.lower() in _of_the_pain() for p in segment.parts)
        or (opens_with_onset(segment) and where.section == "text")
        else ""
    )
    lead = [p for p in segment.parts if not (is_light(p) and p.text.endswith("."))][:2]  # "on T. thyroxine"
    if len(lead) > 1 and lead[0].text.lower() == "on" and lead[1].role("medicines"):
        verb = "taking"  # "On apixaban 5 mg bd"
    where = where._replace(verb=verb, pain=pain, place=where.place or pain)
    parts = [
        p for p in plain(segment) if not (p.role("PT") and is_light(p) and not segment.has("results", "done"))
    ]
    if len(parts) == 1 and parts[0].role("complete"):
        about = "the letter says that no other medicine is taken: state the list complete if that is so"
        return Told(why="whether a list is complete is for a person to state", ask=about)
    counted = any(p.unit == "cigarettes" for p in parts)
    values = [p for p in parts if p.role("values") and not (counted and p.role("numbers"))]
    rest = [p for p in parts if p not in values]
    said: tuple[Said, ...] = ()
    if where.section == "allergies" and parts and all(p.role("no_allergies") for p in parts):
        return Told(row_says(words().data["without_allergies"]))
    if where.section == "surgical" and [p.text.lower() in words().data["no_surgery"] for p in parts] == [
        True
    ]:
        return Told(row_says(words().data["without_surgery"]))
    scored = any(p.kind == "score" for p in parts)
    judged = [p for p in parts if p.role("block_results") and segment.has("injections")]
    if any(p.role(n) for p in parts if p not in judged for n in ("deny", "deny_all", "denied_behind")):
        return Told(why="a denial of what is not known to be denied so")
    if rest and rest[0].role("state") and any(p.unit == "year_old" for p in rest):
        return Told(why="an age that may be another's")
    letters = [p for p in rest if p.role("sex_letters")]
    labelled = segment.parts[0].text.lower() in ("age/sex", "sex/age", "age/gender")
    aged = [p for p in rest if p.unit == "year_old" or _is_age_beside(p, letters, labelled)]
    if letters and len(letters) == 1 and (aged or segment.has("labels")):
        rest = [p._replace(unit="year_old") if p in aged else p for p in rest if p not in letters]
        said = (("", "sex", {"value": letters[0].role("sex_letters").value}, ""),)  # type: ignore[union-attr]
    if segment.by == "with":
        rest = [p for p in rest if not p.role("treated")]
    named = [
        p for p in rest if counted and p.role("numbers")
    ]  # "smoker 15/day": the label tells what is counted
    rest = [
        p
        for p in rest
        if p in judged
        or p in named
        or (scored and _quality(p))
        or not (p.role("state") or p.role("stated_behind") or (p.role("labels") and not p.role("onset")))
    ]
    if not _holds(rest, "score", "back_pain", "leg_pain"):
        rest = [p for p in rest if not (_quality(p) == "current" and values)]
    if is_dealt_with(segment.parts, "surgeries", "injections", "treatments", "PT"):
        return Told(why="what is done about it, not the thing itself")
    counts = [p.start for p in parts if p.role("numbers")]
    if counts and any(
        (p.role("labels") or p.role("onset"))
        and p.start > counts[0]
        and p.text.lower() not in ("today", ":")
        and not p.role("numbers")
        for p in parts
    ):
        return Told(why="not wholly understood")  # "age 30 at onset"
    if values and any(
        p.role("labels") and p.start > values[-1].start and p.text.lower() != "today" for p in parts
    ):
        return Told(why="not wholly understood")  # "never had cancer screening"
    for p in values:
        said += row_says(p.role("values").value["says"])  # type: ignore[union-attr]
    if _dates_a_stop(values, rest):
        return Told((*said, ("", "smoking_stop_date", {"value": rest[-1].day}, "")))
    if len(values) == len(rest) == 1 and rest[0].kind == "ago" and is_former_smoker(values[0]):
        return Told(said, why="on which day is not stated", missed=(rest[0],))
    if not rest:
        return Told(said) if said else Told()
    for shape in _SHAPES:
        told = shape(rest, where)
        if told is not None:
            return told._replace(said=(*said, *told.said)) if not (told.why or told.ask) else told
    return Told(why="not wholly understood")


def opens_with_onset(segment: Segment) -> bool:
    """Say whether a statement is a line of its own on when it began: ``Onset: May 2023``."""
    return segment.by == "" and [p.text.lower() for p in segment.parts[:2]] == ["onset", ":"]


def _is_age_beside(part: Part, letters: list[Part], labelled: bool) -> bool:
    """``49F``: a bare number of years that the letter of the sex follows without a blank, or both behind their label."""
    return (
        part.kind == "number"
        and not part.unit
        and _ADULT <= part.low <= _OLD
        and (labelled or any(p.start == part.end for p in letters))
    )


def _holds(parts: list[Part], *names: str) -> bool:
    return any(p.kind == n or p.role(n) for p in parts for n in names)


def _quality(part: Part) -> str:
    role = part.role("quality")
    return str(role.value) if role else ""


def is_former_smoker(part: Part) -> bool:
    """Say whether a phrase tells that smoking was given up."""
    role = part.role("values")
    return role is not None and role.value["says"].get("smoking_status") == "former"


def quit_smoking(parts: list[Part]) -> list[Part]:
    """Take ``quit`` for the end of smoking in a sentence that tells of smoking before it: ``30 pack years, quit in 2015``."""
    quit_ = next((n for n, p in enumerate(parts) if p.text.lower() == "quit" and not p.roles), 0)
    row = next(r for r in words().data["values"] if r["says"].get("smoking_status") == "former")
    if not any(map(_of_smoking, parts[:quit_])):
        return parts
    return [*parts[:quit_], parts[quit_]._replace(roles=(Role("values", row),)), *parts[quit_ + 1 :]]


def _of_smoking(part: Part) -> bool:
    return (
        any(r.value["of"] in ("pack_years", "cigarettes_per_day") for r in part.roles if r.name == "numbers")
        or any("smoking_status" in r.value["says"] for r in part.roles if r.name == "values")
        or (part.role("labels") is not None and part.text.lower().startswith(("tobacco", "smok", "nicotine")))
        or part.unit == "cigarettes"
    )


def _dates_a_stop(values: list[Part], rest: list[Part]) -> bool:
    former = [p for p in values if is_former_smoker(p)]
    if len(rest) > 1 and rest[0].role("onset") and rest[0].text.lower() == _SINCE:
        rest = rest[1:]  # "ex-smoker since 2012"
    return len(former) == len(values) == len(rest) == 1 and rest[0].kind == "day" and rest[0].day != "no day"


def _off_work(parts: list[Part], where: Where) -> Told | None:
    """Off work, if for the back: ``off work since May because of his back``."""
    off = [p for p in parts if p.role("off_work")]
    if not off:
        return None
    back = [p for p in parts if p.role("of_back") or p.role("back_pain")]
    when = [
        p for p in parts if p.kind == "day" or (p.kind == "number" and p.unit in ("week", "month", "year"))
    ]
    aside = [p for p in parts if p.role("because") or p.role("onset") or _quality(p) == "current"]
    dated = any(p.kind == "day" for p in when) and not any(
        p.role("onset") for p in parts
    )  # "off work in 2020"
    if (
        dated
        or len(off) != 1
        or len(back) != 1
        or len({p.start for p in [*off, *back, *when, *aside]}) != len(parts)
    ):
        return Told(why="for what reason is not stated" if not back else "not wholly understood")
    why = "since when is not kept" if when else ""
    return Told((("", "work_status", {"value": "off_work_back"}, ""),), why=why, missed=tuple(when))


def _other_care(parts: list[Part], where: Where) -> Told | None:
    return Told(why="no element of the record holds it") if any(p.role("other_care") for p in parts) else None


def _tall(parts: list[Part], where: Where) -> Told | None:
    """A height in feet and inches is the patient's: ``He is 5'10"``."""
    if len(parts) != 1 or parts[0].kind != "height":
        return None
    return Told((("", "body_height", form_of(parts[0], "in"), ""),))


def _born(parts: list[Part], where: Where) -> Told | None:
    """The day of birth behind its label."""
    if len(parts) != 2 or not parts[0].role("born"):
        return None
    if parts[1].kind != "day" or parts[1].day == "no day":
        return Told(why="not wholly understood")
    return Told((("", "birth_date", {"value": parts[1].day}, ""),))


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
    told_of = [p for p in parts if p.role("was")]
    if told_of and not dates:
        return Told(why="of an earlier time")
    parts = [p for p in parts if p not in told_of and _quality(p) != "current"]
    spans = [
        p for p in numbers if p.unit == "year" and element == "cigarettes_per_day"
    ]  # "20 a day for 30 years"
    numbers, parts = [p for p in numbers if p not in spans], [p for p in parts if p not in spans]
    again = [p for p in numbers[1:] if _the_same(numbers[0], p)]  # "79.4 kg (175 lb)"
    numbers, parts = [p for p in numbers if p not in again], [p for p in parts if p not in again]
    if len(numbers) != 1 or len(numbers) + len(labels) + len(dates) != len(parts):
        return Told(why="which number belongs to it is open")
    part = _with_meant_unit(numbers[0], row)
    if part.high > part.low and element in words().data["no_range"]:
        return Told(why="a range, not what was measured")  # "INR 2-3": what is aimed at
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
    if part.unit.startswith("/") and row.get("unit") == "%":
        most = float(part.unit[1:])  # 100 x the sum / the most that it can be: "ODI 23/50"
        part = part._replace(low=100 * part.low / most, high=100 * part.high / most)
    form = form_of(
        part,
        part.unit
        if part.unit not in ("", "year_old", "cigarettes") and part.unit[0] != "/"
        else row.get("unit", ""),
    )
    if where.measured and not dates and element not in words().data["dated"]:
        return Told(why="a date that is not understood here")
    if dates or (where.measured and element in words().data["dated"]):
        form["date"] = dates[0].day if dates else where.measured
    note = "; ".join(
        [
            *(f"of {form['date']}" for _ in [1] if "date" in form),
            *(["said to be approximate"] if part.about else []),
        ]
    )
    if "says" in row and not part.low:
        return Told(why="a number of none, of what is said to be there")  # "smokes 0 a day"
    said = (("", element, form, note), *row_says(row.get("says", {})))
    return Told(said, why="for how long is not kept" if spans else "", missed=tuple(spans))


def _with_meant_unit(part: Part, row: dict[str, Any]) -> Part:
    """A number without a unit that only one unit leaves possible, with that unit."""
    bare = row.get("bare")
    return part._replace(unit=bare["unit"]) if bare and not part.unit and part.high < bare["below"] else part


def _the_same(one: Part, other: Part) -> bool:
    """Say whether two numbers are one measure in two units, each as it is rounded."""
    if not (one.unit and other.unit) or one.unit == other.unit or one.bound or other.bound:
        return False
    try:
        turned = convert(Span(one.low, one.high), one.unit, other.unit)
    except ValueError:
        return False
    return all(abs(a - b) <= _ROUNDED * b for a, b in ((turned.low, other.low), (turned.high, other.high)))


def _pain_score(parts: list[Part], where: Where) -> Told | None:
    scores = [p for p in parts if p.kind == "score"]
    if not scores:
        return None
    places = [n for p in parts for n in ("back_pain", "leg_pain") if p.role(n)]
    if where.in_back and "leg_pain" in (*places, where.place):
        return Told(
            why="a pain score of which it is open whether it is of the back"
        )  # "leg pain; 5/10 in the back"
    qualities = [q for p in parts if (q := _quality(p))]
    if "best" in qualities:
        return Told(why="no element of the record holds it")
    if "worst" in qualities:
        parts = [p for p in parts if not p.role("up_to")]
    used = len(scores) + len(places) + len(qualities)
    if where.place and not places:
        places = [where.place]
        used += 1
        parts = [*parts, scores[0]]
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
    named = [p for p in parts if p.role("back_pain")]
    if not named and not where.pain:
        return None
    rest = [p for p in parts if not (p in named or p.role("history") or p.role("onset") or p.role("done"))]
    onset = any(p.role("onset") for p in parts)
    rest = [p for p in rest if _quality(p) != "current"]
    if not named and any(p.role("done") and p.text.lower() == "had" for p in parts):
        return Told(why="of an earlier time")
    if len(rest) != 1 or len(named) > 1:
        return Told() if not rest else Told(why="not wholly understood")
    part = rest[0]
    if part.kind == "day" and onset and part.day != "no day":
        return Told((("", "pain_onset_date", {"value": part.day}, ""),))
    if part.role("vague") and not onset:
        return Told((("", "pain_duration", {"unknown": "uncertain_in_source"}, WITHOUT_NUMBER),))
    since = any(p.role("onset") and p.text.lower() == _SINCE for p in parts)  # "since 3 years"
    if (part.kind == ("ago" if onset else "number") or (since and part.kind == "number")) and part.unit in (
        "month",
        "year",
    ):
        if not where.day:
            return Told(
                why="a duration in a letter without a date",
                ask="the pain's duration is told, the letter's day is not",
            )
        about = "; said to be approximate" if part.about else ""
        return Told(
            (("", "pain_duration", form_of(part, part.unit), f"up to the letter's date, {where.day}{about}"),)
        )
    if part.kind in ("number", "ago") and part.unit in ("week", "day"):
        return Told(why="a duration that is not in months or years")
    return Told(why="not wholly understood")


def _allergy(parts: list[Part], where: Where) -> Told | None:
    held = [p for p in parts if p.role("allergens")]
    named = [p for p in parts if p.role("allergic")]
    if not held or not (where.section == "allergies" or named or where.verb == "allergic"):
        return Told(why="an allergy is not stated") if held else None
    others = [p for p in parts if p not in held and p not in named]
    bracketed = bool(named) and parts[:2] == [named[0], held[0]]
    reaction = (
        len(held) == 1
        and (bracketed or (where.section == "allergies" and parts[0] is held[0]))
        and all(map(_reacts, others))
    )
    if (others and not reaction) or len(named) > 1:
        return Told(why="not wholly understood")
    said: tuple[Said, ...] = ()
    for p in held:
        said += row_says(p.role("allergens").value["says"])  # type: ignore[union-attr]
    return Told(said, why="the reaction is not kept" if others else "", missed=tuple(others))


def _reacts(part: Part) -> bool:
    """Say whether a word behind an allergen tells how the allergy shows: ``penicillin (rash)``."""
    return part.kind == "phrase" and (part.role("findings") is not None or part.role("reactions") is not None)


_SHAPES: tuple[Callable[[list[Part], Where], Told | None], ...] = (
    _age, _born, _tall, _number, _allergy, _pain_score, _off_work, treatment, medicine, surgery, injection, _other_care, _duration,
)  # fmt: skip
