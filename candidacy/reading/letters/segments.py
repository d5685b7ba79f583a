"""A sentence cut into segments at commas, conjunctions and words that say whether; each says one thing."""

import re
from functools import cache
from itertools import pairwise
from typing import NamedTuple

from candidacy.reading.letters.parts import Part
from candidacy.reading.letters.words import alternatives, words

STATUS = ("deny_all", "deny", "state")
_HEADS = ("medicines", "surgeries", "injections", "treatments")
CARE = (*_HEADS, "PT")
"""What was done or is taken for the pain."""
_TAKES_NOUN = ("taking", "done")


@cache
def separators() -> dict[str, str]:
    """Give what stands between statements, with what it does."""
    return {word: name for name, some in words().data["separators"].items() for word in some}


class Segment(NamedTuple):
    """Parts between two separators; ``by`` is what stands before them."""

    parts: tuple[Part, ...]
    by: str

    @property
    def start(self) -> int:
        return self.parts[0].start

    @property
    def end(self) -> int:
        return max(p.end for p in self.parts)

    def has(self, *names: str) -> bool:
        return any(p.role(n) for p in self.parts for n in names)


def is_light(part: Part) -> bool:
    """A word of no weight."""
    return part.kind == "phrase" and (part.role("fillers") is not None or part.role("examined") is not None)


def segments(parts: list[Part]) -> list[Segment]:
    """Cut a sentence; attributes of a medicine or treatment that stand behind a comma are put to it."""
    out: list[Segment] = []
    row: list[Part] = []
    by = ""

    def close(sign: str) -> None:
        nonlocal row, by
        if any(not is_light(p) for p in row):
            out.append(Segment(tuple(row), by))
            by = ""
        row = []
        by = _joined(by, sign)

    for at, part in enumerate(parts):
        if _encloses(parts, at):
            close("," if part.text == "(" else ")")
            continue
        sign = separators().get(part.text.lower(), "") if part.kind == "phrase" and not _says(part) else ""
        if sign == "." and _is_short(parts, at, row):
            continue
        if sign and (_joins_levels(parts, at) or (sign == "," and _joins_number(parts, at, row))):
            continue
        if (
            part.text == "/"
            and parts[at - 1].role("quality")
            and [p.kind for p in parts[at + 1 : at + 2]] == ["score"]
        ):
            sign = ","  # "NRS 6 average/9 worst"
        if sign:
            close(sign)
            continue
        heavy = [p for p in row if not is_light(p)]
        if heavy and _is_treated(part, heavy, parts, at):
            close("with")
        elif heavy and _opens(part, heavy, parts, at):
            close("")
        row.append(part)
    close("")
    return _with_shared_results(_grouped(out))


def _joins_levels(parts: list[Part], at: int) -> bool:
    """``L4/5 and L5/S1 facet injections``: two discs of one thing."""
    around = parts[max(0, at - 1) : at] + parts[at + 1 : at + 2]
    return len(around) == 2 and all(p.role("discs") for p in around)


def _is_short(parts: list[Part], at: int, row: list[Part]) -> bool:
    """``prev. smoker``, ``neg. fever``: a full stop that shortens a word."""
    before = parts[at - 1]
    if at == 0 or at + 1 == len(parts) or before.end != parts[at].start:
        return False
    told = any(
        p.roles and not is_light(p) and not any(p.role(n) for n in (*STATUS, "history")) for p in row[:-1]
    )
    first = () if told else alternatives("abbreviations_first")
    return before.text.lower() in (*alternatives("abbreviations"), *first)


def _joins_number(parts: list[Part], at: int, row: list[Part]) -> bool:
    """``Low back pain, 4 years``, ``a smoker, 20 per day``: the number is of what stands before the comma, and nothing stands behind it."""
    if [p.kind for p in parts[at + 1 : at + 2]] == ["day"] and [p.text for p in parts[at + 2 : at + 3]] == [
        ")"
    ]:
        return any(
            r.value["of"] in words().data["dated"] for p in row for r in p.roles if r.name == "numbers"
        )
    at = next((i for i in range(at + 1, len(parts)) if not is_light(parts[i])), len(parts)) - 1
    if at + 1 >= len(parts) or parts[at + 1].kind != "number":
        return False
    alone = at + 2 == len(parts) or parts[at + 2].text.lower() in separators()
    heavy = [p for p in row if not is_light(p) and not p.role("labels") and not p.role("state")]
    if parts[at + 1].unit == "cigarettes":
        return (
            alone
            and bool(heavy)
            and any(r.value["of"] == "cigarettes_per_day" for r in heavy[-1].roles if r.name == "numbers")
        )
    lasts = parts[at + 1].unit in ("month", "year")
    return alone and lasts and len(heavy) == 1 and heavy[0].role("back_pain") is not None


def _encloses(parts: list[Part], at: int) -> bool:
    """A parenthesis around a value with a label of its own: ``T2DM (HbA1c 58 mmol/mol)``."""
    if parts[at].text not in ("(", ")"):
        return False
    begin = next((i for i in range(at, -1, -1) if parts[i].text == "("), len(parts))
    return any(p.role("numbers") for p in parts[begin + 1 : begin + 2])


def _is_treated(part: Part, heavy: list[Part], parts: list[Part], at: int) -> bool:
    """``type 2 diabetes treated with metformin``, ``hypertension on ramipril``: a disease, and the medicine for it."""
    drug = at + 1 < len(parts) and parts[at + 1].role("medicines") is not None
    return bool(drug and heavy[-1].role("findings") and (part.role("treated") or part.text.lower() == "on"))


def _opens(part: Part, heavy: list[Part], parts: list[Part], at: int) -> bool:
    """Say whether a part begins another statement than the ``heavy`` ones before it."""
    if part.text.lower() == "who":
        return True  # "a nurse who has had ..."
    if any(part.role(n) for n in STATUS):
        if all(any(p.role(n) for n in STATUS) for p in heavy):
            return False  # "denies no fever" is one statement, and a double one
        return not (part.role("denied_behind") and _stands_last(parts, at))
    if (
        part.role("numbers")
        and any(p.role("numbers") for p in heavy)
        and any(p.kind == "number" for p in heavy)
    ):
        return True  # "Wt 79 kg BMI 30"
    if _begins_a_score(part, heavy):
        return True
    if part.role("taking"):
        return not any(p.role(n) for p in heavy for n in STATUS)
    return is_person(heavy) and not (is_person([part]) or part.role("sex_letters") or is_light(part))


def _begins_a_score(part: Part, heavy: list[Part]) -> bool:
    """``7/10 average 9/10 worst``, ``average 7/10 worst 9/10``: the next score begins as the first does."""
    row = [
        "score" if p.kind == "score" else "quality" for p in heavy if p.kind == "score" or p.role("quality")
    ]
    own = "score" if part.kind == "score" else "quality" if part.role("quality") else ""
    return len(row) == 2 == len(set(row)) and own == row[0]


def _says(part: Part) -> bool:
    return any(r.name not in ("fillers",) for r in part.roles)


def _joined(by: str, sign: str) -> str:
    if not by or not sign:
        return by or sign
    return sign if by in (",", ";", ")") else by


def _stands_last(parts: list[Part], at: int) -> bool:
    rest = next((p for p in parts[at + 1 :] if not is_light(p)), None)
    return rest is None or rest.text.lower() in separators()


def is_person(parts: list[Part]) -> bool:
    """Age with sex: what follows in the sentence is another statement."""
    if len(parts) == 1:
        return parts[0].unit == "year_old" or _sex(parts[0])
    return (
        len(parts) == 2
        and parts[0].kind == "number"
        and (_sex(parts[1]) or parts[1].role("sex_letters") is not None)
    )


def _sex(part: Part) -> bool:
    role = part.role("values")
    return role is not None and "sex" in role.value["says"]


def _grouped(rows: list[Segment]) -> list[Segment]:
    """Put to a medicine or treatment what follows it up to the next thing that has a name or a verb of its own."""
    out: list[Segment] = []
    for row in rows:
        head = out[-1] if out else None
        treated = head is not None and head.has("PT") and row.has("results")
        if head is not None and (treated or head.has(*_HEADS)) and _is_attribute(row):
            out[-1] = Segment((*head.parts, *row.parts), head.by)
        else:
            out.append(row)
    return out


def _with_shared_results(rows: list[Segment]) -> list[Segment]:
    """Put the result behind a list to each that is listed with nothing of its own: ``naproxen and physiotherapy did not help``."""
    out = list(rows)
    for n, row in enumerate(rows):
        results = [p for p in row.parts if p.role("results")]
        own = [p for p in row.parts if p.kind == "number" or p.kind == "day"]
        behind = (
            any(p.role(n) and p.start < results[0].start for p in row.parts for n in _TREATED)
            if results
            else False
        )
        if len(results) != 1 or own or not behind or _of_one(row, results[0]):
            continue
        at = n
        while (
            at
            and out[at].by in (",", "and", "or")
            and not (at < n and _tells(out[at]))
            and _is_bare(out[at - 1])
        ):
            if _tells(row):
                break
            at -= 1
            out[at] = Segment((*out[at].parts, results[0]), out[at].by)
    return out


def _of_one(row: Segment, result: Part) -> bool:
    """Say whether a result is of the thing before it alone: in a bracket behind it, or that it was not tolerated."""
    told = result.role("results")
    bracketed = any(p.text == "(" and p.start < result.start for p in row.parts)
    return bracketed or (told is not None and told.value == "not_tolerated")


_COMBINED = re.compile(r"\d+(?:\.\d+)?[/-]\d+(?:\.\d+)?")
"""The doses of a medicine of two: ``5/325``."""
_TREATED = ("treatments", "PT", "medicines", "other_care")


def _tells(row: Segment) -> bool:
    return row.has("done", "taking")


def _is_bare(row: Segment) -> bool:
    heavy = [p for p in row.parts if not is_light(p) or p.role("PT")]
    return any(p.role(n) for p in heavy for n in _TREATED) and all(
        any(p.role(n) for n in (*_TREATED, "qualifiers", "supervised", "done")) for p in heavy
    )


def _names_another(row: Segment) -> bool:
    """``ramipril 5 mg``: a word that is not known with a dose of its own is another medicine, not more of the one before."""
    first = next((p for p in row.parts if not is_light(p)), None)
    dosed = any(p.kind == "number" and p.unit in ("mg", "mcg") for p in row.parts) or any(
        _COMBINED.fullmatch(dose.text) and unit.text.lower() in ("mg", "mcg")
        for dose, unit in pairwise(row.parts)
    )
    return first is not None and first.kind == "phrase" and not first.roles and dosed


def _is_attribute(row: Segment) -> bool:
    if _names_another(row):
        return False
    if row.by not in (",", ";", "") or row.has(
        *_HEADS, *_TAKES_NOUN, "other_care", "findings", "values", "numbers", "allergens"
    ):
        return row.has("relief", "results") and not row.has(
            "findings", "values", "numbers", "other_care", *_HEADS
        )
    return not row.has("deny", "deny_all")
