"""What may be passed over behind a statement that is whole without it: a calling, what a medicine is for, what began the pain."""

from candidacy.reading.letters.parts import Part
from candidacy.reading.letters.persons import is_doubtful, is_unknown
from candidacy.reading.letters.segments import STATUS, Segment, is_light
from candidacy.reading.letters.words import words

_CALLING = 4
"""Words of the longest calling that is taken for one."""
_SAYS = (*STATUS, "denied_behind", "findings", "values", "numbers", "medicines", "surgeries", "injections", "treatments",
         "allergens", "results", "was", "taking", "done", "stops", "onset", "quality")  # fmt: skip
"""Of these none stands in what is passed over: it may say more than the statement, or take it back."""


def split(segment: Segment, section: str) -> tuple[Segment, list[Part]]:
    """Give a segment without what may be passed over at its end, and that; ``section`` is the heading it stands under."""
    parts = list(segment.parts)
    at = _end_of_core(parts, section)
    if not 0 < at < len(parts):
        return segment, []
    core, tail = parts[:at], parts[at:]
    taken = _is_taken(core, section)
    says = [n for n in _SAYS if not (n == "findings" and (taken or _begins(core)))]  # "for hypertension"
    if (
        (taken and any(map(_tells_how_long, tail)))
        or any(map(is_unknown, core))
        or any(p.role(n) for p in tail for n in says)
        or any(map(is_doubtful, tail))
    ):
        return segment, []
    while is_light(tail[0]):
        tail = tail[1:]
    return Segment(tuple(core), segment.by), tail


def _end_of_core(parts: list[Part], section: str) -> int:
    """Give the place where a statement that is whole ends, 0 if there is none."""
    first = next((n for n, p in enumerate(parts) if is_unknown(p) or (n and p.role("findings"))), 0)
    lead = parts[: first + 1]
    if not first:
        return 0
    if _is_taken(lead, section):
        return _opener(lead, words().data["tails"]["medicine"])
    if _begins(lead):
        lasts = not any(p.role("onset") for p in lead)
        return _opener(lead, words().data["tails"]["duration" if lasts else "onset"])
    lead = parts[:first]
    heavy = [p for p in lead if not is_light(p)]
    if parts[first].text.lower() in words().data["tails"]["not_work"]:
        return 0  # "works full time when well"
    short = len(parts) - first <= _CALLING and all(
        p.text.isalpha() or "-" in p.text or "'" in p.text for p in parts[first:]
    )
    if not parts[first - 1].text.lower().endswith(tuple(words().data["tails"]["calling"])):
        return 0  # "working full time hurts"
    return first if short and heavy and all(map(_is_work, heavy)) else 0


def _opener(lead: list[Part], openers: list[str]) -> int:
    """Give the place of the last of the words that open what may be passed over, if nothing that weighs stands behind it."""
    at = next((n for n in range(len(lead) - 1, 0, -1) if lead[n].text.lower() in openers), 0)
    return at if all(is_light(p) or p.role("postures") for p in lead[at + 1 : -1]) else 0


def _tells_how_long(part: Part) -> bool:
    return (
        part.kind == "number"
        or part.role("units") is not None
        or part.text.lower() in words().data["tails"]["of_time"]
    )


def _is_taken(lead: list[Part], section: str) -> bool:
    dosed = section == "medicines" or any(
        p.unit in ("mg", "mcg") or any(p.role(n) for n in ("taking", "frequency", "as_needed")) for p in lead
    )
    return dosed and sum(p.role("medicines") is not None for p in lead) == 1


def _begins(lead: list[Part]) -> bool:
    lasts = any(p.role("back_pain") for p in lead) and any(
        p.kind == "number" and p.unit in ("month", "year") for p in lead
    )
    return lasts or (any(p.role("onset") for p in lead) and any(p.kind in ("day", "ago") for p in lead))


def _is_work(part: Part) -> bool:
    role = part.role("values")
    return role is not None and "work_status" in role.value["says"]
