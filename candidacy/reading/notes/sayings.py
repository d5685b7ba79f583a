"""Words that are a value by themselves or answer a label, turned round where they are denied."""

from typing import Any

from candidacy.reading.model import Span
from candidacy.reading.notes.model import Said
from candidacy.reading.notes.quantities import ROMAN, Part
from candidacy.reading.notes.stretch import Stretch, taken_back
from candidacy.reading.notes.vocabulary import vocabulary, words_for


def answers(row: Stretch) -> None:
    """``Leak: no``, ``Concordance: exact``, ``Peak: not recorded``: an answer right after a label."""
    labels = vocabulary().labels
    for i, part in enumerate(row.parts):
        if part.low is not None or part.used or not part.is_("label"):
            continue
        j = i + 1
        colon = False
        while j < len(row.parts) and row.parts[j].item.text.lower() in words_for("copulas"):
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
        elif "dallas" in names and ROMAN.keys() >= set(answer.item.text.lower().split("-")):
            _roman_grade(row, i, j)
        elif not colon:
            continue
        elif found is not None and _ends(row, j):
            take_say(row, found["is"], i, j)
        elif given and _ends(row, j):
            name = next(iter(names))
            entry = labels[name]
            take_answer(row, entry, given, i, j)


def _roman_grade(row: Stretch, i: int, j: int) -> None:
    """``Dallas III``, ``Dallas III-IV``; what goes on in another way (``III to IV``, ``III/IV``) is shown."""
    answer = row.parts[j]
    behind = row.parts[j + 1].item.text if j + 1 < len(row.parts) else ""
    low, *more = (ROMAN[grade] for grade in answer.item.text.lower().split("-"))
    if behind in ("-", "–", "—", "/", "to", "or") or len(more) > 1 or any(high <= low for high in more):
        row.unplaced.append((Span(row.parts[i].start, answer.end), "a grade that goes on"))
        return
    row.parts[i].used = answer.used = True
    row.put("discography_fissure_grade", {"between": [low, *more]} if more else {"value": low}, i, j)


def _ends(row: Stretch, at: int) -> bool:
    """Say whether a part is the last of its comma's stretch."""
    return at + 1 >= len(row.parts) or row.parts[at + 1].item.text in (",", ";", ")", ".", "(", "|")


def take_answer(row: Stretch, entry: dict[str, Any], given: set[str], i: int, j: int) -> None:
    name = entry["of"]
    form = "yes" if "yes" in given else "no" if "no" in given else "none_is"
    value = entry.get(form) or (entry.get("none_is") if form == "no" else None)
    if value is None:
        return
    row.parts[i].used = row.parts[j].used = True
    if value in ("no_pain", "score_zero"):
        painless(row, i, j)
    elif value == "sedation_none":
        row.put("discography_sedation", {"value": "none"}, i, j)
    elif value in ("true", "false"):
        element = {"leak": "discography_leak", "manometry": "discography_manometry",
                   "antibiotic": "discography_antibiotic_given", "steroid": "steroid"}[name]  # fmt: skip
        row.put(element, {"value": value == "true"}, i, j)


def painless(row: Stretch, i: int, j: int) -> None:
    row.painless = True
    row.put("discography_concordance", {"value": "none"}, i, j)
    row.put("discography_pain_pressure", {"unknown": "not_applicable"}, i, j, "no pain was reported")


def _form(value: Any) -> dict[str, Any]:
    if isinstance(value, list):
        return {"one_of": list(value)}
    return {"value": {"true": True, "false": False}.get(value, value)}


def take_say(row: Stretch, said: dict[str, Any], i: int, j: int) -> None:
    for k in range(min(i, j), max(i, j) + 1):
        row.parts[k].used = True
    for element, value in said.items():
        if element == "discography_concordance" and value == "none":
            painless(row, i, j)
            continue
        row.pain |= element == "discography_concordance" and "none" not in value
        row.put(element, _form(value), i, j)


def says(row: Stretch) -> None:
    """Words that are a value by themselves, turned round by a denial before them."""
    denied_before = -1
    for i, part in enumerate(row.parts):
        role = None if part.low is not None or part.used else part.item.role("say")
        if role is None or "annulus" in role.value["is"] or _asked(row, i):
            continue
        entry = role.value
        if "alone" in entry and not _alone(row, i):
            part.used = True  # "under manometric control", "the target was reached": no role of a disc
            continue
        at = row.before(i, lambda p: p.is_("negations"), _between_denied)
        if at < 0 and denied_before >= 0 and _or_between(row, denied_before, i):
            at = denied_before
        if taken_back(row, at if at >= 0 else i):
            continue
        if at >= 0:
            if "denied" in entry:
                row.parts[at].used = True
                take_say(row, entry["denied"], i, i)
                row.said[-1:] = [_wider(row, s, at) for s in row.said[-1:]]
                denied_before = i
            continue
        label = row.before(i, lambda p: p.is_("label") and not p.is_("say"))
        if label >= 0 and any(fits(r.value, entry["is"]) for r in row.parts[label].item.roles_of("label")):
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
        take_say(row, entry["is"], i, i)


def _alone(row: Stretch, i: int) -> bool:
    """One word for a role stands by itself: ``(control)``, ``target, opening 12 psi``, ``painless control``."""
    before = row.parts[i - 1] if i else None
    after = row.parts[i + 1] if i + 1 < len(row.parts) else None
    lead = before is None or not before.item.text[0].isalnum() or (before.is_("say") and row.painless)
    return lead and (
        after is None or after.low is not None or after.is_filler() or after.is_("label") or after.is_("say")
    )


def _asked(row: Stretch, i: int) -> bool:
    """A label with its colon asks, it does not say: the answer behind it was read, or was not understood."""
    colon = i + 1 < len(row.parts) and row.parts[i + 1].item.text in (":", "=", "?")
    return colon and row.parts[i].is_("label")


def _between_denied(part: Part) -> bool:
    return part.low is None and part.item.text.lower() in words_for("denial_gap")


def _or_between(row: Stretch, first: int, last: int) -> bool:
    gap = row.parts[first + 1 : last]
    joined = [p for p in gap if p.low is None and p.item.text.lower() in words_for("either")]
    if not joined or not all(p.is_filler() or p in joined for p in gap):
        return False
    for p in joined:
        p.used = True
    return True


def _wider(row: Stretch, said: tuple[Said, int], at: int) -> tuple[Said, int]:
    """The words of a denied value begin with the denial."""
    one, place = said
    return one._replace(span=Span(min(one.span.start, row.parts[at].start), one.span.end)), place


def fits(label: str, said: dict[str, Any]) -> bool:
    element = next(iter(said))
    return label in element or (label == "result" and element == "result")
