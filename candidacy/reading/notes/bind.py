"""What one clause says of its discs: labels, numbers and words brought together, each used once.

Whatever weighs and is not used takes back what stands beside it: a number without its label, a denial of nothing, a
doubt. The clause is cut into stretches, one for each disc it names, and these at commas.
"""

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from candidacy.reading.model import Span
from candidacy.reading.notes.model import PATIENT, Said
from candidacy.reading.notes.quantities import Part, parts_of
from candidacy.reading.notes.vocabulary import items, vocabulary

_PRESSURE = ("psi", "kPa")
_PRESSURES = {
    "opening": "discography_opening_pressure",
    "pain_pressure": "discography_pain_pressure",
    "peak": "discography_peak_pressure",
}
_OF_PATIENT = frozenset(
    ("discography_sedation", "discography_manometry", "discography_antibiotic_given", "discography_needle_gauge")
)
_ROMAN = {"i": 1.0, "ii": 2.0, "iii": 3.0, "iv": 4.0, "v": 5.0}
_EVERY = "*"
"""The subject of what is said of all discs that were injected."""


class Bound(NamedTuple):
    """What a clause gave: values, and the stretches that were not used, each with its reason."""

    said: list[Said]
    missed: list[tuple[Span, str]]


class _Stretch:
    """The part of a clause that speaks of one set of subjects, while it is read."""

    def __init__(self, parts: list[Part], subjects: Sequence[str], kind: str, anaesthetic: bool) -> None:
        self.parts, self.subjects, self.kind = parts, subjects, kind
        self.said: list[tuple[Said, int]] = []
        self.painless = self.pain = False
        self.agents = [i for i, p in enumerate(parts) for r in p.item.roles_of("say") if "agent" in r.value["is"]]
        self.anaesthetic = bool(self.agents) or (anaesthetic and kind == "discography")
        self.unplaced: list[tuple[Span, str]] = []

    def put(self, element: str, form: dict[str, Any], at: int, last: int | None = None, note: str = "") -> None:
        """Note a value that rests on the parts ``at`` to ``last``."""
        low, high = sorted((at, at if last is None else last))
        span = Span(self.parts[low].start, max(p.end for p in self.parts[low : high + 1]))
        subjects = (PATIENT,) if element in _OF_PATIENT or self.kind == "procedure" else self.subjects
        if not subjects:
            self.unplaced.append((span, "which disc is meant is not stated"))
        for subject in subjects:
            self.said.append((Said(subject, element, dict(form), span, note), at))

    def before(self, at: int, want: Callable[[Part], bool], over: Callable[[Part], bool] | None = None) -> int:
        """Give the nearest fitting part before another with nothing but fillers between, or -1."""
        return self._look(range(at - 1, -1, -1), want, over)

    def after(self, at: int, want: Callable[[Part], bool], over: Callable[[Part], bool] | None = None) -> int:
        """The same behind it."""
        return self._look(range(at + 1, len(self.parts)), want, over)

    def _look(self, places: range, want: Callable[[Part], bool], over: Callable[[Part], bool] | None) -> int:
        for i in places:
            part = self.parts[i]
            if not part.used and want(part):
                return i
            if part.item.text == "," or not (part.is_filler() or (over is not None and over(part))):
                return -1
        return -1


def bind(
    text: str, span: Span, discs: tuple[str, ...], kind: str, anaesthetic: bool, label: str = "", unit: str = ""
) -> Bound:
    """Read one clause.

    Parameters
    ----------
    discs
        The disc that the place of the clause gives it, where it names none itself.
    anaesthetic
        The note is of an anaesthetic test of discs.
    label, unit
        Of the column, for a cell.
    """
    parts = parts_of(items(text, *span))
    for name, why in (
        ("past", "of an earlier time"),
        ("mood", "not said to be so"),
        ("others", "of another person or place"),
    ):
        if any(p.is_(name) for p in parts):
            return Bound([], [(span, why)] if _weighs(parts) else [])
    questioned = bool(parts) and parts[-1].item.text == "?"
    if (questioned or any(p.is_("hedges_all") for p in parts)) and _weighs(parts):
        return Bound([], [(span, "doubted")])
    if label:
        return _cell(text, parts, span, discs, kind, anaesthetic, label, unit)
    if any(p.is_("compare") for p in parts) and any(p.is_("discs") for p in parts):
        return Bound([], [(span, "compares discs")] if _weighs(parts) else [])
    said: list[Said] = []
    missed: list[tuple[Span, str]] = []
    stretches = _stretches(parts, discs)
    if stretches is None:
        return Bound([], [(span, "which value belongs to which disc is open")])
    for row, subjects in stretches:
        some = _read(_Stretch(row, subjects, kind, anaesthetic))
        said += some.said
        missed += some.missed
    return Bound(said, missed)


def _weighs(parts: list[Part]) -> bool:
    return any(
        p.low is not None or p.is_("say") or (p.is_("label") and not p.is_filler()) for p in parts
    )


# -- which stretch belongs to which disc ---------------------------------------------------------------------------


def _stretches(parts: list[Part], discs: tuple[str, ...]) -> list[tuple[list[Part], tuple[str, ...]]] | None:
    """Cut a clause at the discs it names; ``None`` where it is open which value belongs to which disc."""
    groups = _groups(parts)
    if any(p.is_("respectively") for p in parts):
        return _in_turn(parts, groups)
    if any(p.is_("all_discs") for p in parts):
        return [(_without(parts, groups), (_EVERY,))] if not groups else None
    if not groups:
        return [(parts, discs)]
    if len(groups) == 1:
        return [(_without(parts, groups), groups[0][2])]
    first = next((i for i, p in enumerate(parts) if _heavy(p)), len(parts))
    starts = [g[0] for g in groups]
    if first > groups[0][0]:  # discs first, each with what follows it
        ends = [*starts[1:], len(parts)]
        return [(parts[g[1] : e], g[2]) for g, e in zip(groups, ends, strict=True)]
    lead = parts[: groups[0][0]]
    if [p for p in lead if p.low is not None or p.is_("say")]:  # values first, each with the disc behind it
        begins = [0, *(g[1] for g in groups[:-1])]
        tail = parts[groups[-1][1] :]
        if any(_heavy(p) for p in tail):
            return None
        head = next((p for p in lead if p.is_("label") and not p.is_("say")), None)
        rows = []
        for number, (b, g) in enumerate(zip(begins, groups, strict=True)):
            row = parts[b : g[0]]
            while row and row[0].item.text in (",", "and"):
                row = row[1:]
            if number and head is not None and not any(p.is_("label") and not p.is_filler() for p in row):
                row = [_again(head), *row]
            rows.append((row, g[2]))
        return rows
    labels = [p for p in lead if p.is_("label") and not p.is_filler()] or [p for p in lead if p.is_("label")]
    if len(labels) != 1 or any(p.is_("negations") for p in lead):
        return None
    ends = [*starts[1:], len(parts)]
    return [([_again(labels[0]), *parts[g[1] : e]], g[2]) for g, e in zip(groups, ends, strict=True)]


def _again(part: Part) -> Part:
    return Part(part.item, part.item.end)


def _heavy(part: Part) -> bool:
    if part.low is not None or part.is_("say"):
        return True
    return part.is_("label") and not part.is_filler() and any(
        r.value not in ("levels", "unheld") for r in part.item.roles_of("label")
    )


def _groups(parts: list[Part]) -> list[tuple[int, int, tuple[str, ...]]]:
    """Discs named together, as (first part, part after the last, discs)."""
    out: list[tuple[int, int, tuple[str, ...]]] = []
    for i, part in enumerate(parts):
        if not part.is_("discs"):
            continue
        discs = part.item.role("discs").value  # type: ignore[union-attr]
        gap = [p.item.text.lower() for p in parts[out[-1][1] : i]] if out else ["?"]
        if out and gap and all(w in (",", "and", "&", "the", "/") for w in gap):
            out[-1] = (out[-1][0], i + 1, (*out[-1][2], *discs))
        else:
            out.append((i, i + 1, discs))
    return out


def _without(parts: list[Part], groups: list[tuple[int, int, tuple[str, ...]]]) -> list[Part]:
    """The parts without the names of discs; these are fillers from here on."""
    inside = {i for g in groups for i in range(g[0], g[1])}
    for i, part in enumerate(parts):
        if i in inside or part.is_("all_discs"):
            part.used = True
    return [p for p in parts if not p.used]


def _in_turn(
    parts: list[Part], groups: list[tuple[int, int, tuple[str, ...]]]
) -> list[tuple[list[Part], tuple[str, ...]]] | None:
    """``at L2-3 and L3-4 were 25 and 27 psi respectively``: as many values as discs, in their order."""
    if len(groups) != 1:
        return None
    discs = groups[0][2]
    numbers = [p for p in parts if p.low is not None]
    labels = [p for p in parts if p.is_("label") and not p.is_filler()]
    says = [p for p in parts if p.is_("say")]
    clear = not any(p.is_(n) for p in parts for n in ("negations", "hedges", "bounds"))
    if not clear or len(discs) < 2:
        return None
    if len(numbers) == len(discs) and not says and len(labels) == 1:
        unit = numbers[-1].unit
        if any(p.unit not in ("", unit) for p in numbers):
            return None
        for p in numbers:
            p.unit = unit
        return [([_again(labels[0]), p], (d,)) for p, d in zip(numbers, discs, strict=True)]
    if len(says) == len(discs) and not numbers:
        return [([p], (d,)) for p, d in zip(says, discs, strict=True)]
    return None


# -- one stretch ---------------------------------------------------------------------------------------------------


def _read(row: _Stretch) -> Bound:
    _answers(row)
    _says(row)
    row.pain |= any(p.unit == "score" and (p.high or 0) > 0 for p in row.parts)
    for i, part in enumerate(row.parts):
        if part.low is not None and not part.used:
            _number(row, i)
    return _settle(row)


def _label(*names: str) -> Callable[[Part], bool]:
    return lambda p: p.low is None and any(r.value in names for r in p.item.roles_of("label"))


def _answers(row: _Stretch) -> None:
    """``Leak: no``, ``Concordance: exact``, ``Peak: not recorded``: an answer right after a label."""
    labels = vocabulary().labels
    for i, part in enumerate(row.parts):
        if part.low is not None or part.used or not part.is_("label"):
            continue
        j = i + 1
        colon = False
        while j < len(row.parts) and row.parts[j].item.text in (":", "=", "-", "–", ",", "was", "were", "is"):
            colon |= row.parts[j].item.text in (":", "=")
            j += 1
        if j >= len(row.parts) or row.parts[j].low is not None:
            continue
        answer = row.parts[j]
        names = {r.value for r in part.item.roles_of("label")}
        found = next((r.value for r in answer.item.roles_of("labelled") if r.value["of"] in names), None)
        given = {r.value for r in answer.item.roles_of("answers")}
        if "missing" in given:
            part.used = answer.used = True
        elif not colon:
            continue
        elif found is not None and _ends(row, j):
            _take_say(row, found["is"], i, j)
        elif given and _ends(row, j):
            name = next(iter(names))
            entry = labels[name]
            _take_answer(row, entry, given, i, j)


def _ends(row: _Stretch, at: int) -> bool:
    """Say whether a part is the last of its comma's stretch."""
    return at + 1 >= len(row.parts) or row.parts[at + 1].item.text in (",", ";", ")", ".", "(", "|")


def _take_answer(row: _Stretch, entry: dict[str, Any], given: set[str], i: int, j: int) -> None:
    name = entry["of"]
    form = "yes" if "yes" in given else "no" if "no" in given else "none_is"
    value = entry.get(form) or (entry.get("none_is") if form == "no" else None)
    if value is None:
        return
    row.parts[i].used = row.parts[j].used = True
    if value in ("no_pain", "score_zero"):
        _painless(row, i, j)
    elif value == "sedation_none":
        row.put("discography_sedation", {"value": "none"}, i, j)
    elif value in ("true", "false"):
        element = {"leak": "discography_leak", "manometry": "discography_manometry",
                   "antibiotic": "discography_antibiotic_given", "steroid": "steroid"}[name]  # fmt: skip
        row.put(element, {"value": value == "true"}, i, j)


def _painless(row: _Stretch, i: int, j: int) -> None:
    row.painless = True
    row.put("discography_concordance", {"value": "none"}, i, j)
    row.put("discography_pain_pressure", {"unknown": "not_applicable"}, i, j, "no pain was reported")


def _form(value: Any) -> dict[str, Any]:
    if isinstance(value, list):
        return {"one_of": list(value)}
    return {"value": {"true": True, "false": False}.get(value, value)}


def _take_say(row: _Stretch, said: dict[str, Any], i: int, j: int) -> None:
    for k in range(min(i, j), max(i, j) + 1):
        row.parts[k].used = True
    for element, value in said.items():
        if element == "discography_concordance" and value == "none":
            _painless(row, i, j)
            continue
        row.pain |= element == "discography_concordance" and "none" not in value
        row.put(element, _form(value), i, j)


def _says(row: _Stretch) -> None:
    """Words that are a value by themselves, turned round by a denial before them."""
    denied_before = -1
    for i, part in enumerate(row.parts):
        role = None if part.low is not None or part.used else part.item.role("say")
        if role is None or "annulus" in role.value["is"] or _asked(row, i):
            continue
        entry = role.value
        at = row.before(i, lambda p: p.is_("negations"), _between_denied)
        if at < 0 and denied_before >= 0 and _or_between(row, denied_before, i):
            at = denied_before
        if _taken_back(row, at if at >= 0 else i):
            continue
        if at >= 0:
            if "denied" in entry:
                row.parts[at].used = True
                _take_say(row, entry["denied"], i, i)
                row.said[-1:] = [_wider(row, s, at) for s in row.said[-1:]]
                denied_before = i
            continue
        label = row.before(i, lambda p: p.is_("label") and not p.is_("say"))
        if label >= 0 and any(_fits(r.value, entry["is"]) for r in row.parts[label].item.roles_of("label")):
            row.parts[label].used = True
        if entry.get("drug"):
            part.used = True
            if any(p.is_("intradiscal") for p in row.parts):
                row.put("discography_intradiscal_antibiotic", {"value": True}, i)
            elif label >= 0 or any(p.is_("given") for p in row.parts):
                row.put("discography_antibiotic_given", {"value": True}, i)
            else:
                row.unplaced.append((Span(part.start, part.end), "whether it was given is not said"))
            continue
        _take_say(row, entry["is"], i, i)


def _asked(row: _Stretch, i: int) -> bool:
    """A label with its colon asks, it does not say: the answer behind it was read, or was not understood."""
    colon = i + 1 < len(row.parts) and row.parts[i + 1].item.text in (":", "=", "?")
    return colon and row.parts[i].is_("label")


def _taken_back(row: _Stretch, i: int) -> bool:
    """An adverb that is not known stands before the words: "vaguely concordant" is not concordant for certain."""
    ends = tuple(vocabulary().data["doubtful_endings"])
    for before in reversed(row.parts[:i]):
        if before.low is None and not before.item.roles:
            return before.item.text.lower().endswith(ends)
        if not before.is_filler() or before.item.text == ",":
            return False
    return False


def _between_denied(part: Part) -> bool:
    return part.low is None and part.item.text.lower() in ("any", "evidence", "sign", "further", "significant")


def _or_between(row: _Stretch, first: int, last: int) -> bool:
    gap = row.parts[first + 1 : last]
    joined = [p for p in gap if p.low is None and p.item.text.lower() in ("or", "nor")]
    if not joined or not all(p.is_filler() or p in joined for p in gap):
        return False
    for p in joined:
        p.used = True
    return True


def _wider(row: _Stretch, said: tuple[Said, int], at: int) -> tuple[Said, int]:
    """The words of a denied value begin with the denial."""
    one, place = said
    return one._replace(span=Span(min(one.span.start, row.parts[at].start), one.span.end)), place


def _fits(label: str, said: dict[str, Any]) -> bool:
    element = next(iter(said))
    return label in element or (label == "result" and element == "result")


def _value(part: Part, unit: str | None) -> dict[str, Any]:
    low, high = part.low, part.high
    made: dict[str, Any]
    if part.bound:
        made = {part.bound: low if part.bound in ("at_least", "more_than") else high}
    elif low == high:
        made = {"value": low}
    else:
        made = {"between": [low, high]}
    return made | ({"unit": unit} if unit else {})


def _number(row: _Stretch, i: int) -> None:
    part = row.parts[i]
    by_unit = {"mL": _millilitres, "%": _percent, "score": _score, "": _bare}
    if part.unit in _PRESSURE:
        _pressure(row, i)
    elif part.unit in by_unit:
        by_unit[part.unit](row, i)
    elif part.unit in ("min", "hour", "day", "week", "month"):
        _time(row, i)
    elif part.unit == "gauge":
        other = max(row.before(i, _label("other_needle")), row.after(i, _label("other_needle")))
        part.used = True
        if other >= 0:
            row.parts[other].used = True
        if other < 0 and row.kind == "discography":
            row.put("discography_needle_gauge", _value(part, None), i)
    elif part.unit == "dose":
        part.used = True


def _with(row: _Stretch, element: str, i: int, label: int, unit: str | None) -> None:
    """Note a number with the label it belongs to."""
    part = row.parts[i]
    if _taken_back(row, label if 0 <= label < i else i):
        return
    part.used = True
    if label >= 0:
        row.parts[label].used = True
    note = "said to be approximate" if part.about else ""
    row.put(element, _value(part, unit), i, label if label >= 0 else None, note)


def _pressure(row: _Stretch, i: int) -> None:
    part = row.parts[i]
    names = ("opening", "pain_pressure", "peak", "above_opening")
    label = row.before(i, _label(*names))
    near = row.before(i, _label("score"))
    near = near if near > label else -1
    if label < 0 and near < 0:
        label = row.after(i, _label(*names))
        near = row.after(i, _label("score")) if label < 0 else -1
        near = near if near == i + 1 else -1
    name = ""
    if near >= 0:
        label, name = near, "pain_pressure"
    elif label >= 0:
        name = next(r.value for r in row.parts[label].item.roles_of("label") if r.value in names)
    if part.above or name == "above_opening":
        if name in ("pain_pressure", "above_opening") or (not name and row.pain and not row.painless):
            _with(row, "discography_pressure_above_opening", i, label, part.unit)
        elif name == "peak" or row.painless:
            part.used = True
            if label >= 0:
                row.parts[label].used = True
            row.unplaced.append((Span(part.start, part.end), "highest pressure above opening has no place in a record"))
        return
    if name:
        _with(row, _PRESSURES[name], i, label, part.unit)
        return
    led = row.before(i, lambda p: p.is_("at") or p.is_("reach"))
    if led < 0 or part.bound:
        return
    if row.painless and not row.pain:
        part.used = True
        row.put("discography_peak_pressure", {"at_least": part.low, "unit": part.unit}, i, led, "pressed so far without pain")
    elif row.pain and not row.painless and row.parts[led].is_("at"):
        part.used = True
        note = "said to be approximate" if part.about else ""
        row.put("discography_pain_pressure", _value(part, part.unit), i, led, note)


def _is_agent(part: Part) -> bool:
    return part.low is None and any("agent" in r.value["is"] for r in part.item.roles_of("say"))


def _is_number(unit: str) -> Callable[[Part], bool]:
    return lambda p: p.low is not None and p.unit == unit


def _near_agent(row: _Stretch, i: int) -> bool:
    """An agent right behind or before a number, with its strength or volume between at most."""
    for step in (1, -1):
        j = i + step
        while 0 <= j < len(row.parts):
            p = row.parts[j]
            if _is_agent(p):
                return True
            if not (p.is_filler() or (p.low is not None and p.unit in ("%", "mL"))):
                break
            j += step
    return False


def _millilitres(row: _Stretch, i: int) -> None:
    part = row.parts[i]
    if row.kind != "discography":
        part.used = True
        return
    label = row.before(i, _label("agent_volume"))
    if label >= 0 or _near_agent(row, i):
        if row.after(i, lambda p: p.low is None and p.item.text.lower() in ("saline", "contrast")) >= 0:
            return
        _with(row, "anaesthetic_volume", i, label, "mL")
        return
    label = row.before(i, _label("volume"))
    if label < 0:
        label = row.after(i, _label("volume"))
    led = row.before(i, lambda p: p.is_("at") or p.is_("at_volume"))
    if label < 0 and led >= 0:
        if row.pain and not part.bound and not row.painless:
            part.used = True
            row.put("discography_volume", {"at_least": part.low, "unit": "mL"}, i, led, "volume when the pain came")
        return
    if label < 0 and row.anaesthetic:
        return
    _with(row, "discography_volume", i, label, "mL")


def _percent(row: _Stretch, i: int) -> None:
    part = row.parts[i]
    label = row.before(i, _label("relief"))
    if label < 0:
        label = row.after(i, _label("relief"))
    if label >= 0:
        _with(row, "relief", i, label, "%")
    elif (label := row.before(i, _label("strength"))) >= 0 or _near_agent(row, i):
        if row.kind == "discography":
            _with(row, "anaesthetic_strength", i, label, "%")
        part.used = True


def _score(row: _Stretch, i: int) -> None:
    part = row.parts[i]
    names = ("score_before", "score_after", "score")
    back = row.before(i, _label(*names))
    ahead = row.after(i, _label("score_before", "score_after"))
    label = back
    if ahead >= 0 and (back < 0 or not _label("score_before", "score_after")(row.parts[back])):
        label = ahead
        if back >= 0:
            row.parts[back].used = True
    name = "score"
    if label >= 0:
        name = next(r.value for r in row.parts[label].item.roles_of("label") if r.value in names)
    if (part.high or 0) > 10:
        return
    if row.kind == "procedure":
        part.used = True
        row.unplaced.append((Span(part.start, part.end), "a pain score of a block has no place in a record"))
    elif name == "score":
        if not row.anaesthetic:
            _with(row, "discography_pain_nrs", i, label, None)
    elif row.anaesthetic:
        element = "anaesthetic_pain_before" if name == "score_before" else "anaesthetic_pain_after"
        _with(row, element, i, label, None)
    else:
        part.used = True
        row.unplaced.append((Span(part.start, part.end), "a pain score outside the injection has no place in a record"))


def _bare(row: _Stretch, i: int) -> None:
    """A number without a unit: a grade, a score or a gauge after its label."""
    part = row.parts[i]
    before = row.parts[i - 1] if i else None
    if before is not None and before.is_("strengths"):
        part.used = True
        return
    label = row.before(i, _label("dallas", "grade"))
    if label >= 0:
        torn = row.after(i, lambda p: _says_annulus(p))
        if torn < 0:
            torn = row.before(label, lambda p: _says_annulus(p))
        sure = _label("dallas")(row.parts[label]) or row.before(label, _label("dallas")) >= 0 or torn >= 0
        if sure and part.high is not None and part.high <= 5 and part.high == int(part.high):
            _with(row, "discography_fissure_grade", i, label, None)
        return
    label = row.before(i, _label("gauge"))
    if label >= 0:
        _with(row, "discography_needle_gauge", i, label, None)
        return
    label = row.before(i, _label("score", "score_before", "score_after"))
    words = row.parts[label].item.text.lower() if label >= 0 else ""
    if label >= 0 and words != "pain":
        _score(row, i)


def _says_annulus(part: Part) -> bool:
    return part.low is None and any("annulus" in r.value["is"] for r in part.item.roles_of("say"))


def _time(row: _Stretch, i: int) -> None:
    part = row.parts[i]
    if row.kind == "procedure":
        part.used = True
        if part.unit == "min" or row.before(i, _label("duration")) >= 0:
            row.put("duration", {"value": f"{part.low:g} {part.unit}"}, i)
    elif part.unit == "min" and row.anaesthetic and row.before(i, lambda p: p.is_("at") or _after(p)) >= 0:
        _with(row, "anaesthetic_minutes", i, -1, "min")


def _after(part: Part) -> bool:
    return part.low is None and part.item.text.lower() in ("after", "minutes", "re-examined", "assessed")


# -- a cell --------------------------------------------------------------------------------------------------------


def _cell(
    text: str, parts: list[Part], span: Span, discs: tuple[str, ...], kind: str, anaesthetic: bool, label: str, unit: str
) -> Bound:
    """Read a cell by the name of its column; a cell that holds more than its value is not used."""
    row = _Stretch(parts, discs, kind, anaesthetic)
    entry = vocabulary().labels[label]
    given = {r.value for p in parts if p.low is None for r in p.item.roles_of("answers")}
    number = parts[0] if len(parts) == 1 and parts[0].low is not None else None
    if len(parts) == 1 and number is None:
        found = next((r.value for r in parts[0].item.roles_of("labelled") if r.value["of"] == label), None)
        say = parts[0].item.role("say")
        if found is not None:
            _take_say(row, found["is"], 0, 0)
        elif say is not None and any(_fits(label, {e: v}) for e, v in say.value["is"].items()):
            _take_say(row, say.value["is"], 0, 0)
        elif say is not None and say.value.get("answer") == "no_pain" and entry.get("none_is") == "no_pain":
            _painless(row, 0, 0)
        elif "missing" in given:
            return Bound([], [])
        elif parts[0].item.text in ("-", "–", "—") and label in ("leak", "antibiotic", "manometry", "concordance"):
            return Bound([], [(span, "a dash says neither no nor not recorded")])
        elif parts[0].item.text in ("-", "–", "—", "/"):
            return Bound([], [])
        elif given:
            _take_answer(row, entry, given, 0, 0)
        elif label in ("dallas",) and parts[0].item.text.lower() in _ROMAN:
            row.put("discography_fissure_grade", {"value": _ROMAN[parts[0].item.text.lower()]}, 0)
    elif number is not None:
        _cell_number(row, number, label, unit)
    else:  # words of its own, such as "8/10 concordant"
        some = _read(row)
        heavy = [p for p in parts if not p.used and not p.is_filler()]
        fits = {s.element for s in some.said}
        if heavy or not fits:
            return Bound([], [(span, "more in the cell than its column tells")])
        return some
    if not row.said:
        bare = label in _PRESSURES and number is not None and not (number.unit or unit)
        return Bound([], [(span, "unit of pressure not stated" if bare else "not a value of its column")])
    return Bound([s for s, _ in row.said], [])


_CELL_ELEMENTS = {
    **_PRESSURES,
    "above_opening": "discography_pressure_above_opening",
    "volume": "discography_volume",
    "score": "discography_pain_nrs",
    "dallas": "discography_fissure_grade",
    "score_before": "anaesthetic_pain_before",
    "score_after": "anaesthetic_pain_after",
    "relief": "relief",
    "agent_volume": "anaesthetic_volume",
    "strength": "anaesthetic_strength",
    "minutes": "anaesthetic_minutes",
}
_CELL_UNITS = {
    "volume": "mL",
    "agent_volume": "mL",
    "strength": "%",
    "relief": "%",
    "minutes": "min",
    "score": "score",
    "score_before": "score",
    "score_after": "score",
}


def _cell_number(row: _Stretch, part: Part, label: str, unit: str) -> None:
    element = _CELL_ELEMENTS.get(label)
    if element is None:
        return
    if label in _PRESSURES or label == "above_opening":
        if part.unit and part.unit != unit and unit:
            return
        wanted = part.unit or unit
        if wanted not in _PRESSURE or (part.above and label != "pain_pressure" and label != "above_opening"):
            return
        if part.above:
            element = "discography_pressure_above_opening"
        row.put(element, _value(part, wanted), 0, None, "said to be approximate" if part.about else "")
        return
    wanted = _CELL_UNITS.get(label, "")
    if part.unit not in ("", wanted) or (wanted == "score" and (part.high or 0) > 10):
        return
    if label == "score" and row.kind == "discography" and row.anaesthetic:
        return
    if label == "volume" and not (part.unit or unit) :
        return
    if label == "dallas" and ((part.high or 0) > 5 or part.high != int(part.high or 0)):
        return
    held = {"score": None, "": None}.get(wanted, wanted)
    row.put(element, _value(part, held), 0, None, "said to be approximate" if part.about else "")


# -- what is left --------------------------------------------------------------------------------------------------


def _settle(row: _Stretch) -> Bound:
    """Take back, comma by comma, what stands beside something that was not used; make doubted values unknown."""
    pieces: list[list[int]] = [[]]
    for i, part in enumerate(row.parts):
        if part.low is None and part.item.text in (",", ";"):
            pieces.append([])
        else:
            pieces[-1].append(i)
    said: list[Said] = []
    missed: list[tuple[Span, str]] = list(row.unplaced)
    for piece in pieces:
        if not piece:
            continue
        span = Span(row.parts[piece[0]].start, max(row.parts[i].end for i in piece))
        here = [s for s, at in row.said if at in piece]
        why = _left(row, piece)
        if why:
            missed.append((span, why))
            continue
        hedged = [i for i in piece if row.parts[i].is_("hedges") and not row.parts[i].used]
        if hedged and here:
            for one in here:
                wide = Span(min(one.span.start, *(row.parts[i].start for i in hedged)),
                            max(one.span.end, *(row.parts[i].end for i in hedged)))  # fmt: skip
                said.append(one._replace(form={"unknown": "uncertain_in_source"}, span=wide, note=""))
        else:
            said += here
    return Bound(said, missed)


def _left(row: _Stretch, piece: list[int]) -> str:
    for i in piece:
        part = row.parts[i]
        if part.used:
            continue
        if part.low is not None:
            return "a number without its label, unit or disc"
        if part.is_("negations") and not part.is_("answers"):
            return "a denial of something not understood"
        if part.is_("say") and not _says_annulus(part):
            return "a denial that cannot be read" if part.is_("say") else ""
        if part.is_("reach") and not part.is_filler():
            return "words that reach to something not understood"
    return ""
