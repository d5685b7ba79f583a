"""What an assessment would be if further facts were known: only what reads them is read again.

Held by tests to whole assessments of the changed case: same outcomes, same standing.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

from candidacy.assessment.assess import Assessment, Assessor, assessor_for
from candidacy.assessment.doubts import impossible, ordered_with
from candidacy.assessment.evaluate import CompiledCriterion, compiled
from candidacy.assessment.record_grounds import dangers_of, ground_name
from candidacy.assessment.relate import subjects_of, told_apart
from candidacy.assessment.view import View
from candidacy.case.catalogue import LISTS, catalogue
from candidacy.case.doubtful import CHECKED
from candidacy.case.facts import CaseFacts, Fact, FactList, Provenance
from candidacy.foundation.truth import Truth
from candidacy.foundation.values import FALSE, Options, Span, Value
from candidacy.rules.relations import Relation
from candidacy.rules.resolved import RuleSet
from candidacy.rules.tree import Node, elements_of, lists_of
from candidacy.rules.vocabulary import Outcome, Standing
from candidacy.settle.possible import Occurring, Possible, occurring

_LIST_OF = {scope: name for name, scope in LISTS.items()}
_PLACES = ("discs_under_consideration", "discography_levels")


class Reply(NamedTuple):
    """One fact supposed to be known. Of a list (``element`` is its name) it says that the list is complete; then no value."""

    element: str
    subject: str
    value: Value | None


Replies = tuple[Reply, ...]
# Grounds of the record, as (subject, force, outcome).
Grounds = frozenset[tuple[str, str, str]]
NOTHING: Replies = ()


class Situation:
    """A case with some further facts supposed.

    Attributes
    ----------
    replies
        What is supposed.
    standing
        The standing with everything else left unknown.
    possible
        Every standing it may still come to as further facts become known, the present one among them.
    contradicts
        Whether what is supposed cannot be true together with the rest of the record.
    changed
        Outcomes that are no longer those of the record, for deciding criteria by id and subject.
    """

    __slots__ = (
        "aside", "changed", "contradicts", "counts", "discs", "levels", "possible", "record", "replies", "standing",
        "told",
    )  # fmt: skip

    def __init__(self, levels: tuple[str, ...], aside: frozenset[str]) -> None:
        self.replies: Replies = ()
        self.told: frozenset[tuple[str, str]] = frozenset()
        self.levels, self.aside = levels, aside
        self.counts: dict[str, Counter[tuple[str, str]]] = {}
        self.changed: dict[tuple[str, str], Outcome] = {}
        self.record: Grounds = frozenset()
        self.discs: dict[str, tuple[Standing, frozenset[Standing]]] = {}
        self.contradicts = False
        self.standing: Standing = "incomplete"
        self.possible: frozenset[Standing] = frozenset()

    def copied(self) -> "Situation":
        """The same, to be changed."""
        made = Situation(self.levels, self.aside)
        made.told = self.told
        made.replies, made.record, made.contradicts = self.replies, self.record, self.contradicts
        made.counts, made.changed, made.discs = dict(self.counts), dict(self.changed), dict(self.discs)
        return made

    @property
    def settled(self) -> bool:
        """Whether no further fact can change the standing."""
        return len(self.possible) == 1

    @property
    def decided(self) -> bool:
        """Whether no further fact can change the standing but a sign of an emergency."""
        return self.standing != "incomplete" and self.possible <= {self.standing, "urgent"}


class Reads:
    """Which criteria of a rule set can come out otherwise when an element, or whether a list is complete, becomes known."""

    def __init__(self, assessor: Assessor) -> None:
        self._relations = assessor.rule_set.relations
        self.possible = Possible(assessor.rule_set.decisions)
        forces = self.possible.forces
        self.patient = [c for c in assessor.criteria("patient") if c.resolved.force in forces]
        self.disc = [c for c in assessor.criteria("disc") if c.resolved.force in forces]
        self.of = {c.resolved.id: self._closure(c) for c in (*self.patient, *self.disc)}
        self.by_id = {c.resolved.id: c for c in (*self.patient, *self.disc)}
        self.forces = {name: c.resolved.force for name, c in self.by_id.items()}
        self.by_element: dict[str, list[CompiledCriterion]] = {}
        for criterion in (*self.disc, *self.patient):
            for name in self.of[criterion.resolved.id]:
                self.by_element.setdefault(name, []).append(criterion)
        self.dangers = frozenset(
            e.name for e in catalogue().all if e.danger and not assessor.dangers.always_weighed(e.name)
        )
        self.gated: dict[str, list[tuple[str, Node | None]]] = {
            name: [
                (w.item.criterion.subject, w.item.applies_when if w.gated else None)
                for w in assessor.dangers.weighers.get(name, ())
                if w.item.applies_when is None or "disc_standing" not in elements_of(w.item.applies_when)
            ]
            for name in self.dangers
        }
        self._gates: dict[str, frozenset[str]] = {}
        self._pairs: dict[tuple[str, str], bool] = {}
        self._watching: dict[str, tuple[str, ...]] = {}
        self._watched = {
            e.name: frozenset(told_by((e.name,), self._relations))
            for e in catalogue().all
            if e.name in self._relations or e.covers or e.inputs or e.reported_within
        }

    def _closure(self, criterion: CompiledCriterion) -> frozenset[str]:
        item = criterion.resolved
        names = list(elements_of(*item.conditions))
        recency = item.criterion.recency
        names += [recency.dated_by] if recency is not None and recency.dated_by else []
        lists = [name for node in item.conditions for name in lists_of(node)]
        return frozenset(told_by(names, self._relations)) | frozenset(lists)

    def gates(self, element: str) -> frozenset[str]:
        """Elements on which it rests whether the criteria that weigh an element apply."""
        found = self._gates.get(element)
        if found is None:
            nodes = [node for _, node in self.gated[element] if node is not None]
            lists = [name for node in nodes for name in lists_of(node)]
            found = self._gates[element] = frozenset({*told_by(elements_of(*nodes), self._relations), *lists})
        return found

    def related(self, one: str, other: str) -> bool:
        """Whether two elements tell of the same fact, so that they may contradict each other."""
        found = self._pairs.get((one, other))
        if found is None:
            found = any(other in self._watched[name] for name in self.watching(one))
            self._pairs[one, other] = found
        return found

    def watching(self, element: str) -> tuple[str, ...]:
        """The elements whose tellings may conflict because of one."""
        found = self._watching.get(element)
        if found is None:
            found = tuple(name for name, some in self._watched.items() if element in some)
            self._watching[element] = found
        return found

    def told_with(self, element: str) -> frozenset[str]:
        """Elements that tell of a fact of which one tells too."""
        return frozenset[str]().union(*(self._watched[name] for name in self.watching(element)))


def told_by(names: Iterable[str], relations: Mapping[str, Relation]) -> set[str]:
    """Elements and whatever tells them, however deep, with the names of the lists that are read."""
    shelf, open_, found = catalogue(), list(names), set[str]()
    while open_:
        name = open_.pop()
        if name in found:
            continue
        found.add(name)
        if name not in shelf:
            continue
        element = shelf[name]
        open_ += [*element.covers, *element.reads, *(part for some in element.inputs for part in some)]
        open_ += [shelf.covered_by[name]] if name in shelf.covered_by else []
        open_ += [_LIST_OF[element.scope]] if element.scope in _LIST_OF else []
        if name in relations:
            open_ += relations[name].details
            open_ += [each for when in relations[name].conditions for each in lists_of(when)]
    return found


_ready: dict[str, Reads] = {}
_KEPT = 16


def reads_of(assessor: Assessor) -> Reads:
    """What a rule set reads, worked out once for each content."""
    digest = assessor.rule_set.digest
    if digest not in _ready:
        if len(_ready) >= _KEPT:
            _ready.clear()
        _ready[digest] = Reads(assessor)
    return _ready[digest]


class Supposing:
    """Situations of one assessed case, each outcome read once for what bears on it."""

    def __init__(self, assessment: Assessment) -> None:
        self.assessment = assessment
        self._assessor = assessor_for(assessment.rule_set, "direct")
        self.reads = reads_of(self._assessor)
        self._possible = self.reads.possible
        self._views: dict[Replies, View] = {}
        self._outcomes: dict[tuple[str, str, Replies, object], Outcome] = {}
        self._situations: dict[Replies, Situation] = {}
        self._records: dict[Replies, tuple[Grounds, frozenset[str]]] = {}
        self._danger: dict[Reply, bool] = {}
        self._weighed: dict[tuple[str, str, Replies], bool] = {}
        self._harmless: dict[tuple[tuple[str, str], Replies], bool] = {}
        self._pending: list[tuple[str, str]] = []
        self._imprecise: list[tuple[str, str]] = []
        self._turning: dict[tuple[str, str], tuple[frozenset[tuple[str, str]], Replies]] = {}
        self._superseded: dict[tuple[str, str], frozenset[tuple[str, str]]] = {}
        self._looking = [c for c in self.reads.patient if "disc_standing" in self.reads.of[c.resolved.id]]
        of = self.reads.of
        self.base = {(r.id, r.subject): r.outcome for r in assessment.results if r.id in of}
        self.now = self._fresh(NOTHING)

    @property
    def rule_set(self) -> RuleSet:
        return self.assessment.rule_set

    def view(self, replies: Replies) -> View:
        """The case with some facts supposed, as the rule set sees it."""
        found = self._views.get(replies)
        if found is None:
            found = self._views[replies] = self._seen(replies)
        return found

    def _seen(self, replies: Replies) -> View:
        return self._assessor.view(
            replace(self.assessment.case, facts=self.facts(replies)), self.assessment.as_of
        )

    def facts(self, replies: Iterable[Reply]) -> CaseFacts:
        """The facts of the case with those that are supposed."""
        replies = tuple(replies)
        gone = frozenset[tuple[str, str]]()
        if self._superseded:
            gone = gone.union(*(self._superseded.get(_place(r), frozenset()) for r in replies))
        return supposed(self.assessment.case.facts, replies, self.assessment.as_of.toordinal(), gone)

    def tell_anew(self, element: str, subject: str, replies: Iterable[Reply]) -> None:
        """A fact that is out of date is told anew: what its old source says against any of these no longer counts."""
        old = self.view(NOTHING).as_written(element, subject)
        if old is None or not old.provenance.document:
            return
        known = self._conflicts(NOTHING)[1]
        gone: set[tuple[str, str]] = set()
        for reply in replies:
            for fact in self._assessor.record(self.view((reply,))).conflicts:
                if ground_name(fact) not in known:
                    gone |= {
                        (part.element, part.subject)
                        for part in fact.derived_from
                        if part.provenance.document == old.provenance.document
                    }
        gone.discard((element, subject))
        if not gone:
            return
        self._superseded[element, subject] = frozenset(gone)
        self._views.clear()
        self._records.clear()
        self._outcomes.clear()
        self._situations.clear()

    def forget(self) -> None:
        """Work out every situation anew, since more is known of what may be asked."""
        self._situations.clear()
        self.now = self._fresh(NOTHING)

    def outcome(
        self,
        criterion: CompiledCriterion,
        subject: str,
        replies: Replies,
        discs: Mapping[str, Options] | None = None,
    ) -> Outcome:
        """How one criterion comes out; ``discs`` are the standings that discs may come to, for the criteria that read them."""
        name = criterion.resolved.id
        read = self.reads.of[name]
        bearing = tuple([reply for reply in replies if reply.element in read])
        if self._superseded:
            bearing = tuple([reply for reply in replies if not read.isdisjoint(self._elements(reply))])
        told = tuple(discs.items()) if discs is not None and "disc_standing" in read else None
        if told is None and not bearing and (name, subject) in self.base:
            return self.base[name, subject]
        key = name, subject, tuple(sorted(bearing, key=_place)), told
        found = self._outcomes.get(key)
        if found is None:
            view = self.view(key[2]) if told is None else self._seen(bearing)
            if told is not None:
                view.settle_discs(dict(discs or {}))
            found = self._outcomes[key] = criterion.read(view, subject).outcome
        return found

    def _elements(self, reply: Reply) -> tuple[str, ...]:
        """What is told by a reply: its element, and what its old source said against it."""
        return reply.element, *(name for name, _ in self._superseded.get(_place(reply), ()))

    def situation(self, replies: Iterable[Reply]) -> Situation:
        """The case with some facts supposed, each of a fact of its own."""
        key = tuple(sorted(replies, key=_place))
        found = self._situations.get(key)
        if found is None:
            found = self.extended(self.situation(key[:-1]), key[-1]) if key else self.now
            self._situations[key] = found
        return found

    def extended(self, situation: Situation, reply: Reply) -> Situation:
        """A situation in which one more fact is supposed."""
        replies = (*situation.replies, reply)
        if reply.element in _PLACES or (_of_disc(reply) and reply.subject not in situation.levels):
            return self._fresh(replies)
        made = situation.copied()
        made.replies, made.told = replies, frozenset(map(_place, replies))
        made.record = self._record(replies)
        made.contradicts = situation.contradicts or self._contradicts(situation.replies, reply)
        affected = {
            c.resolved.id: c for name in self._elements(reply) for c in self.reads.by_element.get(name, ())
        }.values()
        self._read(made, affected, again=made.record != situation.record or _place(reply) in self._turning)
        return made

    def open(self, situation: Situation) -> frozenset[tuple[str, str]]:
        """Deciding criteria that are open, with their subject."""
        now = {**self.base, **situation.changed}
        return frozenset(key for key, outcome in now.items() if outcome == "undetermined")

    def possible_if(
        self, left: frozenset[tuple[str, str]], passing: frozenset[tuple[str, str]]
    ) -> frozenset[Standing]:
        """The standings that may follow if, of the criteria that are open now, ``left`` stay so and ``passing`` pass.

        Any other that reads the standings of discs is read again.
        """
        made = self.now.copied()
        for name, subject in passing - left:
            force = self._force(name)
            made.counts[subject] = counts = Counter(made.counts[subject])
            counts[force, "undetermined"] -= 1
            counts[force, "pass"] += 1
            made.changed[name, subject] = "pass"
        looking = [c for c in self._looking if (c.resolved.id, "patient") not in passing]
        self._conclude(made, made.levels, looking)
        return made.possible

    def _force(self, name: str) -> str:
        return self.reads.forces[name]

    def _fresh(self, replies: Replies) -> Situation:
        """A situation worked out whole."""
        reads = self.reads
        telling = tuple(r for r in replies if r.element in _PLACES or _of_disc(r))
        view = self.view(tuple(sorted(telling, key=_place)))
        levels = view.named_levels()
        aside = (lv for lv in levels if view.fact("considered_for_treatment", lv).value == FALSE)
        made = Situation(levels, frozenset(aside))
        made.replies, made.told = replies, frozenset(map(_place, replies))
        made.record = self._record(replies)
        for place, reply in enumerate(replies):
            made.contradicts = made.contradicts or self._contradicts(replies[:place], reply)
        for subject in (*levels, "patient"):
            made.counts[subject] = Counter()
        for (name, subject), outcome in self.base.items():
            if subject in made.counts:
                made.counts[subject][self._force(name), outcome] += 1
        self._read(made, (*reads.disc, *reads.patient), again=True)
        return made

    def _read(self, made: Situation, criteria: Iterable[CompiledCriterion], *, again: bool) -> None:
        """Read some criteria anew; then the discs that changed, and the case."""
        turned: set[str] = set()
        patient = []
        for criterion in criteria:
            if criterion.subject == "patient":
                patient.append(criterion)
                continue
            for level in made.levels:
                if self._take(made, criterion, level, None):
                    turned.add(level)
        for criterion in patient:
            if "disc_standing" not in self.reads.of[criterion.resolved.id]:
                self._take(made, criterion, "patient", None)
        looking = self._looking if turned or again else [c for c in patient if c in self._looking]
        self._conclude(made, made.levels if again else turned, looking)

    def _conclude(self, made: Situation, levels: Iterable[str], looking: Iterable[CompiledCriterion]) -> None:
        possible = self._possible
        for level in levels:
            counts = Counter(made.counts[level])
            counts.update((force, outcome) for subject, force, outcome in made.record if subject == level)
            now = possible.now(occurring(counts, possible.forces))
            made.discs[level] = now, possible.of_disc(self._loosened(made, level, counts))
        standings = {level: Options(frozenset[str | bool](some)) for level, (_, some) in made.discs.items()}
        for criterion in looking:
            self._take(made, criterion, "patient", standings)
        counts = Counter(made.counts["patient"])
        counts.update(
            (force, outcome)
            for subject, force, outcome in made.record
            if subject not in made.aside or outcome == "conflict"
        )
        standings_now = [standing for standing, _ in made.discs.values()]
        made.standing = possible.now(occurring(counts, possible.forces), standings_now)
        what = self._loosened(made, "patient", counts)
        discs = [some for _, some in made.discs.values()]
        made.possible = possible.of_case(what, discs) | {made.standing}
        if self._may_go_unread(made.replies, made.aside):
            known = what[0] | {("record", "unread_danger")}
            made.possible |= possible.of_case((known, what[1]), discs)
        if ("record", "unread_danger") in what[0] and self._may_be_none(made):
            # what may be a danger while it is imprecise may turn out to be none
            known = what[0] - {("record", "unread_danger")}
            made.possible |= possible.of_case((known, what[1]), discs)

    def _loosened(self, made: Situation, subject: str, counts: "Counter[tuple[str, str]]") -> Occurring:
        """What occurs in a subject, where an outcome that a fact still to be told may turn counts as open."""
        if self._turning:
            counts = Counter(counts)
            for name in self._turned(made, subject):
                counts[self._force(name), made.changed.get((name, subject), self.base[name, subject])] -= 1
                counts[self._force(name), "undetermined"] += 1
        return occurring(counts, self._possible.forces)

    def _turned(self, made: Situation, subject: str) -> set[str]:
        """Criteria of a subject whose outcome is determined and that a fact still to be told may turn."""
        told = made.told
        found = set()
        for question, (keys, replies) in self._turning.items():
            for name, of in keys if question not in told else ():
                outcome = made.changed.get((name, of), self.base[name, of])
                if of != subject or outcome == "undetermined":
                    continue
                criterion = self.reads.by_id[name]
                if any(self.outcome(criterion, of, (*made.replies, reply)) != outcome for reply in replies):
                    found.add(name)
        return found

    def _take(
        self,
        made: Situation,
        criterion: CompiledCriterion,
        subject: str,
        discs: Mapping[str, Options] | None,
    ) -> bool:
        """Read a criterion of a subject, and count it as it comes out; whether that is new."""
        name, force = criterion.resolved.id, criterion.resolved.force
        first = self.base.get((name, subject))
        before = made.changed.get((name, subject), first)
        after = self.outcome(criterion, subject, made.replies, discs)
        if after == before:
            return False
        counts = made.counts[subject] = Counter(made.counts[subject])
        if before is not None:
            counts[force, before] -= 1
        counts[force, after] += 1
        if after == first:
            del made.changed[name, subject]
        else:
            made.changed[name, subject] = after
        return True

    def _record(self, replies: Replies) -> Grounds:
        """What the record says beside its criteria: conflicts of each fact by itself, and dangers that nothing weighs."""
        found = self._conflicts(NOTHING)[0].union(*(self._conflicts((reply,))[0] for reply in replies))
        dangers = self._dangers_known(replies)
        if not dangers:
            return found
        weighed, view = self._assessor.dangers.weighed, self.view(tuple(sorted(replies, key=_place)))
        return found | {(s, "record", "unread_danger") for e, s in dangers if not weighed(view, e, s)}

    def _dangers_known(self, replies: Replies) -> list[tuple[str, str]]:
        """Signs of danger that are known, or supposed, and that no criterion weighs in every case."""
        told = {_place(reply) for reply in replies} if self._in_record else ()
        return [
            *(key for key in self._in_record if key not in told),
            *(_place(reply) for reply in replies if self._unsafe(reply)),
        ]

    def _unsafe(self, reply: Reply) -> bool:
        """Whether a reply is a sign of danger that no criterion weighs in every case."""
        if reply.element not in self.reads.dangers:
            return False
        found = self._danger.get(reply)
        if found is None:
            found = self._danger[reply] = _dangerous(reply)
        return found

    @cached_property
    def _in_record(self) -> list[tuple[str, str]]:
        always, shelf = self._assessor.dangers.always_weighed, catalogue()
        return [
            (fact.element, fact.subject)
            for fact in self.assessment.case.facts.stated()
            if fact.value is not None
            and fact.element in shelf
            and shelf[fact.element].danger
            and dangers_of(shelf[fact.element], fact)
            and not always(fact.element)
        ]

    def look_out_for(self, element: str, subject: str, replies: Iterable[Reply]) -> None:
        """A missing fact that may turn an outcome that is determined now, as one that is told anew may, or may turn out a sign of
        danger which no criterion weighs in every case."""
        replies = list(replies)
        turned = {
            key
            for reply in replies
            for key in self.situation((reply,)).changed
            if self.base.get(key, "undetermined") != "undetermined"
        }
        if turned:
            self._turning[element, subject] = frozenset(turned), tuple(replies)
        dangerous = list(map(_dangerous, replies))
        if any(dangerous) and not self._assessor.dangers.always_weighed(element):
            self._pending.append((element, subject))
            if not all(dangerous) and (element, subject) in self._in_record:
                self._imprecise.append((element, subject))

    def may_be_danger(self, key: tuple[str, str]) -> bool:
        """Whether a missing fact may turn out a sign of danger that no criterion weighs in every case."""
        return key in self._pending

    def _may_go_unread(self, replies: Replies, aside: Collection[str]) -> bool:
        """Whether a sign of danger, known or still to be told, may be one that no criterion weighs."""
        told = {_place(reply) for reply in replies} if self._pending else ()
        some = [key for key in self._pending if key not in told and not self._told_harmless(key, replies)]
        some += [key for key in self._dangers_known(replies) if self._assessor.dangers.weighers.get(key[0])]
        some = [key for key in some if key[1] not in aside]
        return not all(self._surely_weighed(element, subject, replies) for element, subject in some)

    def _may_be_none(self, made: Situation) -> bool:
        """Whether every danger that goes unread is imprecise, and may turn out to be none."""
        open_ = {key for key in self._imprecise if key not in made.told}
        if not open_:
            return False
        weighed, view = self._assessor.dangers.weighed, self.view(tuple(sorted(made.replies, key=_place)))
        return all(
            subject in made.aside or (element, subject) in open_ or weighed(view, element, subject)
            for element, subject in self._dangers_known(made.replies)
        )

    def _told_harmless(self, key: tuple[str, str], replies: Replies) -> bool:
        """Whether what is supposed tells of a fact that is still to be asked that it is no danger, as a summary tells of its signs."""
        bearing = tuple(
            sorted([reply for reply in replies if self.reads.related(reply.element, key[0])], key=_place)
        )
        if not bearing:
            return False
        found = self._harmless.get((key, bearing))
        if found is None:
            fact = self.view(bearing).fact(*key)
            exact = fact.value is not None and fact.value.exact
            found = self._harmless[key, bearing] = exact and not dangers_of(catalogue()[key[0]], fact)
        return found

    def _surely_weighed(self, element: str, subject: str, replies: Replies) -> bool:
        """Whether a criterion that weighs an element is known to apply."""
        bearing = tuple([reply for reply in replies if reply.element in self.reads.gates(element)])
        key = element, subject, tuple(sorted(bearing, key=_place))
        found = self._weighed.get(key)
        if found is None:
            view = self.view(key[2])
            found = self._weighed[key] = any(
                node is None
                or compiled(node).read(view, subject if of == "disc" else "patient").truth is Truth.MET
                for of, node in self.reads.gated[element]
            )
        return found

    def _conflicts(self, replies: Replies) -> tuple[Grounds, frozenset[str]]:
        """Conflicts of the record as (subject, force, outcome), and their names.

        Asked of each fact by itself, and of pairs that tell of the same fact; only what these can make contradict something
        is looked at.
        """
        found = self._records.get(replies)
        if found is not None:
            return found
        view = self.view(replies)
        if not replies or any(self._superseded.get(_place(r)) for r in replies):
            facts = list(self._assessor.record(view).conflicts)
            grounds, names = frozenset[tuple[str, str, str]](), frozenset[str]()
        else:
            facts = [
                fact
                for name in dict.fromkeys(n for r in replies for n in self.reads.watching(r.element))
                for subject in subjects_of(view, catalogue()[name].scope)
                if (fact := view.fact(name, subject)).disputed or told_apart(fact)
            ]
            beside = frozenset().union(*(ordered_with(r.element, catalogue()) for r in replies))
            facts += [f for f in view.facts.stated() if f.element in beside and impossible(view, f)]
            grounds, names = self._conflicts(NOTHING)
        found = self._records[replies] = (
            grounds | {(fact.subject, "record", "conflict") for fact in facts},
            names | {ground_name(fact) for fact in facts},
        )
        return found

    def _contradicts(self, before: Replies, reply: Reply) -> bool:
        """Whether a reply contradicts the record, or an earlier one that tells of the same fact."""
        known = self._conflicts(NOTHING)[1]
        if not self._conflicts((reply,))[1] <= known:
            return True
        return any(
            self.reads.related(other.element, reply.element)
            and not self._conflicts(tuple(sorted((other, reply), key=_place)))[1] <= known
            for other in before
        )


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
            lists[element] = FactList(True, group.entries, group.taken_out)
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
            lists[name] = FactList(group.complete, entries, group.taken_out)
        else:
            discs[subject] = {**discs.get(subject, {}), element: fact}
    return replace(facts, patient=patient, discs=discs, lists=lists)


def _of_disc(reply: Reply) -> bool:
    return reply.subject != "patient" and "[" not in reply.subject


def _dangerous(reply: Reply) -> bool:
    element = catalogue().get(reply.element)
    return (
        element is not None
        and bool(element.danger)
        and bool(dangers_of(element, Fact(reply.element, reply.subject, reply.value)))
    )


def _place(reply: Reply) -> tuple[str, str]:
    return reply.element, reply.subject
