"""The facts of a case with others in their place."""

from collections.abc import Collection, Iterable

from candidacy.case.doubtful import CHECKED
from candidacy.case.element import LISTS
from candidacy.case.facts import CaseFacts, Fact, FactList, Provenance
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.values import Span
from candidacy.settle.situation import Reply


def supposed(
    facts: CaseFacts,
    replies: Iterable[Reply],
    day: int,
    gone: Collection[tuple[str, str]] = (),
) -> CaseFacts:
    """The facts of a case with others in their place, as told on a day, and without those that are ``gone``."""
    patient, discs, lists = dict(facts.patient), dict(facts.discs), dict(facts.lists)
    # an answer to a question that was asked is what the source says, however unusual
    told = Provenance(day=Span(day, day), note=CHECKED)
    for element, subject in gone:
        table = patient if subject == "patient" else discs.get(subject, {})
        kept = {name: fact for name, fact in table.items() if name != element}
        if subject == "patient":
            patient = kept
        elif subject in discs:
            discs[subject] = kept
    for element, subject, value in replies:
        if element in LISTS:
            group = lists.get(element) or FactList(True)
            lists[element] = FactList(True, group.entries, group.taken_out, group.day)
            continue
        fact = Fact(element, subject, value, provenance=told)
        if subject == "patient":
            patient[element] = fact
        elif "[" in subject:
            name = subject.partition("[")[0]
            group, number = lists[name], int(subject[len(name) + 1 : -1])
            entries = list(group.entries)
            place = group.numbers.index(number)
            entries[place] = {**entries[place], element: fact}
            lists[name] = FactList(group.complete, entries, group.taken_out, group.day)
        else:
            discs[subject] = {**discs.get(subject, {}), element: fact}
    return replace(facts, patient=patient, discs=discs, lists=lists)
