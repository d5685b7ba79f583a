"""Dangers that nothing may weigh: signs that are known, supposed, or still to be told."""

from collections.abc import Callable, Collection, Iterable
from functools import cached_property

from candidacy.assessment.evaluate import compiled
from candidacy.assessment.record_grounds import Dangers, dangers_of
from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import CaseFacts, Fact
from candidacy.foundation.truth import Truth
from candidacy.settle.reads import Reads
from candidacy.settle.situation import Grounds, Replies, Reply, Situation, in_order, place


class OpenDangers:
    """Signs of danger of one case that no criterion weighs in every case.

    Parameters
    ----------
    facts
        The case as recorded.
    weighing
        Which criteria of the rule set weigh a sign.
    view
        The case with some facts supposed, in their order.
    """

    def __init__(
        self, facts: CaseFacts, weighing: Dangers, reads: Reads, view: Callable[[Replies], View]
    ) -> None:
        self._facts, self._weighing, self._reads, self._view = facts, weighing, reads, view
        self._danger: dict[Reply, bool] = {}
        self._weighed: dict[tuple[str, str, Replies], bool] = {}
        self._harmless: dict[tuple[tuple[str, str], Replies], bool] = {}
        self._pending: list[tuple[str, str]] = []
        self._imprecise: list[tuple[str, str]] = []

    def look_out_for(self, element: str, subject: str, replies: Iterable[Reply]) -> None:
        """A missing fact may turn out a sign of danger, where any of its answers is one."""
        found = list(map(dangerous, replies))
        if any(found) and not self._weighing.always_weighed(element):
            self._pending.append((element, subject))
            if not all(found) and (element, subject) in self._in_record:
                self._imprecise.append((element, subject))

    def unread(self, replies: Replies) -> Grounds:
        """What the record says of dangers that nothing weighs."""
        found = self._known(replies)
        if not found:
            return frozenset()
        weighed, view = self._weighing.weighed, self._view(in_order(replies))
        return frozenset((s, "record", "unread_danger") for e, s in found if not weighed(view, e, s))

    def _known(self, replies: Replies) -> list[tuple[str, str]]:
        """Signs of danger that are known, or supposed, and that no criterion weighs in every case."""
        told = {place(reply) for reply in replies} if self._in_record else ()
        return [
            *(key for key in self._in_record if key not in told),
            *(place(reply) for reply in replies if self._unsafe(reply)),
        ]

    def _unsafe(self, reply: Reply) -> bool:
        """Whether a reply is a sign of danger that no criterion weighs in every case."""
        if reply.element not in self._reads.dangers:
            return False
        found = self._danger.get(reply)
        if found is None:
            found = self._danger[reply] = dangerous(reply)
        return found

    @cached_property
    def _in_record(self) -> list[tuple[str, str]]:
        always, shelf = self._weighing.always_weighed, catalogue()
        return [
            (fact.element, fact.subject)
            for fact in self._facts.stated()
            if fact.value is not None
            and fact.element in shelf
            and shelf[fact.element].danger
            and dangers_of(shelf[fact.element], fact, view=self._view(()))
            and not always(fact.element)
        ]

    def may_be_danger(self, key: tuple[str, str]) -> bool:
        """Whether a missing fact may turn out a sign of danger that no criterion weighs in every case."""
        return key in self._pending

    def may_go_unread(self, replies: Replies, aside: Collection[str]) -> bool:
        """Whether a sign of danger, known or still to be told, may be one that no criterion weighs."""
        told = {place(reply) for reply in replies} if self._pending else ()
        some = [key for key in self._pending if key not in told and not self._told_harmless(key, replies)]
        some += [key for key in self._known(replies) if self._weighing.weighers.get(key[0])]
        some = [key for key in some if key[1] not in aside]
        return not all(self._surely_weighed(element, subject, replies) for element, subject in some)

    def may_be_none(self, made: Situation) -> bool:
        """Whether every danger that goes unread is imprecise, and may turn out to be none."""
        open_ = {key for key in self._imprecise if key not in made.told}
        if not open_:
            return False
        weighed, view = self._weighing.weighed, self._view(in_order(made.replies))
        return all(
            subject in made.aside or (element, subject) in open_ or weighed(view, element, subject)
            for element, subject in self._known(made.replies)
        )

    def _told_harmless(self, key: tuple[str, str], replies: Replies) -> bool:
        """Whether what is supposed tells of a fact that is still to be asked that it is no danger, as a summary tells of its signs."""
        bearing = in_order(reply for reply in replies if self._reads.related(reply.element, key[0]))
        if not bearing:
            return False
        found = self._harmless.get((key, bearing))
        if found is None:
            fact = self._view(bearing).fact(*key)
            exact = fact.value is not None and fact.value.exact
            found = self._harmless[key, bearing] = exact and not dangers_of(catalogue()[key[0]], fact)
        return found

    def _surely_weighed(self, element: str, subject: str, replies: Replies) -> bool:
        """Whether a criterion that weighs an element is known to apply."""
        bearing = in_order(reply for reply in replies if reply.element in self._reads.gates(element))
        key = element, subject, bearing
        found = self._weighed.get(key)
        if found is None:
            view = self._view(key[2])
            found = self._weighed[key] = any(
                node is None
                or compiled(node).read(view, subject if of == "disc" else "patient").truth is Truth.MET
                for of, node in self._reads.gated[element]
            )
        return found


def dangerous(reply: Reply) -> bool:
    """Whether what is supposed is a sign of danger."""
    element = catalogue().get(reply.element)
    return (
        element is not None
        and bool(element.danger)
        and bool(dangers_of(element, Fact(reply.element, reply.subject, reply.value)))
    )
