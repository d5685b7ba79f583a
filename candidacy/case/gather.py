"""Check the entries of a case record against the catalogue and gather them as facts."""

from candidacy.case.catalogue import UNKNOWN, Catalogue, catalogue
from candidacy.case.doubtful import by_itself
from candidacy.case.element import LEVELS, LISTS, Element
from candidacy.case.entry_values import VALUE_OF, Found, Place
from candidacy.case.facts import CaseFacts, Fact, FactList, Provenance, normal_level
from candidacy.case.free_text import add_danger_in_text, says_unknown
from candidacy.case.record import CaseRecord, Document, FactEntry
from candidacy.case.remarks import remarks_of
from candidacy.foundation.dates import DateError, date_span, day
from candidacy.foundation.errors import Code, shorten
from candidacy.foundation.values import Options, Span, Why


def gather(record: CaseRecord) -> tuple[CaseFacts, Found]:
    """Check every entry of a record against the catalogue.

    Returns
    -------
    tuple
        The facts, and all problems with the path of the entry each belongs to.
    """
    shelf = catalogue()
    problems: Found = []
    facts = CaseFacts(record.id)
    _check_day(record.as_of, problems)
    days = _document_days(record, problems)

    def table(entries: dict[str, FactEntry], scope: str, subject: str, *path: str | int) -> dict[str, Fact]:
        found: dict[str, Fact] = {}
        for name, entry in entries.items():
            where = Place((*path, name), problems)
            element = _element(shelf, name, scope, where)
            if element is not None:
                fact = _fact(element, subject, entry, record.documents, days, where)
                if fact is not None:
                    found[name] = fact
                    _question(element, fact, facts)
        for name in found:
            if name in shelf.excluding:
                _refuse_second_scale(shelf[name], found, Place((*path, name), problems))
        return found

    facts.patient = table(record.patient, "patient", "patient", "patient")
    for written, entries in record.discs.items():
        where = Place(("discs", written), problems)
        level = normal_level(written)
        if level is None:
            where.refuse(
                Code.BAD_LEVEL,
                "not a lumbar disc level",
                found=shorten(written),
                expected=", ".join(LEVELS),
                next_step="write the two vertebrae, for example L4-L5",
            )
        elif level in facts.discs:
            where.refuse(
                Code.DUPLICATE_KEY,
                "this disc is listed twice",
                found=shorten(written),
                next_step=f"join both entries under {level}",
            )
        else:
            facts.discs[level] = table(entries, "disc", level, "discs", written)
    for name, scope in LISTS.items():
        listed = getattr(record, name)
        if listed is not None:
            told_on = _day(listed.source, listed.date, record.documents, days, Place((name,), problems))[0]
            group = FactList(bool(listed.complete), taken_out=listed.taken_out, day=told_on)
            for place, (number, entries) in enumerate(zip(listed.numbers, listed.entries, strict=True)):
                group.entries.append(table(entries, scope, f"{name}[{number}]", name, "entries", place))
            facts.lists[name] = group
    add_danger_in_text(record, facts)
    facts.remarks = remarks_of(record)
    return facts, problems


def gather_one(element: Element, subject: str, entry: FactEntry) -> tuple[Fact | None, Found]:
    """Check one entry that stands in no record, and so names no document of one; as `gather` does.

    Returns
    -------
    tuple
        The fact, or ``None`` where the entry gives none, and all problems.
    """
    problems: Found = []
    where = Place((element.name,), problems)
    if _element(catalogue(), element.name, element.scope, where) is None:
        return None, problems
    return _fact(element, subject, entry, {}, {}, where), problems


def _check_day(as_of: str | None, problems: Found) -> None:
    if as_of is not None:
        try:
            day(as_of)
        except DateError as error:
            Place(("as_of",), problems).refuse(
                Code.BAD_DATE, str(error), found=shorten(as_of), expected="YYYY-MM-DD"
            )


def _document_days(record: CaseRecord, problems: Found) -> dict[str, Span]:
    days: dict[str, Span] = {}
    for key, document in record.documents.items():
        if document.date is not None:
            try:
                days[key] = date_span(document.date)
            except DateError as error:
                Place(("documents", key, "date"), problems).refuse(
                    Code.BAD_DATE,
                    str(error),
                    found=shorten(document.date),
                    expected="YYYY-MM-DD, YYYY-MM or YYYY",
                )
    return days


def _element(shelf: Catalogue, name: str, scope: str, where: Place) -> Element | None:
    element = shelf.get(name)
    if element is not None and element.scope == scope and element.statable:
        return element
    if "grade" in name and element is None and name in ("degeneration_grade", "disc_grade", "grade"):
        where.refuse(
            Code.WRONG_SCALE,
            "the grading scale is not named",
            found=name,
            expected="pfirrmann_grade (I to V) or modified_pfirrmann_grade (1 to 8)",
            next_step="ask which scale the reader used; the two are never converted",
        )
        return None
    if element is not None and element.scope != scope:
        hint = f"it belongs to {element.scope}"
    elif element is not None:
        hint = "it is worked out by the program and cannot be stated"
    else:
        close = shelf.nearest(name, scope)
        hint = f"closest is {close}" if close else "an element of the catalogue"
    where.refuse(
        Code.UNKNOWN_ELEMENT,
        "not a data element here",
        found=shorten(name),
        expected=hint,
        next_step=UNKNOWN,
    )
    return None


def _fact(
    element: Element,
    subject: str,
    entry: FactEntry,
    documents: dict[str, Document],
    days: dict[str, Span],
    where: Place,
) -> Fact | None:
    forms = entry.forms
    provenance = _provenance(entry, forms[0] if forms else "", documents, days, where)
    if len(forms) != 1:
        where.refuse(
            Code.MISSING_KEY if not forms else Code.CONTRADICTION,
            "a fact needs exactly one statement of its value",
            found=", ".join(forms) or "none",
            expected="one of value, between, at_least, at_most, more_than, less_than, one_of, unknown",
            next_step="where it is not known, write {unknown: not_stated} or leave the entry out",
        )
        return None
    if entry.unknown is not None:
        return Fact(element.name, subject, None, Why(entry.unknown), provenance)
    if says_unknown(entry.words):
        where.refuse(
            Code.CONTRADICTION,
            "a value is stated, and the words of the source say that it is not known",
            found=shorten(entry.words or ""),
            expected="a value with the words that say it, or {unknown: not_stated}",
            next_step="if the source does not tell it, write {unknown: not_stated} in place of the value",
        )
        return None
    value = VALUE_OF[element.kind](element, entry, forms[0], where)
    return None if value is None else Fact(element.name, subject, value, None, provenance)


def present(sign: Element, fact: Fact) -> bool:
    """Whether a covered sign is certainly there: true, or a code that cannot be normal."""
    value = fact.value
    return isinstance(value, Options) and not value.codes & sign.absent.codes


def _refuse_second_scale(element: Element, facts: dict[str, Fact], where: Place) -> None:
    """Two scales for one thing are never compared or converted, so only the one that was used may stand."""
    other = [name for name in element.excludes if name in facts and facts[name].value is not None]
    if other and facts[element.name].value is not None:
        where.refuse(
            Code.WRONG_SCALE,
            "two grading scales are stated for the same disc",
            found=", ".join([element.name, *other]),
            expected="one of them, the scale that the reader used",
            next_step="keep the grade of the reader whose report counts; the scales are never converted",
        )


def _provenance(
    entry: FactEntry, form: str, documents: dict[str, Document], days: dict[str, Span], where: Place
) -> Provenance:
    document = documents.get(entry.source or "")
    day, day_words = _day(entry.source, entry.date, documents, days, where)
    raw = getattr(entry, form) if form else ""
    if isinstance(raw, tuple):
        written = ", ".join(map(str, raw)) if raw else "[]"
    elif isinstance(raw, bool):
        written = "true" if raw else "false"
    else:
        written = str(raw)
    if form not in ("value", ""):
        written = f"{form.replace('_', ' ')} {written}"
    return Provenance(
        document=entry.source or "",
        kind=document.kind if document else "",
        day=day,
        day_words=day_words,
        words=entry.words or "",
        recorded_by=entry.by or (document.author if document else ""),
        as_written=f"{written} {entry.unit}" if entry.unit else written,
        note=entry.note or "",
    )


def _day(
    source: str | None, date: str | None, documents: dict[str, Document], days: dict[str, Span], where: Place
) -> tuple[Span | None, str]:
    """The day of what a document tells, or another that is given, and how it is written."""
    document = documents.get(source or "")
    if source is not None and document is None:
        where.refuse(
            Code.UNKNOWN_DOCUMENT,
            "names a document that is not in this record",
            found=shorten(source),
            expected=", ".join(documents) or "a key under documents",
        )
    if date is not None:
        try:
            return date_span(date), date
        except DateError as error:
            where.refuse(
                Code.BAD_DATE, str(error), found=shorten(date), expected="YYYY-MM-DD, YYYY-MM or YYYY"
            )
    return days.get(source or ""), (document.date or "") if document else ""


def _question(element: Element, fact: Fact, facts: CaseFacts) -> None:
    """Note a value that is doubtful, or a range between statements that differ; the reader is asked to check it."""
    if fact.value is not None and fact.provenance.disputed:
        facts.questioned.append(
            f"{element.label} of {fact.subject}: {fact.provenance.note}; every value between them is held possible, "
            "please settle at the source which is right"
        )
    words, _ = by_itself(facts, fact)
    if words:
        facts.questioned.append(words)
