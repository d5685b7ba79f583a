"""What several clauses say of one thing, brought together: the same, narrower, or in conflict; raised, not resolved."""

from collections.abc import Sequence
from typing import Any

from candidacy.reading.model import Span
from candidacy.reading.notes.model import NoteFact, Question, Said

_BOUNDS = ("at_least", "at_most", "more_than", "less_than")
_CONFLICT = {"unknown": "conflicting"}


def together(said: Sequence[tuple[Said, int]]) -> tuple[NoteFact, ...]:
    """Make one fact of everything said of the same element of the same subject."""
    grouped: dict[tuple[str, str], list[tuple[Said, int]]] = {}
    for one, n in said:
        grouped.setdefault((one.subject, one.element), []).append((one, n))
    facts = {key: _fact(rows) for key, rows in grouped.items()}
    for subject in dict.fromkeys(s for s, _ in facts):
        _impossible(facts, subject)
    return tuple(facts.values())


def _fact(rows: list[tuple[Said, int]]) -> NoteFact:
    form = rows[0][0].form
    for one, _ in rows[1:]:
        form = _both(form, one.form)
    spans = tuple(sorted({s.span for s, _ in rows}))
    notes = "; ".join(dict.fromkeys(s.note for s, _ in rows if s.note))
    first = rows[0][0]
    return NoteFact(
        first.subject, first.element, form, spans, tuple(dict.fromkeys(n for _, n in rows)), notes
    )


def _both(a: dict[str, Any], b: dict[str, Any]) -> dict[str, Any]:
    """What two statements together leave: never more than either says."""
    if a == b:
        return a
    if "unknown" in a or "unknown" in b:
        kinds = {a.get("unknown"), b.get("unknown")} - {None}
        return {"unknown": "uncertain_in_source"} if kinds == {"uncertain_in_source"} else dict(_CONFLICT)
    if a.get("unit") != b.get("unit"):
        return dict(_CONFLICT)  # the same pressure in two units is compared by a person
    sets = [_options(f) for f in (a, b)]
    if "one_of" in a or "one_of" in b:
        rest = [v for v in sets[0] if v in sets[1]]
        return {"value": rest[0]} if len(rest) == 1 else {"one_of": rest} if rest else dict(_CONFLICT)
    for one, other in ((a, b), (b, a)):
        if "at_least" in one and isinstance(other.get("value"), float) and other["value"] >= one["at_least"]:
            return other
        if "at_most" in one and isinstance(other.get("value"), float) and other["value"] <= one["at_most"]:
            return other
    if "at_least" in a and "at_least" in b:
        return max(a, b, key=lambda f: f["at_least"])
    return dict(_CONFLICT)


def _options(form: dict[str, Any]) -> list[Any]:
    return list(form.get("one_of", [form.get("value")]))


def _number(facts: dict[tuple[str, str], NoteFact], subject: str, element: str) -> tuple[float, str] | None:
    fact = facts.get((subject, element))
    value = fact.form.get("value") if fact is not None else None
    if isinstance(value, float) and fact is not None:
        return value, fact.form.get("unit", "")
    return None


def _impossible(facts: dict[tuple[str, str], NoteFact], subject: str) -> None:
    """Values that cannot both be right make both unknown: pain in a painless disc, pain below the opening pressure."""

    def clash(*names: str, note: str) -> None:
        for name in names:
            fact = facts[subject, name]
            facts[subject, name] = fact._replace(form=dict(_CONFLICT), note=note)

    concordance, score = (
        facts.get((subject, "discography_concordance")),
        _number(facts, subject, "discography_pain_nrs"),
    )
    if concordance is not None and score is not None:
        if concordance.form == {"value": "none"} and score[0] > 0:
            clash("discography_concordance", "discography_pain_nrs", note="pain is denied and scored")
        elif score[0] == 0 and "none" in concordance.form.get("one_of", ()):
            key = subject, "discography_concordance"  # "concordant: no", scored 0
            facts[key] = concordance._replace(form={"value": "none"})
        elif score[0] == 0 and concordance.form != {"value": "none"} and "unknown" not in concordance.form:
            clash("discography_concordance", "discography_pain_nrs", note="pain is told and scored 0")
    opening = _number(facts, subject, "discography_opening_pressure")
    for name, about in (
        ("discography_pain_pressure", "lower than the opening pressure: perhaps meant above opening"),
        ("discography_peak_pressure", "the highest pressure is lower than the opening pressure"),
    ):
        other = _number(facts, subject, name)
        if opening is not None and other is not None and opening[1] == other[1] and other[0] < opening[0]:
            clash("discography_opening_pressure", name, note=about)
    pain = _number(facts, subject, "discography_pain_pressure")
    peak = _number(facts, subject, "discography_peak_pressure")
    if pain is not None and peak is not None and pain[1] == peak[1] and peak[0] < pain[0]:
        clash(
            "discography_pain_pressure",
            "discography_peak_pressure",
            note="the highest pressure is lower than that at pain",
        )


def questions(facts: Sequence[NoteFact], why: str) -> tuple[Question, ...]:
    """Ask of every conflict which value holds."""
    out = [Question(why, "", "", ())] if why else []
    for fact in facts:
        if fact.form == _CONFLICT:
            about = fact.note or "the note says two things"
            out.append(Question(f"{fact.subject}, {fact.element.replace('_', ' ')}: {about}", fact.subject,
                                fact.element, fact.spans))  # fmt: skip
    return tuple(out)


def quoted(text: str, spans: Sequence[Span]) -> str:
    """The words of a fact, in their order."""
    return " … ".join(dict.fromkeys(" ".join(text[s.start : s.end].split()) for s in spans))
