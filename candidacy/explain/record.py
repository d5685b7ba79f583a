"""What the record itself calls for: contradictions, disputed signs of danger, and facts that no criterion reads."""

from collections.abc import Iterable

from candidacy.assessment.assess import Assessment
from candidacy.assessment.results import UnreadFact
from candidacy.case.catalogue import catalogue
from candidacy.case.doubtful import CHECKED, doubt, is_doubtful
from candidacy.case.element import Danger
from candidacy.case.facts import Fact
from candidacy.explain import wording
from candidacy.explain.companions import stop_word
from candidacy.explain.document import (
    AssessmentDocument,
    ConflictInfo,
    DangerInfo,
    DisputedInfo,
    FactInfo,
    UnreadInfo,
)
from candidacy.explain.wording import code_words, listed, subject_words, unit_words, with_unit
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.errors import shorten
from candidacy.rules.operators import OPERATORS

NOT_READ = "Recorded, but not read by this rule set"
CONTRADICTIONS = "Facts that contradict each other, and doubtful values"
DISPUTED = "Signs that act in spite of a denial"
A_LIST = "a list of the record"
REMARKS = "Remarks in the record that no rule read"
OTHER_NOT_READ = "Other recorded facts that no criterion of this rule set reads"


def fact_info(fact: Fact) -> FactInfo:
    """A fact with its value in words and where it came from."""
    element = catalogue()[fact.element]
    p = fact.provenance
    return FactInfo.of(
        element=fact.element,
        label=element.label,
        subject=fact.subject,
        value=wording.value_words(fact.value, element, written=p.as_written),
        known=fact.value is not None,
        why=fact.why.words if fact.why else None,
        unit=element.unit or "",
        as_written=p.as_written,
        document=p.document,
        document_kind=p.kind,
        date=p.day_words,
        words=p.words,
        recorded_by=p.recorded_by,
        worked_out_from=_worked_out_from(fact),
        note=fact.note or p.note,
    )


def _worked_out_from(fact: Fact) -> list[str]:
    if not fact.derived_from:
        # told by an empty or complete list, which the note describes
        told = fact.note and fact.value is not None and not fact.provenance.as_written
        return [A_LIST] if told else []
    shelf = catalogue()
    return [
        f"{shelf[part.element].label}"
        + ("" if part.subject in ("patient", fact.subject) else f" ({subject_words(part.subject)})")
        for part in fact.derived_from
    ]


def fact_from(fact: FactInfo) -> str:
    """Where a value came from, as one phrase."""
    if fact.worked_out_from and fact.known:
        return "worked out from " + ", ".join(fact.worked_out_from)
    pieces = [fact.document_kind.replace("_", " ") or fact.document, fact.date, fact.recorded_by]
    text = ", ".join(piece for piece in pieces if piece)
    if fact.words:
        text += f": “{fact.words}”"
    return text or ("source not recorded" if fact.known else "")


def value_words(fact: FactInfo) -> str:
    """The value as it is used, and as it was written where that differs; or why there is none; and what is noted of it."""
    value = fact.value if fact.known else fact.why or "unknown"
    written = fact.as_written.replace(fact.unit, unit_words(fact.unit)) if fact.unit else ""
    if fact.known and written and written != fact.value:
        value += f" (written as {fact.as_written})"
    return value + (f" ({fact.note})" if fact.note else "")


def fact_words(fact: FactInfo) -> str:
    """A fact as one phrase: what, of whom, its value or why there is none, and where it came from."""
    label = fact.label[:1].upper() + fact.label[1:]
    of = "" if fact.subject == "patient" else f" of {subject_words(fact.subject)}"
    where = fact_from(fact)
    value = fact.value if fact.known else fact.why or "unknown"
    return f"{label}{of}: {value}" + (f" ({where})" if where else "")


def conflict_info(fact: Fact) -> ConflictInfo:
    """A conflict of the record: what contradicts what, and the question that settles it."""
    element = catalogue()[fact.element]
    if is_doubtful(fact):
        question = f"Check at the source: {element.ask or element.label}"
        if element.possible is not None and doubt(
            fact
        ):  # what cannot be beside others is right under no note
            question = f"If it is right, begin the note of this fact with “{CHECKED}”"
        return ConflictInfo(
            element=fact.element, label=element.label, subject=fact.subject, says=f"{fact.note[:1].upper()}{fact.note[1:]}.",
            question=question, facts=[fact_info(replace(fact, note=""))],
        )  # fmt: skip
    return ConflictInfo(
        element=fact.element,
        label=element.label,
        subject=fact.subject,
        says=fact.note,
        question=f"Settle at the source which is right: {element.ask or element.label}",
        facts=[fact_info(part) for part in fact.derived_from],
    )


def disputed_facts(assessment: Assessment, read: Iterable[Fact]) -> list[Fact]:
    """Signs of danger that act in spite of a denial, each once, in catalogue order."""
    everywhere = (*read, *assessment.conflicts, *(unread.fact for unread in assessment.unread))
    found = {(fact.element, fact.subject): fact for fact in everywhere if fact.disputed}
    return sorted(found.values(), key=lambda f: (catalogue().place(f.element), f.subject))


def disputed_info(fact: Fact) -> DisputedInfo:
    """A disputed sign with the facts that deny it."""
    return DisputedInfo(fact=fact_info(fact), denials=[fact_info(denial) for denial in fact.disputed])


def unread_info(unread: UnreadFact) -> UnreadInfo:
    """A fact that no criterion reads, with the signs of danger it shows."""
    return UnreadInfo(
        fact=fact_info(unread.fact),
        dangers=[_danger(danger, unread.fact.element) for danger in unread.dangers],
        advisory=unread.advisory,
    )


def _danger(danger: Danger, element: str) -> DangerInfo:
    limits = listed([code_words(limit) for limit in danger.limits], "or")
    number = all(isinstance(limit, int | float) and not isinstance(limit, bool) for limit in danger.limits)
    words = with_unit(limits, catalogue()[element].unit or "") if number else limits
    return DangerInfo(
        test=f"{OPERATORS[danger.op].words} {words}",
        why=danger.why,
        source=danger.source,
        at=danger.at,
        tag=danger.tag,
    )


# --- lines that every output shows


def danger_lines(document: AssessmentDocument, *, cited: bool = True) -> list[str]:
    """A line for each recorded sign of danger that no deciding criterion reads; it stands before any standing."""
    return [unread_words(unread, cited=cited) for unread in document.unread if unread.dangers]


def unread_words(unread: UnreadInfo, *, cited: bool = True) -> str:
    """An unread fact with why it matters, and, unless that is left to another place, where that comes from."""
    why = "; ".join(
        d.why.rstrip(".")
        + (f" ({d.test}; {d.source}{', ' + d.at if d.at else ''} [{d.tag}])" if cited else "")
        for d in unread.dangers
    )
    advisory = " Only advisory criteria read it, and these decide nothing." if unread.advisory else ""
    return fact_words(unread.fact) + (f". Why it matters: {why}." if why else "") + advisory


def disputed_lines(document: AssessmentDocument) -> list[str]:
    """A line for each sign that acts in spite of a denial."""
    return [
        f"{fact_words(d.fact)} acts in spite of a denial: {listed([fact_words(denial) for denial in d.denials])}"
        for d in document.disputed
    ]


def remark_lines(
    document: AssessmentDocument, most: int | None = None, signs: int | None = None
) -> list[str]:
    """A line for each remark that no rule read, in full unless ``most`` lines or ``signs`` of each are asked for."""
    lines = []
    for each in document.remarks[:most]:
        whole = " ".join(each.text.split())
        text = shorten(whole, len(whole) if signs is None else signs)
        cut = " (cut: --full)" if len(text) < len(whole) else ""
        lines.append(f"{each.where[:1].upper()}{each.where[1:]}: “{text}”{cut}")
    more = len(document.remarks) - len(lines)
    return [*lines, f"and {more} more: --full"] if more else lines


def conflict_title(conflict: ConflictInfo) -> str:
    """What a conflict is about."""
    label = conflict.label[:1].upper() + conflict.label[1:]
    return label + ("" if conflict.subject == "patient" else f" of {subject_words(conflict.subject)}")


def conflict_lines(conflict: ConflictInfo) -> list[str]:
    """What contradicts what, each side with its source and date, and the question that settles it."""
    lines = [conflict.says] if conflict.says else []
    return [*lines, *(fact_words(fact) for fact in conflict.facts), f"{conflict.question}."]


def other_unread(document: AssessmentDocument) -> list[UnreadInfo]:
    """Recorded facts that no criterion reads and that show no danger."""
    return [unread for unread in document.unread if not unread.dangers]


def flags(document: AssessmentDocument) -> list[str]:
    """What a reader of a table must look at before a standing, counted; empty where there is nothing."""
    counted = (
        (len(danger_lines(document)), "recorded sign", " of danger not read"),
        (len(document.disputed), "disputed sign", " of danger"),
        (len(document.conflicts), "fact", " to settle first"),
        (len(document.remarks), "remark", " not read"),
    )
    stops: dict[str, list[str]] = {}
    for companion in document.companions:
        if companion.stops:
            stops.setdefault(stop_word(companion), []).append(companion.title)
    found = [f"{word.upper()} by {listed(titles)}" for word, titles in sorted(stops.items())]
    return found + [f"{n} {what}{'s' if n > 1 else ''}{more}" for n, what, more in counted if n]


def beside_standing(document: AssessmentDocument) -> list[str]:
    """What a standing alone could hide, a line each, for where the assessment is told in short: dangers, conflicts, remarks."""
    return [
        *(f"Sign of danger that no deciding criterion reads: {line}" for line in danger_lines(document)),
        *(f"Disputed sign of danger: {line}" for line in disputed_lines(document)),
        *(f"To settle first: {' '.join(conflict_lines(conflict))}" for conflict in document.conflicts),
        *(f"Remark that no rule read: {line}" for line in remark_lines(document)),
    ]
