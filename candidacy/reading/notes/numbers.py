"""Numbers of a stretch: each with its label and unit to the element it gives, or left where these do not tell it."""

from candidacy.reading.model import Span
from candidacy.reading.notes.quantities import Part
from candidacy.reading.notes.stretch import (
    PRESSURES,
    Stretch,
    label_of,
    says_annulus,
    taken_back,
    value_of,
)
from candidacy.reading.notes.vocabulary import PRESSURE_UNITS, words_for


def is_code(row: Stretch, i: int) -> bool:
    """``P3``, ``pain P2``: a letter and its number; which pain a number means differs from one scale to another."""
    before = row.parts[i - 1] if i else None
    if before is None or before.low is not None or before.end != row.parts[i].start:
        return False
    return before.item.text.lower().split()[-1] in words_for("codes_pain")


def number(row: Stretch, i: int) -> None:
    if is_code(row, i):
        return
    part = row.parts[i]
    by_unit = {"mL": _millilitres, "%": _percent, "score": _score, "": _bare}
    if part.unit in PRESSURE_UNITS:
        _pressure(row, i)
    elif part.unit in by_unit:
        by_unit[part.unit](row, i)
    elif part.unit in ("min", "hour", "day", "week", "month"):
        _time(row, i)
    elif part.unit == "gauge":
        other = max(row.before(i, label_of("other_needle")), row.after(i, label_of("other_needle")))
        part.used = True
        if other >= 0:
            row.parts[other].used = True
        if other < 0 and row.kind == "discography":
            row.put("discography_needle_gauge", value_of(part, None), i)
    elif part.unit == "dose":
        part.used = True
        beside = row.parts[i + 1] if i + 1 < len(row.parts) else None
        if beside is not None and not beside.item.roles and beside.item.text.isalpha():
            span = Span(part.start, beside.end)
            row.unplaced.append((span, "a dose of a medicine that has no place in a record"))


def _with(row: Stretch, element: str, i: int, label: int, unit: str | None) -> None:
    """Note a number with the label it belongs to."""
    part = row.parts[i]
    if taken_back(row, label if 0 <= label < i else i):
        return
    part.used = True
    if label >= 0:
        row.parts[label].used = True
    note = "said to be approximate" if part.about else ""
    row.put(element, value_of(part, unit), i, label if label >= 0 else None, note)


def _pressure(row: Stretch, i: int) -> None:
    part = row.parts[i]
    names = ("opening", "pain_pressure", "peak", "above_opening")
    label = row.before(i, label_of(*names))
    near = row.before(i, label_of("score"))
    near = near if near > label else -1
    if label < 0 and near < 0:
        label = row.after(i, label_of(*names))
        near = row.after(i, label_of("score")) if label < 0 else -1
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
            row.unplaced.append(
                (Span(part.start, part.end), "highest pressure above opening has no place in a record")
            )
        return
    if name:
        row.pain |= name == "pain_pressure"
        _with(row, PRESSURES[name], i, label, part.unit)
        return
    led = row.before(i, lambda p: p.is_("at") or p.is_("reach"))
    if led < 0:
        return
    if row.painless and not row.pain and not part.bound:
        part.used = True
        row.put(
            "discography_peak_pressure",
            {"at_least": part.high if _rose(row, i) else part.low, "unit": part.unit},
            i,
            led,
            "pressed so far without pain",
        )
    elif row.pain and not row.painless and row.parts[led].is_("at"):
        part.used = True
        note = "said to be approximate" if part.about else ""
        row.put("discography_pain_pressure", value_of(part, part.unit), i, led, note)


def _rose(row: Stretch, i: int) -> bool:
    """``From 15 to 80 psi``: the second number was reached, the first is where it began."""
    before = row.parts[i - 1] if i else None
    return before is not None and before.low is None and before.item.text.lower() in words_for("rises")


def _is_agent(part: Part) -> bool:
    return part.low is None and any("agent" in r.value["is"] for r in part.item.roles_of("say"))


def _near_agent(row: Stretch, i: int) -> bool:
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


def _millilitres(row: Stretch, i: int) -> None:
    part = row.parts[i]
    if row.kind != "discography":
        part.used = True
        return
    label = row.before(i, label_of("agent_volume"))
    if label >= 0 or _near_agent(row, i):
        if row.after(i, lambda p: p.low is None and p.item.text.lower() in words_for("dilutions")) >= 0:
            return
        _with(row, "anaesthetic_volume", i, label, "mL")
        return
    label = row.before(i, label_of("volume"))
    if label < 0:
        label = row.after(i, label_of("volume"))
    led = row.before(i, lambda p: p.is_("at") or p.is_("at_volume"))
    if label < 0 and led >= 0:
        if row.pain and not part.bound and not row.painless:
            part.used = True
            row.put(
                "discography_volume",
                {"at_least": part.low, "unit": "mL"},
                i,
                led,
                "volume when the pain came",
            )
        return
    if label < 0 and (row.anaesthetic or not _by_itself(row, i)):
        return
    _with(row, "discography_volume", i, label, "mL")


def _by_itself(row: Stretch, i: int) -> bool:
    """Nothing but fillers stands with a number between its commas."""
    for places in (range(i - 1, -1, -1), range(i + 1, len(row.parts))):
        for j in places:
            if row.parts[j].item.text in (",", ";", "(", ")"):
                break
            if not row.parts[j].is_filler() or row.parts[j].item.text.lower() in words_for("comes"):
                return False
    return True


def _percent(row: Stretch, i: int) -> None:
    part = row.parts[i]
    if part.high != part.low and _near_agent(row, i):
        return  # "bupivacaine 0.5% - 80% relief": a strength and a relief, no range
    label = row.before(i, label_of("relief"))
    if label < 0:
        label = row.after(i, label_of("relief"))
    if label >= 0:
        _with(row, "relief", i, label, "%")
    elif (label := row.before(i, label_of("strength"))) >= 0 or _near_agent(row, i):
        if row.kind == "discography":
            _with(row, "anaesthetic_strength", i, label, "%")
        part.used = True


def _score(row: Stretch, i: int) -> None:
    part = row.parts[i]
    names = ("score_before", "score_after", "score")
    back = row.before(i, label_of(*names))
    ahead = row.after(i, label_of("score_before", "score_after"))
    label = back
    if ahead >= 0 and (back < 0 or not label_of("score_before", "score_after")(row.parts[back])):
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
        row.unplaced.append(
            (Span(part.start, part.end), "a pain score outside the injection has no place in a record")
        )


def _bare(row: Stretch, i: int) -> None:
    """A number without a unit: a grade, a score or a gauge after its label."""
    part = row.parts[i]
    before = row.parts[i - 1] if i else None
    if before is not None and before.is_("strengths"):
        part.used = True
        return
    label = row.before(i, label_of("dallas", "grade"))
    if label >= 0:
        torn = row.after(i, lambda p: says_annulus(p))
        if torn < 0:
            torn = row.before(label, lambda p: says_annulus(p))
        sure = label_of("dallas")(row.parts[label]) or row.before(label, label_of("dallas")) >= 0 or torn >= 0
        if sure and part.high is not None and part.high <= 5 and part.high == int(part.high):
            _with(row, "discography_fissure_grade", i, label, None)
        return
    label = row.before(i, label_of("gauge"))
    if label >= 0:
        _with(row, "discography_needle_gauge", i, label, None)
        return
    if row.unit and row.before(i, label_of(*PRESSURES)) >= 0:
        part.unit = row.unit
        _pressure(row, i)
        return
    label = row.before(i, label_of("score", "score_before", "score_after"))
    words = row.parts[label].item.text.lower() if label >= 0 else ""
    if label >= 0 and words not in words_for("bare_pain"):
        _score(row, i)


def _time(row: Stretch, i: int) -> None:
    part = row.parts[i]
    if row.kind == "procedure":
        part.used = True
        if row.before(i, lambda p: p.is_("at") or _after(p)) >= 0:
            row.unplaced.append((Span(part.start, part.end), "when it was asked, not how long it lasted"))
        elif part.unit == "min" or row.before(i, label_of("duration")) >= 0:
            row.put("duration", {"value": f"{part.low:g} {part.unit}"}, i)
    elif any("drug" in r.value for p in row.parts if p.low is None for r in p.item.roles_of("say")):
        part.used = True  # how long before the procedure an antibiotic was given
    elif part.unit == "min" and row.anaesthetic and row.before(i, lambda p: p.is_("at") or _after(p)) >= 0:
        _with(row, "anaesthetic_minutes", i, -1, "min")


def _after(part: Part) -> bool:
    return part.low is None and part.item.text.lower() in words_for("later")
