"""Content of one's own that bears a shipped id: refused, unless it declares what it replaces, and why."""

from collections.abc import Callable, Iterable

from msgspec import Struct

from candidacy.case.element import Danger, Element, Near, Past, Range, Replaces
from candidacy.foundation.errors import Code
from candidacy.rules.findings import Findings
from candidacy.rules.relations import Relation

# What of an element other rules are built on; an element that replaces another keeps it.
_KEPT = (
    "scope",
    "kind",
    "unit",
    "ordered",
    "levels",
    "derived",
    "statable",
    "inputs",
    "reads",
    "covers",
    "excludes",
    "past",
    "listed_in",
    "parts",
    "within",
)
# What of an element contradicts other facts: a replacement may add to it.
_ADDED_TO = ("not_below", "not_after", "unlike")
# Limits beyond which a value is to be looked up: a replacement may set others, and leave none out.
_LIMITS = ("likely", "near", "reported_within")


Declare = Callable[[str, str, Replaces | None, tuple[str, str | None], Findings, tuple[str | int, ...]], None]
"""Notes what content replaces, or what is wrong with how it says so; see `replacement`."""


class Replacement(Struct, frozen=True):
    """Content of one's own in the place of shipped content of the same id.

    ``kind`` is what it is in words, such as "criterion"; ``version`` and ``replaced_version`` are empty for what bears
    no version of its own.
    """

    kind: str
    id: str
    version: str
    replaced_version: str
    reason: str

    @property
    def words(self) -> str:
        """As a sentence tells it, without a full stop."""
        own = f" {self.version}" if self.version else ""
        former = f" {self.replaced_version}" if self.replaced_version else ""
        return f"{self.kind} {self.id}{own} of one's own replaces the shipped{former or ' one'}: {self.reason.rstrip('.')}"


def in_place(names: Iterable[str]) -> str:
    """What stands in the place of shipped content, by kind and id, as a sentence; empty where nothing does."""
    told = ", ".join(dict.fromkeys(names))
    return f"Of one's own, in the place of shipped content: {told}." if told else ""


def replacement(
    kind: str,
    identifier: str,
    declared: Replaces | None,
    versions: tuple[str, str | None],
    findings: Findings,
    place: tuple[str | int, ...] = (),
) -> Replacement | None:
    """What content replaces, or what is wrong with how it says so, added to the findings.

    Parameters
    ----------
    versions
        Its own version, empty where it bears none, and that of the library it extends: ``None`` where that library
        has nothing of this id.
    """
    own, former = versions
    if former is None:
        if declared is not None:
            findings.add((*place, "replaces"), Code.BAD_RULE, f"replaces nothing: there is no shipped {kind} of this id",
                         found=identifier)  # fmt: skip
        return None
    if declared is None:
        findings.add(
            place, Code.CONTRADICTORY_RULES, f"there is a shipped {kind} of this id", found=identifier,
            expected="an id of its own, or replaces: {" + (f'version: "{former}", ' if former else "") + "reason: why}",
        )  # fmt: skip
        return None
    if (declared.version or "") != former:
        findings.add(
            (*place, "replaces"), Code.BAD_VERSION,
            "the version that is replaced is not the one there is" if former else f"a {kind} bears no version to be replaced",
            found=declared.version or "none", expected=former or "only a reason",
            next_step="compare with the one there is, then name its version" if former else "",
        )  # fmt: skip
        return None
    return Replacement(kind, identifier, own, former, declared.reason)


def check_replaced_element(
    own: Element, former: Element, findings: Findings, place: tuple[str | int, ...]
) -> None:
    """An element that replaces another keeps what rules, formulas and tables are built on."""
    for name in _KEPT:
        if getattr(own, name) != getattr(former, name):
            findings.add((*place, name), Code.CONTRADICTORY_RULES, "rules are built on this, so a replacement keeps it",
                         found=getattr(own, name), expected=str(getattr(former, name)))  # fmt: skip
    for name in _ADDED_TO:
        left = [each.element for each in getattr(former, name) if each not in getattr(own, name)]
        if left:
            findings.add((*place, name), Code.CONTRADICTORY_RULES, "a contradiction that is found by this would pass",
                         found=f"without {', '.join(left)}", expected="what the shipped one says, and more")  # fmt: skip
    for name in _LIMITS:
        if _ends(getattr(former, name)) - _ends(getattr(own, name)):
            findings.add((*place, name), Code.CONTRADICTORY_RULES, "a value that is to be looked up would pass",
                         found="none", expected=f"{name}, with limits that may be others")  # fmt: skip
    for danger in former.danger:
        if not any(_covers(each, danger) for each in own.danger):
            findings.add((*place, "danger"), Code.CONTRADICTORY_RULES, "a danger would pass that the shipped one names",
                         found=f"without {danger.op} {', '.join(map(str, danger.limits))}",
                         expected="every danger of the shipped one; a limit of a number may be another")  # fmt: skip
    if own.codes != former.codes:
        findings.add((*place, "choices"), Code.CONTRADICTORY_RULES, "rules are built on these codes, so a replacement keeps them",
                     found=", ".join(own.codes), expected=", ".join(former.codes))  # fmt: skip


def _ends(limit: Range | Near | int | None) -> set[str]:
    """The ends at which a limit is set."""
    if limit is None or isinstance(limit, int):
        return set() if limit is None else {"only"}
    return {name for name, end in limit if end is not None}


def _covers(own: Danger, former: Danger) -> bool:
    """Whether a danger is another one still: the same test, of no fewer codes, for as long; the limit of a number is a practice's own."""
    number = all(isinstance(each, int | float) and not isinstance(each, bool) for each in former.limits)
    same = own.op == former.op and (number or set(own.limits) >= set(former.limits))
    return same and (own.past is None or _ends_no_sooner(own.past, former.past))


def _ends_no_sooner(own: Past, former: Past | None) -> bool:
    return former is not None and own.date == former.date and own.days >= former.days


def check_replaced_relation(
    own: Relation, former: Relation, findings: Findings, place: tuple[str | int, ...]
) -> None:
    """A sign of danger that outranks a denial still does where a relation is replaced, and is told by the same details."""
    if not former.acts:
        return
    if left := sorted(former.details - own.details):
        findings.add((*place, "implied"), Code.CONTRADICTORY_RULES, "a sign of danger would not be told any more by what tells it",
                     found=f"without {', '.join(left)}", expected="every detail of the shipped one, and more")  # fmt: skip
    if not own.acts:
        findings.add((*place, "acts"), Code.CONTRADICTORY_RULES, "a sign of danger would not outrank a denial any more",
                     found="without acts", expected="acts: true")  # fmt: skip
