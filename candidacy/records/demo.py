"""An invented clinic: 24 referrals at work and one past conference. Nothing in it is of a real person, its days among it."""

from collections.abc import Callable
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from candidacy.case.load import Case, case_from_record, load_case
from candidacy.foundation.dates import day
from candidacy.foundation.errors import CaseError, Code, Problem, StoreError
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.records.database import is_url
from candidacy.records.store import Store, open_store

HELD_ON = "2026-11-24"
_PEOPLE = {
    "coordinator-1": ("coordinator", ("read", "enter")),
    "physician-1": ("interventional spine physician", ("read", "enter", "decide", "administer")),
    "surgeon-1": ("spine surgeon", ("read", "decide")),
    "radiologist-1": ("radiologist", ("read", "decide")),
    "psychologist-1": ("psychologist", ("read", "decide")),
}
# case -> question, ratings of both rounds in the order of the members; invented, as is what was decided
_ITEMS = {
    "heavy-patient-for-conference": ("Treat L4-L5 in spite of the weight?", ((6, 7, 8, 6), (7, 7, 8, 7))),
    "older-patient-for-conference": (
        "Treat at this age, and first the back or the hip?",
        ((2, 5, 7, 3), (3, 4, 5, 3)),
    ),
    "leaking-disc": (
        "Can relief by anaesthetic be relied on though contrast leaked?",
        ((3, 5, 6), (4, 4, 5)),
    ),
}
_MEMBERS = ("physician-1", "surgeon-1", "radiologist-1", "psychologist-1")
_QUEUE = {
    "no-control-disc": "Is a second discography worth its risk?",
    "discography-nine-days-ago": "Is the wait between discography and injection needed here?",
}
_WAITING = {
    "stale-mri": ("a new MRI of the lumbar spine", "book the MRI", "2026-12-08"),
    "first-letter-only": ("the referrer's answer", "send the request for the missing facts", "2026-12-03"),
    "report-only": ("the referral letter", "ask for the letter", "2026-12-04"),
    "anticoagulated": (
        "the prescriber's answer",
        "ask the prescriber about holding the medicine",
        "2026-12-07",
    ),
    "transitional-anatomy": ("a numbering of the levels", "ask for an addendum to the report", "2026-12-10"),
    "imprecise-report": ("an addendum to the report", "ask for exact sizes", "2026-12-09"),
}


_REPORT = """MRI lumbar spine without contrast, September 2026 (invented)
L3-4: normal.
L4-5: modified Pfirrmann grade 4 to 5, less than half of the height lost. Broad-based central protrusion, 4 to 6 mm.
L5-S1: mild loss of height.
"""


@dataclass
class _Clock:
    """Moments of an invented autumn, one after the other."""

    at: datetime = field(default_factory=lambda: datetime(2026, 11, 9, 14, 0, tzinfo=UTC))

    def __call__(self) -> datetime:
        self.at += timedelta(minutes=7)
        return self.at

    def from_day(self, text: str) -> None:
        self.at = max(self.at, datetime.combine(day(text), datetime.min.time(), UTC) + timedelta(hours=15))


def fill(where: Path | str, tell: Callable[[str, int, int], None] = lambda what, done, of: None) -> int:
    """Make a store of an invented clinic at a place where there is none; returns how many referrals it holds.

    Parameters
    ----------
    tell
        Called with what is being kept, how many are done, and of how many.

    Raises
    ------
    StoreError
        E601 if there is a store or file already. Whatever stops it, no part of a file is left.
    """
    if not is_url(where) and Path(where).exists():
        raise StoreError([Problem(Code.USAGE, "the file exists", str(where),
                                  next_step="name another: invented referrals go into a store of their own")])  # fmt: skip
    try:
        return _fill(where, tell)
    except BaseException:
        # half a clinic looks like a whole one, and doing it again would find a file in its place
        if not is_url(where):
            for suffix in ("", "-wal", "-shm", "-journal"):
                with suppress(OSError):
                    Path(f"{where}{suffix}").unlink()
        raise


def _fill(where: Path | str, tell: Callable[[str, int, int], None]) -> int:
    clock = _Clock()
    cases = _cases()
    with ExitStack() as stack:
        made = stack.enter_context(
            open_store(where, "physician-1", role=_PEOPLE["physician-1"][0], clock=clock)
        )
        if made.list_referrals(state=None, limit=1):
            raise StoreError(
                [Problem(Code.USAGE, "this store holds referrals", made.name, next_step="name another")]
            )
        for person, (role, access) in _PEOPLE.items():
            if person != "physician-1":
                made.set_person(person, role, access)  # type: ignore[arg-type]
        people = {
            person: made
            if person == "physician-1"
            else stack.enter_context(open_store(where, person, clock=clock))
            for person in _PEOPLE
        }
        enter = people["coordinator-1"]
        for done, case in enumerate(cases):
            tell(case.record.id, done, len(cases))
            _take_in(enter, case)
        _go_on(people)
        _conference(people, clock)
        tell("kept", len(cases), len(cases))
    return len(cases)


def _cases() -> list[Case]:
    found = []
    for path in sorted(demo_cases_folder().glob("*.yaml")):
        try:
            found.append(load_case(path))
        except CaseError:
            continue  # one is refused on purpose
    again = next(case for case in found if case.record.id == "heavy-patient-for-conference")
    record = again.record.model_copy(
        update={"id": "second-opinion", "title": "A second opinion is asked for"}
    )
    return [*found, case_from_record(record)]


def _take_in(store: Store, case: Case) -> None:
    reference = case.record.id
    store.save_case(reference, case, expected_version=0)
    store.assess_and_keep(reference, as_of=_as_of(case))
    if reference in _WAITING:
        waiting, act, due = _WAITING[reference]
        store.set_work(reference, owner="coordinator-1", waiting_for=waiting)
        store.add_act(reference, act, owner="coordinator-1", due=due)


def _as_of(case: Case) -> date:
    return day(case.record.as_of or "2026-12-02")


def _go_on(people: dict[str, Store]) -> None:
    """What happened to some of them before the conference."""
    enter, physician = people["coordinator-1"], people["physician-1"]
    heavier = enter.load_case("heavy-patient-for-conference")
    enter.save_case(
        "heavy-patient-for-conference",
        heavier.with_document("visit", "clinic_note", date="2026-11-19", title="Visit").with_fact(
            "body_weight", 120, unit="kg", source="visit"
        ),
        expected_version=1,
        reason="weighed again at the visit",
    )
    physician.assess_and_keep("heavy-patient-for-conference", as_of=_as_of(heavier))
    enter.keep_report(
        "imprecise-report", "imaging_report", _REPORT, document="mri", day="2026-09",
        accepted=("displacement of L4-L5: protrusion", "displacement size of L4-L5: 4 to 6 mm",
                  "modified Pfirrmann grade of L4-L5: 4 or 5"),
        why="asked for exact sizes; the text as it came",
    )  # fmt: skip
    physician.add_note("two-discs-candidate", "Patient asks to be treated before the end of the year.")
    enter.add_act("thoughts-of-self-harm", "call today", owner="physician-1", due="2026-11-12")
    act = enter.acts("thoughts-of-self-harm")[0]
    physician.end_act(act.seq, why="spoken to on the day; seen by psychiatry")
    physician.sign("pregnant", "not_yet", "responsibility", "No procedure during pregnancy.", responsible="physician-1",
                   expected_version=1, after="six weeks after birth", review_on="2027-06-01")  # fmt: skip
    enter.set_work("pregnant", state="closed", why="referred again after birth")


def _conference(people: dict[str, Store], clock: _Clock) -> None:
    enter, physician = people["coordinator-1"], people["physician-1"]
    clock.from_day("2026-11-20")
    for place, (reference, question) in enumerate(
        (*((key, item[0]) for key, item in _ITEMS.items()), *_QUEUE.items())
    ):
        enter.ask(reference, question, presenter="physician-1", place=place)
    clock.from_day(HELD_ON)
    meeting = enter.set_meeting(HELD_ON, "Disc conference", quorum=3)
    for person in _MEMBERS:
        interest = "took part in a study of such injections until 2025" if person == "surgeon-1" else ""
        enter.set_member(meeting, person, _PEOPLE[person][0], interest=interest)
    items = {item.reference: item.seq for item in enter.items(meeting=0) if item.reference in _ITEMS}
    enter.recuse(items["leaking-disc"], "surgeon-1", "did the discography")
    for reference, (_, rounds) in _ITEMS.items():
        item = items[reference]
        members = [m for m in _MEMBERS if not (reference == "leaking-disc" and m == "surgeon-1")]
        enter.set_item(item, meeting=meeting, state="rating")
        for number, values in enumerate(rounds, 1):
            if number == 2:
                enter.set_item(item, round=2)
            for person, value in zip(members, values, strict=True):
                people[person].rate(item, value)
    physician.sign("heavy-patient-for-conference", "treat", "approval", "Longer needles reach the disc; all else passes.",
                   responsible="physician-1", expected_version=2, discs=("L4-L5",), review_on="2027-01-12",
                   conditions=("the table carries the weight",), item=items["heavy-patient-for-conference"])  # fmt: skip
    physician.sign("older-patient-for-conference", "not", "approval", "Several matters of judgement point the same way.",
                   responsible="physician-1", expected_version=1, item=items["older-patient-for-conference"],
                   dissent=(("radiologist-1", "the disc looks no older than the others"),))  # fmt: skip
    physician.sign("leaking-disc", "more_tests", "approval", "Relief by anaesthetic cannot be told apart from its spread.",
                   responsible="physician-1", expected_version=1, tests=("anaesthetic test of that disc again",),
                   item=items["leaking-disc"], review_on="2026-12-15")  # fmt: skip
    enter.set_meeting(HELD_ON, "Disc conference", quorum=3, state="closed", meeting=meeting)
