"""The seat in a real browser: from the queue over two rounds of three members to a decision with dissent and its minutes."""

from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")
pytest.importorskip("sqlalchemy", reason="kept referrals are an optional part")
playwright = pytest.importorskip("playwright.sync_api", reason="the journeys need playwright")

from candidacy.case.edit import with_header  # noqa: E402
from candidacy.case.load import load_case  # noqa: E402
from candidacy.foundation.shipped import demo_cases_folder  # noqa: E402
from candidacy.records.store import open_store  # noqa: E402
from tests.conference.conftest import DAY, OLDER, make_seat  # noqa: E402
from tests.deep import only_deep  # noqa: E402
from tests.ui import browsing  # noqa: E402

expect = playwright.expect
RATED = {"surgeon-1": (8, 4), "radiologist-1": (2, 2), "physician-1": (3, 3)}


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("kept") / "records.sqlite"
    make_seat(file)
    return file


@pytest.fixture(scope="module")
def address(kept: Path) -> Iterator[str]:
    """The pages with a store, served once for this module."""
    if not browsing.chromium():
        browsing.absent("a Chromium browser")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CANDIDACY_STORE", str(kept))
        patch.setenv("CANDIDACY_PERSON", "physician-1")
        with browsing.server(kept.parent / "log.txt") as found:
            yield found


class Member:
    """One person at one page; each act waits for what it brings about."""

    def __init__(self, person) -> None:
        self.person, self.page = person, person.page

    def act(self, name: str, *, then: str) -> None:
        button = self.page.get_by_role("button", name=name, exact=True)
        expect(button).to_be_enabled(timeout=60_000)
        button.click()
        self.person.settle(60_000)
        self.sees(then)

    def sees(self, text: str) -> None:
        expect(self.page.get_by_test_id("stMain")).to_contain_text(text, timeout=60_000)

    def write(self, label: str, text: str) -> None:
        field = self.page.get_by_label(label, exact=True)
        field.fill(text)
        field.press("Tab")
        self.person.settle()
        expect(field).to_have_value(text)

    def choose(self, label: str, option: str) -> None:
        self.person.pick(label, option)

    def tick(self, name: str) -> None:
        radio = self.page.get_by_role("radio", name=name, exact=True)
        radio.click()
        self.person.settle()
        expect(radio).to_be_checked()

    def rate(self, who: str, number: int, value: int, then: str) -> None:
        field = self.page.get_by_label("You work as (your local id; never a name)", exact=True)
        if field.input_value() != who:
            field.fill(who)
            field.press("Enter")
            self.person.settle()
        scale = self.page.get_by_role("radiogroup", name=f"Rating of {who}, round {number}", exact=True)
        expect(scale).to_be_visible(timeout=60_000)
        scale.get_by_role("radio", name=str(value), exact=True).click()
        self.person.settle()
        button = self.page.get_by_role("button", name="Rate", exact=True)
        expect(button).to_be_enabled(timeout=60_000)
        self.act("Rate", then=then)


def a_borderline_referral(kept: Path) -> str:
    """A further referral of the store, that nobody has asked about."""
    older = load_case(demo_cases_folder() / f"{OLDER}.yaml").record
    with open_store(kept, "physician-1") as store:
        reference = f"older-{store.head().size}"
        store.save_case(reference, with_header(older, id=reference), expected_version=0)
        store.assess_and_keep(reference, as_of=DAY)
    return reference


def test_from_the_queue_to_the_minutes(visitor, kept: Path) -> None:
    reference = a_borderline_referral(kept)
    person = visitor(path="conference")
    seat = Member(person)
    seat.sees("74, limit 70 years: +4")
    seat.choose("Referral", reference)
    seat.write("Question", "Treat at this age?")
    seat.act("Put into the queue", then="is in the queue as item")
    seat.act("Take to the meeting", then="Hidden until all have rated")
    seat.sees("Age above the upper limit 74, limit 70 years: +4")
    for text in (
        "Upper limits of 60 to 85 years",
        "What would change it",
        "Other rule sets, same day",
        "[seen]",
    ):
        seat.sees(text)
    for number, after in ((0, "2 in 1-3, 0 in 4-6, 1 in 7-9"), (1, "2 in 1-3, 1 in 4-6, 0 in 7-9")):
        left = list(RATED)
        for who, values in RATED.items():
            left.remove(who)
            then = f"Awaited: {', '.join(sorted(left))}. You rated {values[number]}" if left else after
            seat.rate(who, number + 1, values[number], then)
        if not number:
            seat.act("Begin the second round", then="Round 2")
    seat.act("Sign the decision", then="nobody chose it yet")
    # what is refused is told where one looks, however far down the button is
    expect(seat.page.get_by_role("alert")).to_be_in_viewport()
    seat.tick("do not treat")
    seat.write("Reason (always required)", "Age and the hip.")
    seat.choose("Who would have decided otherwise", "surgeon-1")
    seat.page.keyboard.press("Escape")
    seat.write("Why, surgeon-1", "the disc is the source")
    seat.choose("Responsible", "radiologist-1")
    seat.choose("Your signature means", "approval")
    seat.act("Sign the decision", then="Signed and kept.")
    seat.sees("surgeon-1: the disc is the source")
    seat.tick("Meetings")
    seat.act("Show the minutes", then="Dissent: surgeon-1: the disc is the source")
    with seat.page.expect_download() as found:
        seat.page.get_by_role("button", name="Minutes (PDF, A4)", exact=True).click()
    assert Path(found.value.path()).read_bytes().startswith(b"%PDF")
    with open_store(kept, "physician-1") as store:
        (decision,) = store.decisions(reference)
        assert (decision.person, decision.said.decision, decision.said.responsible) == (
            "physician-1",
            "not",
            "radiologist-1",
        )
        assert store.verify().sound


@pytest.mark.parametrize("width", [1280, pytest.param(900, marks=only_deep)])
def test_the_pages_of_a_store_are_sound_for_assistive_technology(visitor, width: int) -> None:
    if not browsing.AXE.exists():
        browsing.absent("axe-core")
    person = visitor(width=width, path="work")
    expect(person.page.get_by_role("button", name="Open where it was left")).to_be_visible()
    assert browsing.violations(person) == []
    person.visit("conference")
    for view, shown in (
        ("Queue", "Put into the queue"),
        ("Meetings", "Show the minutes"),
        ("Case", "Look again"),
    ):
        person.page.get_by_role("radio", name=view, exact=True).click()
        expect(person.page.get_by_role("button", name=shown, exact=True)).to_be_visible(timeout=60_000)
        person.settle()
        assert browsing.violations(person) == [], view
