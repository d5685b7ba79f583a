"""Why the standings of one case differ between rule sets: the differences that decide, the gravest first, in sentences."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from candidacy.case.catalogue import catalogue
from candidacy.explain.document import AssessmentDocument, CriterionInfo, DiscInfo, FiredInfo, TestInfo
from candidacy.explain.found import in_sentence
from candidacy.explain.labels import SHOWN
from candidacy.explain.wording import listed, subject_words, with_unit
from candidacy.rules.operators import OPERATORS
from candidacy.rules.vocabulary import STANDINGS

DECIDING = "Deciding difference"
_ALSO = "Also deciding"
_MOST = 4
_OUTCOMES = ("fail", "undetermined", "pass")
_FORCES = ("stop", "absolute", "relative", "advisory")
# How the limit of a test reads of the case that passes, where the criterion fails when the test is met.
_DENIED = {"at_least": "less than", "at_most": "more than", "more_than": "at most", "less_than": "at least"}


class Compared(NamedTuple):
    """One question under each rule set: the criterion that asks it, or none."""

    subject: str
    cells: tuple[CriterionInfo | None, ...]


def deciding_lines(documents: Sequence[AssessmentDocument], rows: Sequence[Compared]) -> list[str]:
    """The differences that decide, one sentence each; one that says so where the standings do not differ.

    A standing that is graver has its grounds, and another is given only because these are absent there; so the grounds
    that are absent under the other rule set are what decides between the two.
    """
    names = _names(documents)
    if len({_gravity(d) for d in documents}) == 1:
        return [_none(documents, names)]
    found: dict[int, int] = {}
    others: dict[str, None] = {}  # in order, each once
    for one, graver in enumerate(documents):
        for other, lighter in enumerate(documents):
            if _gravity(graver) < _gravity(lighter):
                causes = list(_causes(graver, one, other, rows))
                for place in causes:
                    found[place] = found.get(place, 0) + 1
                if not causes:
                    others[_elsewhere(graver, names[one], names[other])] = None
    order = sorted(found, key=lambda place: (-found[place], _force(rows[place]), place))
    several: dict[tuple[str, ...], list[Compared]] = {}
    for place in order:  # one question to several discs is told once
        several.setdefault(tuple(cell.id if cell else "" for cell in rows[place].cells), []).append(
            rows[place]
        )
    said = [*(_sentence(same, names) for same in several.values()), *others]
    heads = (DECIDING, *[_ALSO] * (len(said) - 1))
    lines = [f"{head}: {words}." for head, words in zip(heads, said, strict=True)]
    more = len(lines) - _MOST
    return [*lines[:_MOST], f"And {more} more: see the criteria below."] if more > 0 else lines


def limit_words(row: CriterionInfo) -> str:
    """What a criterion asks of the case that passes, where it is one comparison with limits; else empty."""
    test = row.tests
    if test.kind not in ("test", "elapsed") or not test.parameters:
        return ""
    limits = with_unit(listed(test.limits, "and" if test.op == "between" else "or"), test.unit)
    words = OPERATORS[test.op]
    if row.kind == "inclusion":
        return f"{words.words.removeprefix('is ')} {limits}"
    return f"{_DENIED.get(test.op) or words.denied.removeprefix('is ')} {limits}"


def _gravity(document: AssessmentDocument) -> tuple[int, bool]:
    return list(STANDINGS).index(document.standing), document.shown == "not_yet"


def _names(documents: Sequence[AssessmentDocument]) -> list[str]:
    """The rule sets as a sentence calls them, told apart where two bear one title."""
    titles = [d.rule_set.title + (" (local trial)" if d.rule_set.tried else "") for d in documents]
    told = [
        f"{title} {d.rule_set.version}" if titles.count(title) > 1 else title
        for title, d in zip(titles, documents, strict=True)
    ]
    return [f"“{title}”" if "," in title else title for title in told]


def _none(documents: Sequence[AssessmentDocument], names: Sequence[str]) -> str:
    kinds = {d.standing_name for d in documents}
    if len(kinds) == 1:
        return f"No deciding difference: the standing is “{documents[0].standing_name}” under all of them."
    said = _grouped((f"“{d.standing_name}”", name) for d, name in zip(documents, names, strict=True))
    return f"No deciding difference: {_under(said)} are standings of one kind."


def _causes(graver: AssessmentDocument, one: int, other: int, rows: Sequence[Compared]) -> Iterator[int]:
    """Places of the rows that are grounds of the graver standing and are not so under the other rule set."""
    grounds = set(_grounds(graver))
    for place, row in enumerate(rows):
        here, there = row.cells[one], row.cells[other]
        if here is None or (here.id, row.subject) not in grounds:
            continue
        if there is None or (there.outcome, there.force) != (here.outcome, here.force):
            yield place


def _grounds(document: AssessmentDocument) -> Iterator[tuple[str, str]]:
    """The criteria behind a standing, each with its subject; one that weighs discs gives way to what fails the discs."""
    names = _because(document.fired, document.decided_by)
    rows = {c.id: c for c in document.criteria if c.subject == "patient"}
    weighing = {
        name for name in names if name in rows and "disc_standing" in set(_elements(rows[name].tests))
    }
    behind = [disc for disc in document.discs if disc.level in names or (weighing and _weighs(disc))]
    of_discs = [(name, disc.level) for disc in behind for name in _because(disc.fired, disc.decided_by)]
    yield from ((name, "patient") for name in names if not (of_discs and name in weighing))
    yield from of_discs


def _because(fired: Sequence[FiredInfo], rule: str) -> list[str]:
    return [name for each in fired if each.rule == rule for name in each.because]


def _weighs(disc: DiscInfo) -> bool:
    return disc.considered != "not_met" and disc.standing != "candidate"


def _elements(test: TestInfo) -> Iterator[str]:
    yield test.element
    for part in test.parts:
        yield from _elements(part)


def _force(row: Compared) -> int:
    return min(_FORCES.index(cell.force) for cell in row.cells if cell is not None)


# --- sentences


def _sentence(same: Sequence[Compared], names: Sequence[str]) -> str:
    """One question, to the patient or to several discs, with what each rule set makes of it and what was found.

    Limits are told where they make the outcomes differ; where the outcome is one, only its force decides.
    """
    cells = same[0].cells
    used = [(cell, name) for cell, name in zip(cells, names, strict=True) if cell is not None]
    absent = [name for cell, name in zip(cells, names, strict=True) if cell is None]
    without = f"; not asked under {listed(absent)}" if absent else ""
    worst = [min(filter(None, row.cells), key=lambda cell: _OUTCOMES.index(cell.outcome)) for row in same]
    outcomes = any(len({cell.outcome for cell in row.cells if cell}) > 1 for row in same)
    forces = len({cell.force for cell, _ in used}) > 1
    levels = [] if same[0].subject == "patient" else [row.subject for row in same]
    told = f"{listed(levels)}{': ' if levels else ''}{in_sentence(worst[0].found)}"
    reasons = "; ".join(_reasons(cell, used) for cell in worst)
    if not outcomes:
        counts = _grouped((str(cell.force), name) for cell, name in used)
        return f"{told} ({reasons}) counts as {_under(counts)}{without}"
    limits = _grouped((_with_force(limit_words(cell), cell, forces), name) for cell, name in used)
    if all(limit_words(cell) for cell, _ in used) and len({limit_words(cell) for cell, _ in used}) > 1:
        found = "; ".join(_found(cell) for cell in worst)
        return f"{_asked(worst[0])} {_under(limits)}{without}; {found}"
    values = _parameters(used)
    if values:
        return f"{told} ({reasons}): {values}{without}"
    said = _grouped((_with_force(SHOWN[cell.shown][1].lower(), cell, forces), name) for cell, name in used)
    return f"{told} ({reasons}): {_under(said)}{without}"


def _with_force(words: str, row: CriterionInfo, forces: bool) -> str:
    return f"{words} ({row.force})" if forces else words


def _asked(row: CriterionInfo) -> str:
    label = in_sentence(catalogue()[row.tests.element].label)
    return f"time since {label}" if row.tests.kind == "elapsed" else label


def _reasons(row: CriterionInfo, used: Sequence[tuple[CriterionInfo, str]]) -> str:
    """What made the outcome: of several tests those whose limits differ between the rule sets, where there are any."""
    differing = _differing(used)
    decided = [test for test in _leaves(row.tests) if test.words in row.because]
    chosen = [test.words for test in decided if not differing.isdisjoint(test.parameters)]
    return "; ".join((list(dict.fromkeys(chosen)) or row.because)[:2])


def _leaves(test: TestInfo) -> Iterator[TestInfo]:
    if not test.parts:
        yield test
    for part in test.parts:
        yield from _leaves(part)


def _differing(used: Sequence[tuple[CriterionInfo, str]]) -> set[str]:
    """Parameters of which rule sets have different values; those behind the outcome alone, where there are any."""
    values: dict[str, set[str]] = {}
    for cell, _ in used:
        for parameter in cell.parameters:
            values.setdefault(parameter.name, set()).add(parameter.value)
    differing = {name for name, found in values.items() if len(found) > 1}
    decided = {
        name
        for cell, _ in used
        for test in (cell.tests, *_leaves(cell.tests))
        if test.words in cell.because
        for name in test.parameters
    }
    return differing & decided or differing


def _grouped(said: Iterator[tuple[str, str]]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for words, name in said:
        found.setdefault(words, []).append(name)
    return found


def _under(groups: dict[str, list[str]]) -> str:
    return ", ".join(f"{words} under {listed(names)}" for words, names in groups.items())


def _parameters(used: Sequence[tuple[CriterionInfo, str]]) -> str:
    """Parameters of one criterion that rule sets set otherwise, each with its meaning."""
    said = []
    differing = _differing(used)
    for name in (p.name for p in used[0][0].parameters if p.name in differing):
        found = [(p, rules) for cell, rules in used for p in cell.parameters if p.name == name]
        said.append(
            f"{in_sentence(found[0][0].meaning)} {_under(_grouped((p.value, rules) for p, rules in found))}"
        )
    return "; ".join(said)


def _found(row: CriterionInfo) -> str:
    """The value that is compared, or why there is none."""
    who = "the patient" if row.subject == "patient" else subject_words(row.subject)
    if row.tests.value:
        return f"{who}: {row.tests.value}"
    return "; ".join(in_sentence(words) for words in row.because[:1])


def _elsewhere(graver: AssessmentDocument, name: str, other: str) -> str:
    """A ground that no criterion of its own tells, such as a contradiction or a recorded sign that nobody weighs."""
    cause = graver.reason[0].split(": ", 1)[1].rstrip(".")
    return f"under {name} {in_sentence(cause)}; under {other} that decides nothing"
