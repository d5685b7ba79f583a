"""What an assessment would be if further facts were known: only what reads them is read again.

Held by tests to whole assessments of the changed case: same outcomes, same standing.
"""

from collections import Counter
from collections.abc import Iterable, Mapping

from candidacy.assessment.assess import Assessment, assessor_for
from candidacy.assessment.doubts import impossible, ordered_with
from candidacy.assessment.evaluate import CompiledCriterion
from candidacy.assessment.record_grounds import ground_name
from candidacy.assessment.relate import subjects_of, told_apart
from candidacy.assessment.view import View
from candidacy.case.catalogue import catalogue
from candidacy.case.facts import CaseFacts
from candidacy.foundation.changed_copy import replace
from candidacy.foundation.values import FALSE, Options
from candidacy.rules.resolved import RuleSet
from candidacy.rules.vocabulary import Outcome, Standing
from candidacy.settle.open_dangers import OpenDangers
from candidacy.settle.possible import Occurring, occurring
from candidacy.settle.reads import reads_of
from candidacy.settle.situation import NOTHING, Grounds, Replies, Reply, Situation, in_order, of_disc, place
from candidacy.settle.supposed_facts import supposed

_PLACES = ("discs_under_consideration", "discography_levels")


class Supposing:
    """Situations of one assessed case, each outcome read once for what bears on it."""

    def __init__(self, assessment: Assessment) -> None:
        self.assessment = assessment
        self._assessor = assessor_for(assessment.rule_set, "direct")
        self.reads = reads_of(self._assessor)
        self._dangers = OpenDangers(
            assessment.case.facts, self._assessor.dangers, self.reads, lambda replies: self.view(replies)
        )
        self._possible = self.reads.possible
        self._views: dict[Replies, View] = {}
        self._outcomes: dict[tuple[str, str, Replies, object], Outcome] = {}
        self._situations: dict[Replies, Situation] = {}
        self._records: dict[Replies, tuple[Grounds, frozenset[str]]] = {}
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
            gone = gone.union(*(self._superseded.get(place(r), frozenset()) for r in replies))
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
        key = name, subject, in_order(bearing), told
        found = self._outcomes.get(key)
        if found is None:
            view = self.view(key[2]) if told is None else self._seen(bearing)
            if told is not None:
                view.settle_discs(dict(discs or {}))
            found = self._outcomes[key] = criterion.read(view, subject).outcome
        return found

    def _elements(self, reply: Reply) -> tuple[str, ...]:
        """What is told by a reply: its element, and what its old source said against it."""
        return reply.element, *(name for name, _ in self._superseded.get(place(reply), ()))

    def situation(self, replies: Iterable[Reply]) -> Situation:
        """The case with some facts supposed, each of a fact of its own."""
        key = in_order(replies)
        found = self._situations.get(key)
        if found is None:
            found = self.extended(self.situation(key[:-1]), key[-1]) if key else self.now
            self._situations[key] = found
        return found

    def extended(self, situation: Situation, reply: Reply) -> Situation:
        """A situation in which one more fact is supposed."""
        replies = (*situation.replies, reply)
        if reply.element in _PLACES or (of_disc(reply) and reply.subject not in situation.levels):
            return self._fresh(replies)
        made = situation.copied()
        made.replies, made.told = replies, frozenset(map(place, replies))
        made.record = self._record(replies)
        made.contradicts = situation.contradicts or self._contradicts(situation.replies, reply)
        affected = {
            c.resolved.id: c for name in self._elements(reply) for c in self.reads.by_element.get(name, ())
        }.values()
        self._read(made, affected, again=made.record != situation.record or place(reply) in self._turning)
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
        telling = tuple(r for r in replies if r.element in _PLACES or of_disc(r))
        view = self.view(in_order(telling))
        levels = view.named_levels()
        aside = (lv for lv in levels if view.fact("considered_for_treatment", lv).value == FALSE)
        made = Situation(levels, frozenset(aside))
        made.replies, made.told = replies, frozenset(map(place, replies))
        made.record = self._record(replies)
        for number, reply in enumerate(replies):
            made.contradicts = made.contradicts or self._contradicts(replies[:number], reply)
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
        if self._dangers.may_go_unread(made.replies, made.aside):
            known = what[0] | {("record", "unread_danger")}
            made.possible |= possible.of_case((known, what[1]), discs)
        if ("record", "unread_danger") in what[0] and self._dangers.may_be_none(made):
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
        return found | self._dangers.unread(replies)

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
        self._dangers.look_out_for(element, subject, replies)

    def may_be_danger(self, key: tuple[str, str]) -> bool:
        """Whether a missing fact may turn out a sign of danger that no criterion weighs in every case."""
        return self._dangers.may_be_danger(key)

    def _conflicts(self, replies: Replies) -> tuple[Grounds, frozenset[str]]:
        """Conflicts of the record as (subject, force, outcome), and their names.

        Asked of each fact by itself, and of pairs that tell of the same fact; only what these can make contradict something
        is looked at.
        """
        found = self._records.get(replies)
        if found is not None:
            return found
        view = self.view(replies)
        if not replies or any(self._superseded.get(place(r)) for r in replies):
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
            and not self._conflicts(in_order((other, reply)))[1] <= known
            for other in before
        )
