"""What the rest of a sentence leaves of what one of its segments says: a denial behind it, a second dose, a date that may be of both."""

import re
from functools import cache
from typing import NamedTuple

from candidacy.reading.letters.doubts import BOTH, SentenceRead
from candidacy.reading.letters.parts import Part
from candidacy.reading.letters.persons import is_aged_thing, is_unknown
from candidacy.reading.letters.segments import CARE, Segment, is_light
from candidacy.reading.letters.shapes import is_former_smoker
from candidacy.reading.letters.told import Told, Where
from candidacy.reading.letters.words import words
from candidacy.reading.notes.model import WITHOUT_NUMBER

WEIGH = (
    "findings",
    "values",
    "numbers",
    "medicines",
    "surgeries",
    "injections",
    "treatments",
    "allergens",
    "back_pain",
    "leg_pain",
    "postures",
    "off_work",
)
"""Roles of words that tell something."""
_DONE = tuple(name for name in CARE if name != "medicines")
_DOSES = ("medicine_dose", "medicine_doses_per_day")
_NOT = ("not", "never", "denied", "refused")
_PLACE = 2
"""Words of the longest place of a pain: ``left hip``."""


class Beside(NamedTuple):
    """The words of the sentence, where it stands, and whether the segment was read by itself, not as one of a list."""

    words: str
    where: Where
    apart: bool


def left_of(told: Told, cut: list[Segment], n: int, row: SentenceRead, beside: Beside) -> Told:
    """Give what is left of what segment ``n`` of a sentence tells; where nothing is, the reason."""
    segment = cut[n]
    if any(p.role("vague") for p in row.parts) and any(e == "pain_duration" for _, e, _, _ in told.said):
        told = _vague(told)
    if any("_pain_nrs_" in e for _, e, _, _ in told.said) and _is_conditioned(cut, n):
        told = Told(why="a pain score under a condition")
    if any(e in ("pain_onset_date", "pain_duration") for _, e, _, _ in told.said) and _began_again(
        beside.words
    ):
        told = Told(why="the pain began again")
    if ("", "smoking_status", {"value": "former"}, "") in told.said and _smokes_now(cut, n):
        told = Told(why="whether smoking was given up is open")
    if any(e == "cigarettes_per_day" for _, e, _, _ in told.said) and any(map(is_former_smoker, row.parts)):
        told = Told(why="of an earlier time")  # "cigarettes: 20/day, but quit"
    if (told.said or told.entry) and _is_not_now(cut, n):
        told = Told(why="of an earlier time")
    listed = beside.where.section in ("problems", "allergies") or segment.has("allergens")
    if (
        (told.said if told.entry is None else told.entry[0] == "medicines")
        and not listed
        and _bracket_dates(cut, n)
    ):
        told = Told(why="a date whose part is open")
    if any(e == "age" for _, e, _, _ in told.said) and _of_a_thing(row.parts, segment):
        told = Told(why="an age that may be of a thing")
    if any(e == "work_status" for _, e, _, _ in told.said) and _works_not(row.parts, segment):
        told = Told(why=BOTH)
    if any("_pain_nrs_" in e for _, e, _, _ in told.said) and _is_of_two(cut, n):
        told = Told(why="a pain score of two places")
    if any(f.get("value") is False for _, _, f, _ in told.said) and _is_under_a_medicine(cut, n):
        told = Told(why="denied under a medicine")
    if _is_excepted(cut, n):
        told = _doubted(told)
    if _dated_behind(cut, n, told):
        told = Told(why="whether the date behind it is its own is not stated")
    if beside.where.day and any(d > beside.where.day[: len(d)] for d in _dates(told)):
        told = Told(why="a date after the letter's")
    if told.entry and told.entry[1].get("treatment_sessions", {}).get("value") == 0:
        told = Told(why="a number of none, of what is said to be there")
    if (told.entry or segment.has("allergens")) and _denied_before(cut, n):
        told = Told(why="whether the denial before it goes on to it is open")
    if ("", "leg_pain_below_knee", {"value": False}, "") in told.said and _is_of_above(segment, row, beside):
        told = Told(why="of which pain it is said is open")
    if told.entry and told.entry[0] == "medicines" and _dosed_again(cut, n):
        entry = {e: f for e, f in told.entry[1].items() if e not in _DOSES}
        told = told._replace(entry=(told.entry[0], entry), why="two doses are told")
    if (told.said or told.entry) and _is_denied_behind(cut, n):
        told = Told(why="a denial of what is not known to be denied so")
    if not beside.apart and (told.said or told.entry) and _is_alternative(cut, n):
        told = Told(why="one of several is meant")
    return told


def _is_denied_behind(cut: list[Segment], n: int) -> bool:
    """``Penicillin denied today``, ``naproxen 500 mg (not taking)``: a denial of what stands before it."""
    if n + 1 == len(cut):
        return False
    behind = cut[n + 1]
    if cut[n].parts[-1].text == "(":
        return behind.has("deny", "deny_all") and not behind.has(*WEIGH)
    if behind.by == "" and cut[n].has("values") and behind.parts[0].text.lower() in _NOT:
        return not behind.has(*WEIGH)  # "light duty not available"
    if behind.by == "" and cut[n].has(*CARE):
        return behind.has("deny", "deny_all") and not behind.has(*WEIGH)  # "physiotherapy has not been tried"
    return bool(behind.by == "" and behind.parts[0].role("denied_behind") and cut[n].has("allergens"))


def _is_conditioned(cut: list[Segment], n: int) -> bool:
    """``6/10 with medication``: what follows without a comma says when the score holds."""
    if n + 1 == len(cut) or cut[n + 1].by or any(p.kind == "score" for p in cut[n + 1].parts):
        return False
    return not cut[n + 1].has("worse_with", "back_pain", "leg_pain")


def _denied_before(cut: list[Segment], n: int) -> bool:
    """``Denies apixaban, aspirin``: a list that goes on from a denial, with nothing of its own that says whether."""
    while n and cut[n].by in (",", "and", "or", "/") and not cut[n].has("taking", "done", "state", "results"):
        if cut[n].parts[0].text.lower() == "on":
            return False
        n -= 1
        if cut[n].has("deny", "deny_all") and (cut[n].has(*CARE, "allergens") or "latex" in _said_in(cut[n])):
            return not cut[n].has("taking", "results")
    return False


def _said_in(segment: Segment) -> str:
    return " ".join(p.text.lower() for p in segment.parts)


def _is_under_a_medicine(cut: list[Segment], n: int) -> bool:
    """``No leg pain with pregabalin``, ``no fever on paracetamol``: without it, it may be there."""
    behind = cut[n + 1] if n + 1 < len(cut) else None
    if behind is None or behind.by not in ("", "with"):
        return False
    if not behind.has("medicines"):
        return False
    return behind.by == "with" or behind.parts[0].text.lower() in ("on", "with", "under", "while on", "w/")


def _is_excepted(cut: list[Segment], n: int) -> bool:
    """``Continence preserved with a catheter``, ``strength 5/5 with a weak ankle``: what is not understood may be an exception."""
    behind = cut[n + 1] if n + 1 < len(cut) else None
    if behind is None or behind.by not in ("", "with") or not cut[n].has("values"):
        return False
    return behind.parts[0].text.lower() in ("with", "w/") and any(map(is_unknown, behind.parts))


def _doubted(told: Told) -> Told:
    """What is denied in doubt, as not certain."""
    unknown = {"unknown": "uncertain_in_source"}
    said = [(s, e, unknown if f.get("value") is False else f, note) for s, e, f, note in told.said]
    return told._replace(said=tuple(said))


def _dosed_again(cut: list[Segment], n: int) -> bool:
    """``Warfarin 3 mg and 5 mg on alternate days``: another dose of the same."""
    behind = cut[n + 1] if n + 1 < len(cut) else None
    first = next((p for p in behind.parts if not is_light(p)), None) if behind else None
    return first is not None and first.kind == "number" and first.unit in ("mg", "mcg")


def _is_of_above(segment: Segment, row: SentenceRead, beside: Beside) -> bool:
    """``Arm pain, not below the knee``: the pain named last before it is none that could go down a leg."""
    data = words().data
    said = beside.words[: segment.end - row.sentence.span.start].lower()
    named: list[str] = [w for w in re.findall(r"[a-z]+", said) if w.startswith(_places())]
    if not named:
        return any(is_unknown(p) for p in row.parts if p.start < segment.start)  # "varicose veins, ..."
    return named[-1].startswith(tuple(data["pain_above"]))


@cache
def _places() -> tuple[str, ...]:
    data = words().data
    return (*data["pain_above"], *data["back"], "leg", "sciatic", "buttock", "hip", "thigh", "groin")


def _of_a_thing(parts: list[Part], segment: Segment) -> bool:
    """``A 20-year-old scar``: the age of what stands behind it."""
    ages = [n for n, p in enumerate(parts) if p.unit == "year_old" and segment.start <= p.start < segment.end]
    return any(is_aged_thing(parts, n) for n in ages)


def _works_not(parts: list[Part], segment: Segment) -> bool:
    """``Works full time, but is off work``, ``still working on it``: the work is not done, or it is no job."""
    at = next((n for n, p in enumerate(segment.parts) if p.role("values")), 0)
    if [p.text.lower() for p in segment.parts[at + 1 : at + 2]] == ["on"]:
        return True
    return any(p.role("off_work") and not segment.start <= p.start < segment.end for p in parts)


def _is_of_two(cut: list[Segment], n: int) -> bool:
    """``Hip and leg pain 8/10``: what is joined before the place bears no pain of its own, so that the score is of both."""
    if not n or cut[n].by not in ("and", "or") or any(p.kind == "score" for p in cut[n - 1].parts):
        return False
    heavy = [p for p in cut[n - 1].parts if not is_light(p)]
    return len(heavy) <= _PLACE and all(is_unknown(p) or p.role("of_back") for p in heavy)


def _began_again(words_of: str) -> bool:
    said = words_of.lower()
    return any(re.search(rf"\b{w}\b", said) for w in words().data["began_again"])


def _smokes_now(cut: list[Segment], n: int) -> bool:
    """``Ex-smoker, now 5 a day``: a count of today beside smoking that was given up."""
    now = [s for m, s in enumerate(cut) if m != n and any(p.unit == "cigarettes" for p in s.parts)]
    return any(p.role("quality") for s in now for p in s.parts)


def _is_not_now(cut: list[Segment], n: int) -> bool:
    """``takes naproxen, but not now``: what only denies takes back what stands before it, behind "but" all of it."""
    for m in range(n + 1, len(cut)):
        heavy = [p for p in cut[m].parts if not is_light(p)]
        bare = all(p.role("deny") or p.role("quality") for p in heavy) and any(p.role("deny") for p in heavy)
        if bare and (m == n + 1 or cut[m].by == "but"):
            return True
    return False


def _bracket_dates(cut: list[Segment], n: int) -> bool:
    """``Average 5/10, worst 7/10 (2015)``: the day in a bracket at the end may be of all that is said without one."""
    last = cut[-1]
    texts = [p.text for p in last.parts]
    if n == len(cut) - 1 or "(" not in texts or last.has(*_DONE, "values") or _is_dated(last):
        return False
    inside = [p for p in last.parts[texts.index("(") :] if not is_light(p)]
    return (
        bool(inside)
        and all(p.kind == "day" or p.role("onset") for p in inside)
        and not any(p.kind == "day" for p in cut[n].parts)
    )


def _is_dated(segment: Segment) -> bool:
    return any(r.value["of"] in words().data["dated"] for p in segment.parts if (r := p.role("numbers")))


def _dated_behind(cut: list[Segment], n: int, told: Told) -> bool:
    """``CRP 2 mg/L and ESR 5 mm/h in May 2025``: the date may be of both."""
    undated = any(e in words().data["dated"] and "date" not in f for _, e, f, _ in told.said)
    m = n + 1
    while undated and m < len(cut) and cut[m].by in (",", "and") and cut[m].has("numbers"):
        if any(p.kind == "day" for p in cut[m].parts):
            return True
        m += 1
    return False


def _vague(told: Told) -> Told:
    """A duration in a sentence that calls the pain on and off is not that of pain on most days."""
    unknown = (
        "",
        "pain_duration",
        {"unknown": "uncertain_in_source"},
        f"{WITHOUT_NUMBER}, or to come and go",
    )
    return told._replace(said=tuple(unknown if s[1] == "pain_duration" else s for s in told.said))


def _dates(told: Told) -> list[str]:
    forms = [(e, f) for _, e, f, _ in told.said] + (list(told.entry[1].items()) if told.entry else [])
    return [str(f["date"]) for _, f in forms if "date" in f] + [
        str(f["value"]) for e, f in forms if e.endswith("_date") and "value" in f
    ]


def _is_alternative(cut: list[Segment], n: int) -> bool:
    return cut[n].by == "or" or (n + 1 < len(cut) and cut[n + 1].by == "or")
