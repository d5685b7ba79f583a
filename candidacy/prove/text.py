"""What was proved, in sentences: as text for the terminal, and as Markdown."""

from collections.abc import Iterator

from candidacy.foundation.digest import short
from candidacy.foundation.values import number_words
from candidacy.prove.document import ComparisonInfo, CriterionMoveInfo, MoveInfo, ProofInfo, Proofs, RangeInfo
from candidacy.rules.vocabulary import STANDINGS

_VERDICTS = {
    "equal": "Equal: no such record has another standing under {other}.",
    "first_stricter": "{first} is stricter: wherever the standings differ, it gives the worse one.",
    "second_stricter": "{other} is stricter: wherever the standings differ, it gives the worse one.",
    "incomparable": "Neither is stricter: records move both ways.",
    "not_decided": "Not decided: what is open below is neither proved to be impossible nor shown by a record.",
}
_NEVER = {"pass": "can never pass where it applies", "fail": "can never fail", "apply": "can never apply"}


def as_text(proofs: Proofs) -> str:
    """The proofs for the terminal."""
    return "\n\n".join("\n".join(_lines(proof, "", "  ")) for proof in proofs.proofs) + "\n"


def as_markdown(proofs: Proofs) -> str:
    """The proofs as Markdown."""
    return "\n\n".join("\n".join(_lines(proof, "## ", "- ")) for proof in proofs.proofs) + "\n"


def _lines(proof: ProofInfo, head: str, point: str) -> Iterator[str]:
    named = f"{proof.rule_set.id} {proof.rule_set.version}"
    yield f"{head}Proofs about {named} ({short(proof.rule_set.digest)}), as of {proof.as_of}"
    yield ""
    yield from (f"{point}{line}" for line in proof.over)
    yield ""
    for title, lines in sections(proof):
        yield f"{'### ' if head else ''}{title}"
        if head:
            yield ""
        yield from (f"{point}{line}" for line in lines)
        yield ""
    if proof.comparison is not None:
        yield f"{'### ' if head else ''}Against {proof.comparison.other.id} {proof.comparison.other.version}"
        if head:
            yield ""
        yield from (f"{point}{line}" for line in _compared(named, proof.comparison))
        yield ""
    if proof.ranges is not None:
        yield f"{'### ' if head else ''}Where parameters may go with nothing changing for {proof.case}, as of {proof.case_as_of}"
        if head:
            yield ""
        yield from (f"{point}{range_words(each)}" for each in proof.ranges)
        yield ""
    yield outcome(proof)


def sections(proof: ProofInfo) -> Iterator[tuple[str, list[str]]]:
    """What was found, by headings, each finding as a line."""
    faults = [f"{each.criterion} {_NEVER[each.never]} ({each.title})" for each in proof.never]
    faults += [
        f"decision rule {each.rule} can never decide ({STANDINGS[each.standing]})"
        for each in proof.dead_rules
    ]
    if faults:
        yield "Faults", faults
    if proof.implied:
        yield (
            "Failures that never add anything",
            [
                f"{each.criterion} ({each.force}) fails only where {each.by} ({each.by_force}) fails"
                + (", and the reverse" if each.both_ways else "")
                for each in proof.implied
            ],
        )
    if proof.without_influence:
        yield (
            "Parameters without influence",
            [
                f"{e.criterion}: {e.parameter} ({e.value}); tried {', '.join(e.tried)}"
                for e in proof.without_influence
            ],
        )
    if proof.idle_rules:
        yield "Decision rules that speak only of forces no criterion here has", proof.idle_rules
    if proof.undecided:
        yield "Not decided: neither proved nor shown by a record", proof.undecided


def outcome(proof: ProofInfo) -> str:
    """How many questions were asked, and what came of them."""
    asked = (
        f"{proof.questions} questions whether a criterion can pass, fail or apply and a decision rule decide"
    )
    shown = f"{proof.shown} shown by a record that was read in the ordinary way"
    found = "A rule set with faults cannot be in_use." if proof.faults else "No fault found."
    return f"{asked}: {shown}, {len(proof.never) + len(proof.dead_rules)} proved impossible. {found}"


def _compared(first: str, comparison: ComparisonInfo) -> Iterator[str]:
    other = f"{comparison.other.id} {comparison.other.version}"
    yield _VERDICTS[comparison.verdict].format(first=first, other=other)
    for move in comparison.moves:
        yield _shown(f"{STANDINGS[move.first]} becomes {STANDINGS[move.second]}", move)
    for each in comparison.criteria:
        yield _shown(f"{each.criterion}: {each.first} becomes {each.second}", each)
    for name in comparison.unasked:
        yield f"{name} asks something else; whether its outcomes differ was not asked, because facts are worked out differently"


def _shown(said: str, move: MoveInfo | CriterionMoveInfo) -> str:
    if not move.shown:
        return f"{said}: not decided"
    count = f"{move.facts} fact{'' if move.facts == 1 else 's'}"
    return f"{said}: shown by an invented record of {count}" + (f", {move.file}" if move.file else "")


def range_words(found: RangeInfo) -> str:
    """One range in words."""
    unit = f" {found.unit}" if found.unit and found.unit != "1" else ""
    low = "the lower end of its range" if found.low is None else f"{number_words(found.low)}{unit}"
    high = "the upper end" if found.high is None else f"{number_words(found.high)}{unit}"
    ends = [
        *([f"{low} not included"] if found.low is not None and not found.low_included else []),
        *([f"{high} not included"] if found.high is not None and not found.high_included else []),
    ]
    changes = [
        *([f"below: {found.changes_below}"] if found.changes_below else []),
        *([f"above: {found.changes_above}"] if found.changes_above else []),
    ]
    said = f"{found.criterion}, {found.parameter} {number_words(found.value)}{unit}: from {low} to {high}"
    return said + (f" ({', '.join(ends)})" if ends else "") + (f"; {'; '.join(changes)}" if changes else "")
