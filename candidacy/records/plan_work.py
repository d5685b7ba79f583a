"""The steps of a plan in the work list: each an act with owner and day; a plan put in again adds nothing twice."""

import re

from msgspec import Struct

from candidacy.foundation.errors import Code, Problem, StoreError
from candidacy.plan.document import PlanDocument, StepInfo
from candidacy.records.store import Store
from candidacy.records.work import Act

_MARK = re.compile(r" \[plan: ([a-z0-9_]+)\]\Z")
_LONGEST = 380


class PutIn(Struct, frozen=True):
    """How many acts were added, ended because their step moved or fell away, or were there already."""

    added: int
    ended: int
    there: int

    @property
    def words(self) -> str:
        """The same as a sentence."""
        return f"Work list: {self.added} added, {self.ended} ended because they moved or fell away, {self.there} there already."


def put_into_work(store: Store, plan: PlanDocument) -> PutIn:
    """Enter the steps of a plan as acts of its referral.

    A step that has moved ends its former act and gets another; one that is no longer planned ends. What a person has called
    done on the same day stays done.

    Raises
    ------
    StoreError
        E704 if the referral is not kept, E703 for who may not enter, E601 for what is no plan.
    """
    if plan.kind == "urgent":
        raise StoreError([Problem(Code.USAGE, "an emergency has no plan to put into the work list", field="kind", found=plan.kind,
                                  next_step=plan.urgent[0])])  # fmt: skip
    reference = plan.case.id
    known: dict[str, list[Act]] = {}
    for act in store.acts(reference, state=None):
        mark = _MARK.search(act.what)
        if mark is not None:
            known.setdefault(mark[1], []).append(act)
    added = ended = there = 0
    why = f"plan for {plan.day} made on {plan.as_of}"
    planned = {step.id: step for step in plan.steps if step.state != "cancelled"}
    for name, acts in known.items():
        step = planned.get(name)
        for act in acts:
            gone = step is None or step.state == "done" or act.due != step.due
            if act.state == "open" and gone:
                done = step is not None and step.state == "done"
                store.end_act(
                    act.seq,
                    "done" if done else "dropped",
                    f"{'done by the record' if done else 'moved or fell away'}: {why}",
                )
                ended += 1
    for step in planned.values():
        if step.state == "done":
            continue
        if any(act.due == step.due and act.state in ("open", "done") for act in known.get(step.id, ())):
            there += 1
            continue
        store.add_act(
            reference, _what(step), owner=step.owner, due=step.due, why=f"{why}; {step.agreement}"[:2000]
        )
        added += 1
    return PutIn(added, ended, there)


def _what(step: StepInfo) -> str:
    words = f"{step.facts}{f' by {step.clock}' if step.clock else ''}"
    return f"{words if len(words) <= _LONGEST else words[: _LONGEST - 1] + '…'} [plan: {step.id}]"
