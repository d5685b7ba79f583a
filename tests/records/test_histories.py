"""Random histories of several people, beside a plain model in memory that knows nothing of trails or databases."""

import shutil
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from candidacy.foundation.errors import Code, StoreError
from candidacy.records.store import Store, open_store
from tests.records.kept import Minutes, record

REFERENCES = ("ref-1", "ref-2", "ref-3")
PEOPLE = {"ana-1": {"read", "enter", "decide", "administer"}, "bo-1": {"enter"}, "cy-1": {"read"}}
REFERENCE, PERSON = st.sampled_from(REFERENCES), st.sampled_from(sorted(PEOPLE))


@dataclass
class Modelled:
    """A referral as a person would describe it."""

    versions: list[int] = field(default_factory=list)  # the pain recorded in each
    notes: list[str] = field(default_factory=list)
    acts: dict[int, str] = field(default_factory=dict)
    owner: str = ""
    waiting: str = ""
    closed: bool = False
    decisions: list[int] = field(default_factory=list)  # the version each rests on


class Histories(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
        self.model: dict[str, Modelled] = {}
        self.removed: set[str] = set()
        self.heads: list[str] = []

    @initialize()
    def open(self) -> None:
        self.stores: dict[str, Store] = {}
        clock = Minutes()
        self.stores["ana-1"] = open_store(self.folder / "s", "ana-1", clock=clock)
        for person, access in PEOPLE.items():
            if person != "ana-1":
                self.stores["ana-1"].set_person(person, "x", access)  # type: ignore[arg-type]
                self.stores[person] = open_store(self.folder / "s", person, clock=clock)

    def attempt(self, person: str, needs: str, reference: str, deed: Any) -> Any:
        """Do a deed that the model allows, or see it refused for the right reason; ``None`` then."""
        if (needs == "read" or needs in PEOPLE[person]) and reference in self.model:
            return deed(self.stores[person])
        wanted = Code.UNKNOWN_REFERRAL if needs == "read" or needs in PEOPLE[person] else Code.NOT_ALLOWED
        with pytest.raises(StoreError) as caught:
            deed(self.stores[person])
        assert [problem.code for problem in caught.value.problems] == [wanted]
        return None

    @rule(person=PERSON, reference=REFERENCE, pain=st.integers(0, 10), expected=st.integers(0, 3))
    def save(self, person: str, reference: str, pain: int, expected: int) -> None:
        known = self.model.get(reference, Modelled())

        def deed() -> None:
            self.stores[person].save_case(
                reference, record(reference, pain), expected_version=expected, reason="r"
            )

        if "enter" not in PEOPLE[person]:
            wanted = Code.NOT_ALLOWED
        elif reference in self.removed:
            wanted = Code.UNKNOWN_REFERRAL
        elif known.versions and known.versions[-1] == pain:
            return deed()
        elif expected == len(known.versions):
            deed()
            known.versions.append(pain)
            self.model[reference] = known
            return None
        else:
            wanted = Code.CHANGED_MEANWHILE
        with pytest.raises(StoreError) as caught:
            deed()
        assert [problem.code for problem in caught.value.problems] == [wanted]
        return None

    @rule(
        person=PERSON,
        reference=REFERENCE,
        text=st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=8),
    )
    def note(self, person: str, reference: str, text: str) -> None:
        text = f"n{text}"
        if self.attempt(person, "enter", reference, lambda store: store.add_note(reference, text)):
            self.model[reference].notes.append(text)

    @rule(person=PERSON, reference=REFERENCE, due=st.sampled_from(["", "2026-12-01", "2026-12-24"]))
    def act(self, person: str, reference: str, due: str) -> None:
        made = self.attempt(
            person, "enter", reference, lambda store: store.add_act(reference, "call", due=due)
        )
        if made:
            self.model[reference].acts[made.seq] = due

    @precondition(lambda self: any(each.acts for each in self.model.values()))
    @rule(data=st.data(), state=st.sampled_from(["done", "dropped"]))
    def end(self, data: st.DataObject, state: Any) -> None:
        acts = {seq: each for each in self.model.values() for seq in each.acts}
        seq = data.draw(st.sampled_from(sorted(acts)))
        self.stores["bo-1"].end_act(seq, state)
        del acts[seq].acts[seq]

    @rule(person=PERSON, reference=REFERENCE, owner=st.sampled_from([None, "", "bo-1"]), waiting=st.sampled_from([None, "", "MRI"]),
          closed=st.sampled_from([None, True, False]))  # fmt: skip
    def work(
        self, person: str, reference: str, owner: str | None, waiting: str | None, closed: bool | None
    ) -> None:
        state: Any = None if closed is None else "closed" if closed else "open"
        done = self.attempt(
            person, "enter", reference,
            lambda store: store.set_work(reference, owner=owner, waiting_for=waiting, state=state) or True,
        )  # fmt: skip
        if done:
            known = self.model[reference]
            known.owner = known.owner if owner is None else owner
            known.waiting = known.waiting if waiting is None else waiting
            known.closed = known.closed if closed is None else closed

    @rule(person=PERSON, reference=REFERENCE)
    def decide(self, person: str, reference: str) -> None:
        version = len(self.model[reference].versions) if reference in self.model else 1
        if self.attempt(person, "decide", reference, lambda store: store.sign(
            reference, "not", "approval", "x", responsible="ana-1", expected_version=version)):  # fmt: skip
            self.model[reference].decisions.append(version)

    @rule(person=PERSON, reference=REFERENCE)
    def remove(self, person: str, reference: str) -> None:
        clock: Any = self.stores["ana-1"]._clock
        clock.at = clock.at.replace(year=clock.at.year + 1)
        day = clock.at.date()
        if self.attempt(
            person,
            "administer",
            reference,
            lambda store: store.remove(reference, rule="r", keep_until_after=day),
        ):
            del self.model[reference]
            self.removed.add(reference)

    @rule(person=PERSON, reference=REFERENCE)
    def open_one(self, person: str, reference: str) -> None:
        found = self.attempt(person, "read", reference, lambda store: store.open_referral(reference))
        if found is not None:
            known = self.model[reference]
            assert found.case.digest == record(reference, known.versions[-1]).digest
            assert [note.text for note in found.notes] == known.notes
            assert {act.seq: act.due for act in found.acts} == known.acts
            assert [each.said.version for each in found.decisions] == known.decisions

    @rule()
    def print_head(self) -> None:
        self.heads.append(self.stores["ana-1"].head().words)

    @invariant()
    def the_work_list_is_that_of_the_model(self) -> None:
        if not getattr(self, "stores", None):
            return
        rows = {row.reference: row for row in self.stores["cy-1"].list_referrals(state=None)}
        assert set(rows) == set(self.model)
        for reference, known in self.model.items():
            row = rows[reference]
            first = min(((not due, due, seq) for seq, due in known.acts.items()), default=(True, "", 0))
            assert (row.version, row.owner, row.waiting_for, row.state == "closed", row.next_due) == (
                len(known.versions), known.owner, known.waiting, known.closed, first[1])  # fmt: skip

    def teardown(self) -> None:
        if getattr(self, "stores", None):
            found = self.stores["ana-1"].verify(tuple(self.heads))
            assert found.findings == ()
            assert set(found.removed) == self.removed
            for reference, known in self.model.items():
                kept = [
                    self.stores["ana-1"].load_case(reference, n + 1).digest
                    for n in range(len(known.versions))
                ]
                assert kept == [record(reference, pain).digest for pain in known.versions]
            for store in self.stores.values():
                store.close()
        shutil.rmtree(self.folder, ignore_errors=True)


TestHistories = Histories.TestCase
TestHistories.settings = settings(max_examples=12, stateful_step_count=25, deadline=None)
