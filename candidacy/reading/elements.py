"""What a reading says, as facts of the case record, each with the words behind it.

The mapping is data (``to_elements.yaml``); here are only the ways in which several findings of one kind join.
"""

import re
from collections.abc import Iterable, Sequence
from functools import cache
from typing import Any, NamedTuple

from candidacy.case.catalogue import catalogue
from candidacy.case.reader_notes import READER
from candidacy.case.record import FactEntry
from candidacy.reading.data_files import rows_of
from candidacy.reading.fractures import of_recent_alone
from candidacy.reading.levels import LUMBAR, LUMBAR_SIX
from candidacy.reading.model import (
    ABSENT,
    APPROXIMATE,
    BODY,
    POSSIBLE,
    PRESENT,
    Contradiction,
    Finding,
    Reading,
    Span,
    Value,
)
from candidacy.reading.ranges import conflict_note, range_of

PATIENT = "patient"
BY = READER
DAYS_DIFFER = "another day was given than the report states"
_ONLY_RECENT = "only a recent one is denied, not an older one that nobody explained"
_ONE_SIDE = "denied of one side only"
DENIED_IN_PART = frozenset((_ONLY_RECENT, _ONE_SIDE))
"""Notes of what is left open by a denial that does not reach far enough, not by a doubt."""
_MAX_WORDS = 1500
"""So many characters of quotations; a quotation is kept whole or left out, never cut."""
_USED = frozenset((*BODY, ""))
_BLANKET = frozenset(("displacement", "canal_stenosis", "neural_compression"))
_DATES = {"mri": "lumbar_mri_date", "ct": "lumbar_ct_date", "radiograph": "lumbar_radiograph_date"}
_STANDARD = LUMBAR
_PARTIAL = frozenset(("page_without_text", "layout", "template", "language", "left_out"))
"""Marks of a report that was read in part."""
_DEGENERATION = frozenset(("pfirrmann_grade", "modified_pfirrmann_grade"))


class ReadFact(NamedTuple):
    """One fact for a case record: of the patient or of a disc, with the findings it rests on.

    ``perhaps`` is what it would be if what the source itself doubts were certain; without a value where that is not clear.
    """

    subject: str
    element: str
    entry: FactEntry
    spans: tuple[Span, ...]
    perhaps: FactEntry | None = None


@cache
def mapping() -> dict[str, Any]:
    """How kinds of finding become elements, as written in ``to_elements.yaml``."""
    loaded: dict[str, Any] = rows_of("to_elements")
    return loaded


def facts(reading: Reading, source: str = "", day: str = "", status: str = "") -> tuple[ReadFact, ...]:
    """Give the facts a case record can take from a reading.

    Parameters
    ----------
    source
        Key of the document in the case record, written into every fact.
    day
        Day of the study (``YYYY-MM-DD``) as given from outside; it dates the MRI or CT. Without it the day
        that the report states is used (`Reading.exam_date`).
    status
        ``preliminary``, ``final`` or ``amended``, where the message that brought the report says so.

    Notes
    -----
    A doubtful finding becomes ``unknown: uncertain_in_source``. Where the report contradicts itself, the fact is the
    range that holds both values if they have an order, and ``unknown: conflicting`` if not; its note begins with
    "sources conflict" and quotes both. What the report does not state gives no fact.
    """
    used = [f for f in reading.findings if f.section in _USED or f.kind == "prior_surgery"]
    rules = mapping()
    conflicts: dict[tuple[str, str], list[Contradiction]] = {}
    for c in reading.contradictions:
        conflicts.setdefault((c.disc, c.kind), []).append(c)
    out: list[ReadFact] = []
    for disc in _discs(reading, used):
        for name, rule in rules["disc"].items():
            kind = rule.get("of", name)
            rows = [f for f in used if f.disc == disc and f.kind == kind] or _blanket(used, kind, disc)
            _add(out, disc, rule, rows, conflicts.get((disc, kind), ()), reading, source)
        _ungraded_slip(
            out, disc, [f for f in used if f.disc == disc and f.kind == "listhesis"], reading, source
        )
    for kind, rule in rules["patient"].items():
        also = [f for f in used if f.kind in rule.get("with", ()) and f.status != ABSENT]
        rows = [f for f in used if f.kind == kind or f in also]  # "no hardware" denies no surgery
        _add(out, PATIENT, rule, rows, conflicts.get(("", kind), ()), reading, source)
    _date(out, reading, day, source)
    _of_the_report(out, reading, status, source)
    return tuple(f for f in out if not _told_twice(f, out))


def _told_twice(fact: ReadFact, out: Sequence[ReadFact]) -> bool:
    """A value that follows from others the report states is left out: a case record states a fact once."""
    stated = {f.element for f in out if f.subject == fact.subject}
    return any(set(inputs) <= stated for inputs in catalogue()[fact.element].inputs)


def _of_the_report(out: list[ReadFact], reading: Reading, status: str, source: str) -> None:
    """Facts about the report itself: its status, whether every disc is described, whether grades have a scale."""

    def put(element: str, value: str | bool, note: str) -> None:
        if not any(f.element == element for f in out):
            extra = {"by": BY, "note": note} | ({"source": source} if source else {})
            out.append(ReadFact(PATIENT, element, FactEntry.model_validate({"value": value} | extra), ()))

    if status:
        put("report_status", status, "status of the message")
    for mark in reading.marks:
        if mark.kind in ("preliminary", "amended"):
            put("report_status", mark.kind, mark.about)
    if any(mark.kind in _PARTIAL for mark in reading.marks):
        return  # what was not read may describe the discs that seem to be left out
    described = {f.disc for f in reading.findings if f.section in _USED and f.status in (PRESENT, ABSENT)}
    six = bool(described & {"L5-L6", "L6-S1"})
    wanted = LUMBAR_SIX if six else LUMBAR
    if described & set(wanted):
        left = [d for d in wanted if d not in described]
        put(
            "report_covers_every_lumbar_disc",
            not left,
            f"not described: {', '.join(left)}" if left else "all described",
        )
    if any(f.kind in _DEGENERATION for f in reading.findings):
        put("degeneration_scale_named", True, "a degeneration grade has its scale")
    elif any(u.reason == "scale not stated" for u in reading.not_understood):
        put("degeneration_scale_named", False, "a grade is written without its scale")


def _date(out: list[ReadFact], reading: Reading, given: str, source: str) -> None:
    """Date the MRI or CT, by the day given before the day that the report states."""
    stated = reading.exam_date
    modality = next((f for f in out if f.element == "imaging_modality"), None)
    element = _DATES.get(str(modality.entry.value)) if modality is not None else None
    if modality is None or element is None or not (given or stated):
        return
    extra = {"by": BY} | ({"source": source} if source else {})
    spans = modality.spans
    if stated is not None:
        words = " ".join(reading.words(stated.span).split())
        if not given:
            spans, extra = (stated.span,), extra | {"words": words}
        elif given != stated.day:
            extra["note"] = f"{DAYS_DIFFER}: the report says {words}"
    value = {"value": given or (stated.day if stated is not None else "")}
    out.append(ReadFact(PATIENT, element, FactEntry.model_validate(value | extra), spans))


def _discs(reading: Reading, used: Sequence[Finding]) -> tuple[str, ...]:
    """Discs the report speaks of; all five where it denies something of the whole study."""
    named = list(reading.discs_named)
    if any(_blanket(used, kind, "") for kind in _BLANKET):
        named += [d for d in _STANDARD if d not in named]
    return tuple(d for d in ("T11-T12", "T12-L1", *_STANDARD, "L5-L6", "L6-S1") if d in named)


def _blanket(used: Sequence[Finding], kind: str, disc: str) -> list[Finding]:
    """``No disc herniation`` without a disc's name is said of every lumbar disc."""
    if kind not in _BLANKET or (disc and disc not in _STANDARD):
        return []
    return [
        f for f in used if f.kind == kind and not f.disc and f.placed == "unplaced" and f.status == ABSENT
    ]


def _add(
    out: list[ReadFact],
    subject: str,
    rule: dict[str, Any],
    rows: Sequence[Finding],
    conflict: Sequence[Contradiction],
    reading: Reading,
    source: str,
) -> None:
    rows = [f for f in rows if f.status in (PRESENT, ABSENT, POSSIBLE)]
    if not rows:
        return
    said = [f for f in rows if f.status == PRESENT]
    doubted = [f for f in rows if f.status == POSSIBLE]
    absent = [f for f in rows if f.status == ABSENT]
    denied = _of_both_sides(absent)
    if conflict:
        form: dict[str, Any] | None = range_of(rule["element"], rule, rows, conflict)
        form = form or {"unknown": "conflicting"}
    else:
        form = _FORMS[rule["form"]](rule, said, doubted, denied, reading)
    one_side = (
        form is None
        and len(denied) < len(absent)
        and _FORMS[rule["form"]](rule, said, doubted, absent, reading) is not None
    )
    form = dict(_UNCERTAIN) if one_side else form
    if form is None:
        return
    basis = said or doubted or denied or absent
    spans = tuple(dict.fromkeys(f.quoted for f in (rows if conflict else basis)))
    entry: dict[str, Any] = {**form, "words": _joined(reading, spans), "by": BY}
    if subject != PATIENT and any(not f.disc for f in basis):
        entry["note"] = "said of the whole study"
    if conflict:
        entry["note"] = conflict_note(reading, rows, conflict)
    if one_side:
        entry["note"] = _ONE_SIDE
    if form == _UNCERTAIN and not (said or doubted) and any(of_recent_alone(reading, f) for f in denied):
        entry["note"] = _ONLY_RECENT
    if any(m.kind == APPROXIMATE for f in basis for m in f.modifiers):
        entry["note"] = "; ".join(filter(None, (entry.get("note", ""), "approximate, by its own words")))
    if source:
        entry["source"] = source
    perhaps: FactEntry | None = None
    if doubted and not conflict:
        certain = _FORMS[rule["form"]](rule, [*said, *doubted], [], denied, reading)
        perhaps = FactEntry.model_validate(certain or _UNCERTAIN)
    out.append(ReadFact(subject, rule["element"], FactEntry.model_validate(entry), spans, perhaps))


def _of_both_sides(denied: list[Finding]) -> list[Finding]:
    """``The right foramen is patent`` leaves the left one open: a denial of one side counts only beside that of the other."""
    told: dict[Value, set[str]] = {}
    for f in denied:
        told.setdefault(f.value, set()).update(f.sides)
    return [f for f in denied if not f.sides or len(told[f.value]) > 1]


def _joined(reading: Reading, spans: Iterable[Span]) -> str:
    """Join quotations, each whole; where there are too many, say how many are left out."""
    quotes = list(dict.fromkeys(" ".join(reading.words(s).split()) for s in spans))
    kept = quotes[:1]
    for quote in quotes[1:]:
        if sum(map(len, kept)) + len(quote) > _MAX_WORDS:
            break
        kept.append(quote)
    more = [f"({len(quotes) - len(kept)} more)"] if len(kept) < len(quotes) else []
    return " … ".join([*kept, *more])


_UNCERTAIN = {"unknown": "uncertain_in_source"}
_WEIGHT = re.compile(r"\bsignificant(?!\w* (?:evidence|sign|signs)\b)", re.IGNORECASE)
_SLIGHT = 2
"""So many grades of a scale are left open by "no significant stenosis": none and the least."""


def _of(values: Iterable[str], order: Sequence[str]) -> dict[str, Any]:
    """One value, or the open set in the order of the scale."""
    rest = [v for v in order if v in set(values)]
    return {"value": rest[0]} if len(rest) == 1 else {"one_of": rest}


def _choice(
    rule: dict[str, Any], said: list[Finding], doubted: list[Finding], denied: list[Finding], reading: Reading
) -> dict[str, Any] | None:
    values, order = rule["values"], rule["order"]
    options: list[list[str]] = [values[str(f.value)] for f in said if str(f.value) in values]
    doubts = {v for f in doubted for v in values.get(str(f.value), ())}
    mixed = _made_of(rule["made_of"], options) if "made_of" in rule else None
    if mixed is not None:
        return _of(mixed, order) if mixed else dict(_UNCERTAIN)
    if options:
        ranks = [(order.index(o[0]), -len(o), at) for at, o in enumerate(options)]
        top = options[max(ranks)[2]]
        named = {o[0] for o in options if len(o) == 1}
        if len(named) > 1 and not rule.get("ordered"):
            return _of(named, order)  # a slip forwards and one backwards: neither is more than the other
        exact = [o[0] for o in options if len(o) == 1 and o[0] in top]
        chosen = {max(exact, key=order.index)} if exact and len(top) > 1 else set(top)
        more = {v for v in doubts if order.index(v) > max(map(order.index, chosen))}
        return _of(chosen | more, order)
    if doubts:
        return dict(_UNCERTAIN)
    if not denied:
        return None
    open_too = rule.get("slight")
    outright = [
        f for f in denied if (open_too and str(f.value) not in open_too) or not _of_weight(f, reading)
    ]
    refused = {v for f in outright for v in values.get(str(f.value), ()) if v not in ("none", "0")}
    refused |= {v for lesser in refused for v in rule.get("denied_with", {}).get(lesser, ())}
    clear = any(f.value in ("none", "absent") for f in denied)
    rest = order[:1] if clear else [v for v in order if v not in refused]
    if len(outright) < len(denied) and rest == order:
        return dict(_UNCERTAIN)
    return _of(rest, order) if rest else None


def _of_weight(f: Finding, reading: Reading) -> bool:
    """``No significant bulge``, ``no fissure or significant stenosis``: a slight one is not denied."""
    return f.status == ABSENT and bool(_WEIGHT.search(reading.words(f.quoted)))


def _made_of(parts: dict[str, list[str]], options: Sequence[Sequence[str]]) -> list[str] | None:
    """Give the codes that hold all that different statements name; nothing where they name the same."""
    told = [{tuple(parts.get(code, ())) for code in each} for each in options]
    exact = {some for each in told if len(each) == 1 for some in each if some}
    if len(exact) < 2:
        return None
    held = {part for some in exact for part in some}
    return [code for code, some in parts.items() if set(some) == held]


def _yes_no(
    rule: dict[str, Any], said: list[Finding], doubted: list[Finding], denied: list[Finding], reading: Reading
) -> dict[str, Any] | None:
    if "rules" in rule:  # a narrow or open foramen alone says nothing of sac and roots
        said, doubted, denied = (
            [f for f in rows if f.rule in rule["rules"]] for rows in (said, doubted, denied)
        )
    denied = [f for f in denied if f.rule not in rule.get("narrow", ())]  # "no facet cyst" denies no tumour
    if said and "true_of" in rule and not any(f.value in rule["true_of"] for f in said):
        return dict(_UNCERTAIN)  # contact is not yet compression
    if any(f.value != "absent" for f in said):
        return {"value": True}
    if doubted or any(of_recent_alone(reading, f) for f in denied):
        return dict(_UNCERTAIN)
    if denied and all(f.severity or _of_weight(f, reading) for f in denied):
        return dict(_UNCERTAIN)  # "no severe desiccation", "no significant fissure" leave a lesser one open
    return {"value": False} if denied else None


def _graded(
    rule: dict[str, Any], said: list[Finding], doubted: list[Finding], denied: list[Finding], reading: Reading
) -> dict[str, Any] | None:
    if said and all(f.rule == "stenosis_alone" for f in said):
        return dict(_UNCERTAIN)  # of the canal or of a foramen: the words do not say
    scale = catalogue()[rule["element"]].codes
    if said:
        sets = [_severities(f, rule["open"], scale) for f in said]
        if rule.get("worst"):
            best = max(sets, key=lambda s: (len(s) < len(rule["open"]), max(map(scale.index, s))))
            return _of(best, scale)
        common = set.intersection(*map(set, sets))
        return _of(common, scale) if common else {"unknown": "conflicting"}
    if doubted:
        return dict(_UNCERTAIN)
    limits = [min(map(scale.index, f.severity)) for f in denied if f.severity and f.value != "none"]
    limits += [_SLIGHT for f in denied if not f.severity and f.value != "none" and _of_weight(f, reading)]
    if limits and len(limits) == len(denied):  # "no severe stenosis" leaves the lesser ones open
        return _of(scale[: max(1, min(limits))], scale)
    return {"value": "none"} if denied else None


def _severities(f: Finding, ungraded: Sequence[str], scale: Sequence[str]) -> tuple[str, ...]:
    """The grades that a finding may mean: as its words say, or that its kind leaves open without any."""
    if isinstance(f.value, str) and f.value in ungraded:
        return (f.value,)
    if not f.severity:
        return tuple(ungraded)
    low, high = (scale.index(f.severity[i]) for i in (0, -1))
    return tuple(scale[low : high + 1])


_LIMITS = {"<": "less_than", "≤": "at_most", ">": "more_than", "≥": "at_least"}


def _number(
    rule: dict[str, Any], said: list[Finding], doubted: list[Finding], denied: list[Finding], reading: Reading
) -> dict[str, Any] | None:
    if not said:
        return dict(_UNCERTAIN) if doubted else None
    limits = {f.value for f in said if isinstance(f.value, str) and f.value[:1] in _LIMITS}
    exact = [f.value for f in said if f.value not in limits]
    if limits and not exact:
        if len(limits) > 1:
            return dict(_UNCERTAIN)
        mark, number = limits.pop().split(" ")
        return {_LIMITS[mark]: float(number), "unit": rule["unit"]}
    values = sorted({float(v) for each in exact for v in (each if isinstance(each, tuple) else (each,))})
    if len(values) == 1:
        return {"value": values[0], "unit": rule["unit"]}
    return {"between": [values[0], values[-1]], "unit": rule["unit"]}


def _grade(
    rule: dict[str, Any], said: list[Finding], doubted: list[Finding], denied: list[Finding], reading: Reading
) -> dict[str, Any] | None:
    if not said:
        return dict(_UNCERTAIN) if doubted else None
    values: list[Any] = []
    for f in said:
        values += [f.value] if not isinstance(f.value, tuple) else list(f.value)
    among = rule.get("among", {})
    values = [v for value in values for v in among.get(value, [value])]
    if rule.get("integer"):
        if any(not str(v).isdigit() for v in values):
            return dict(_UNCERTAIN)  # a double entry such as 4/7 is kept as words
        values = [int(v) for v in values]
        low, high = min(values), max(values)
        return {"value": low} if low == high else {"between": [low, high]}
    found = list(dict.fromkeys(values))
    return {"value": found[0]} if len(found) == 1 else {"one_of": found}


def _words(
    rule: dict[str, Any], said: list[Finding], doubted: list[Finding], denied: list[Finding], reading: Reading
) -> dict[str, Any] | None:
    return dict(_UNCERTAIN) if said or doubted else None


def _site(
    rule: dict[str, Any], said: list[Finding], doubted: list[Finding], denied: list[Finding], reading: Reading
) -> dict[str, Any] | None:
    codes: dict[str, None] = {}
    for f in said:
        sides = f.sides or ("right", "left")
        for site in f.value if isinstance(f.value, tuple) else (str(f.value),):
            if site == "central" and (not f.sides or f.value == "central"):
                codes["central"] = None
            else:
                codes.update((f"{side}_{site}", None) for side in sides)
    if not codes:
        return dict(_UNCERTAIN) if doubted else None
    found = list(codes)
    return {"value": found[0]} if len(found) == 1 else {"one_of": found}


def _named(
    rule: dict[str, Any], said: list[Finding], doubted: list[Finding], denied: list[Finding], reading: Reading
) -> dict[str, Any] | None:
    """By its name: the narrowest of what the names leave open; nothing where they name two."""
    found = set()
    for f in said:
        words = reading.words(f.evidence).lower()
        found |= {tuple(n["is"]) for n in rule["names"] if any(w in words for w in n["words"])}
    narrow = [codes for codes in found if not any(set(other) < set(codes) for other in found)]
    return _of(narrow[0], rule["order"]) if len(narrow) == 1 else None


def _numbering(
    rule: dict[str, Any], said: list[Finding], doubted: list[Finding], denied: list[Finding], reading: Reading
) -> dict[str, Any] | None:
    low = reading.words(said[0].evidence).lower() if said else ""
    code = next((code for words, code in mapping()["numbering"] if words in low), "other")
    return {"value": code} if said else None


_FORMS = {
    "choice": _choice,
    "yes_no": _yes_no,
    "graded": _graded,
    "number": _number,
    "grade": _grade,
    "words": _words,
    "named": _named,
    "site": _site,
    "numbering": _numbering,
}


def _ungraded_slip(
    out: list[ReadFact], disc: str, rows: list[Finding], reading: Reading, source: str
) -> None:
    """A slip without its grade leaves the grade open; a denied one has none."""
    if any(f.subject == disc and f.element == "meyerding_grade" for f in out):
        return
    direction = next((f for f in out if f.subject == disc and f.element == "slip_direction"), None)
    if direction is None or direction.entry.unknown is not None:
        return
    form: dict[str, Any]
    if direction.entry.value == "none":
        form = {"value": "none"}
    elif "none" in (direction.entry.one_of or ()):
        return
    else:
        form = {"one_of": [code for code in catalogue()["meyerding_grade"].codes if code != "none"]}
    extra = {"words": direction.entry.words, "by": BY} | ({"source": source} if source else {})
    out.append(ReadFact(disc, "meyerding_grade", FactEntry.model_validate(form | extra), direction.spans))
