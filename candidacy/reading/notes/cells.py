"""A cell of a table, read by the name of its column."""

from candidacy.reading.model import Span
from candidacy.reading.notes.quantities import ROMAN, Part
from candidacy.reading.notes.sayings import fits, painless, take_answer, take_say
from candidacy.reading.notes.settle import read_stretch
from candidacy.reading.notes.stretch import PRESSURES, Bound, Stretch, value_of
from candidacy.reading.notes.vocabulary import PRESSURE_UNITS, vocabulary


def cell(
    text: str,
    parts: list[Part],
    span: Span,
    discs: tuple[str, ...],
    kind: str,
    anaesthetic: bool,
    label: str,
    unit: str,
) -> Bound:
    """Read a cell by the name of its column; a cell that holds more than its value is not used."""
    row = Stretch(parts, discs, kind, anaesthetic)
    entry = vocabulary().labels[label]
    given = {r.value for p in parts if p.low is None for r in p.item.roles_of("answers")}
    number = parts[0] if len(parts) == 1 and parts[0].low is not None else None
    if len(parts) == 1 and number is None:
        found = next((r.value for r in parts[0].item.roles_of("labelled") if r.value["of"] == label), None)
        say = parts[0].item.role("say")
        if found is not None:
            take_say(row, found["is"], 0, 0)
        elif say is not None and any(fits(label, {e: v}) for e, v in say.value["is"].items()):
            take_say(row, say.value["is"], 0, 0)
        elif say is not None and say.value.get("answer") == "no_pain" and entry.get("none_is") == "no_pain":
            painless(row, 0, 0)
        elif "missing" in given:
            return Bound([], [])
        elif parts[0].item.text in ("-", "–", "—") and label in (
            "leak",
            "antibiotic",
            "manometry",
            "concordance",
        ):
            return Bound([], [(span, "a dash says neither no nor not recorded")])
        elif parts[0].item.text in ("-", "–", "—", "/"):
            return Bound([], [])
        elif given:
            take_answer(row, entry, given, 0, 0)
        elif label in ("dallas",) and parts[0].item.text.lower() in ROMAN:
            row.put("discography_fissure_grade", {"value": ROMAN[parts[0].item.text.lower()]}, 0)
    elif number is not None:
        _cell_number(row, number, label, unit)
    else:  # words of its own, such as "8/10 concordant"
        some = read_stretch(row)
        heavy = [p for p in parts if not p.used and not p.is_filler()]
        if heavy or not some.said:
            return Bound([], [(span, "more in the cell than its column tells")])
        return some
    if not row.said:
        bare = label in PRESSURES and number is not None and not (number.unit or unit)
        return Bound([], [(span, "unit of pressure not stated" if bare else "not a value of its column")])
    return Bound([s for s, _ in row.said], [])


_CELL_ELEMENTS = {
    **PRESSURES,
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


def _cell_number(row: Stretch, part: Part, label: str, unit: str) -> None:
    element = _CELL_ELEMENTS.get(label)
    if element is None:
        return
    if label in PRESSURES or label == "above_opening":
        if part.unit and part.unit != unit and unit:
            return
        wanted = part.unit or unit
        if wanted not in PRESSURE_UNITS or (
            part.above and label != "pain_pressure" and label != "above_opening"
        ):
            return
        if part.above:
            element = "discography_pressure_above_opening"
        row.put(element, value_of(part, wanted), 0, None, "said to be approximate" if part.about else "")
        return
    wanted = _CELL_UNITS.get(label, "")
    if part.unit not in ("", wanted) or (wanted == "score" and (part.high or 0) > 10):
        return
    if label == "score" and row.kind == "discography" and row.anaesthetic:
        return
    if label == "volume" and not (part.unit or unit):
        return
    if label == "dallas" and ((part.high or 0) > 5 or part.high != int(part.high or 0)):
        return
    held = {"score": None, "": None}.get(wanted, wanted)
    row.put(element, value_of(part, held), 0, None, "said to be approximate" if part.about else "")
