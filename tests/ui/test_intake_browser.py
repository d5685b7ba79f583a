"""The guided intake in a real browser: from an empty form to a settled standing, every click counted."""

import re
from datetime import date, timedelta

import pytest

pytest.importorskip("streamlit", reason="the screens need the ui extra")
playwright = pytest.importorskip("playwright.sync_api", reason="the journeys need playwright")

from candidacy.case.catalogue import catalogue  # noqa: E402
from tests.deep import only_deep  # noqa: E402
from tests.ui.browsing import AXE, absent, violations  # noqa: E402

MOST_CLICKS = 60
_COUNT = "window.clicks = 0; addEventListener('pointerdown', () => { window.clicks += 1; }, true);"


class Asker:
    """A person who fills in the guided intake; the page itself counts every press of the pointer."""

    def __init__(self, person) -> None:
        self.person, self.page = person, person.page
        self.page.evaluate(_COUNT)

    @property
    def clicks(self) -> int:
        return self.page.evaluate("window.clicks")

    def _row(self, name: str, subject: str = "patient"):
        return self.page.locator(f".st-key-intake-{subject}-{name}")

    def _drawn(self) -> None:
        self.person.settle()

    @property
    def _last(self):
        """What the panel says of the last edit, which stands at its top."""
        return self.page.locator(".c-changes p").nth(0)

    def _told(self, words: str) -> None:
        """Wait until the edit is recorded: the panel names it."""
        playwright.expect(self._last).to_contain_text(re.compile(re.escape(words), re.IGNORECASE))
        self._drawn()

    def press(self, key: str, then: str) -> None:
        """Press a button and wait for what it brings."""
        self.page.locator(f".st-key-{key}").get_by_role("button").click()
        playwright.expect(self.page.locator(then)).to_be_visible()
        self._drawn()

    def next(self, heading: str) -> None:
        self.page.locator(".st-key-intake-next").get_by_role("button").click()
        playwright.expect(self.page.get_by_role("heading", name=heading, exact=True)).to_be_visible()
        self._drawn()

    def say(self, name: str, answer: str, subject: str = "patient") -> None:
        self._row(name, subject).get_by_role("radio", name=answer, exact=True).click()
        self._told(f"{catalogue()[name].label}{'' if subject == 'patient' else f' of {subject}'}: {answer}")

    def write(self, name: str, text: str, subject: str = "patient", *, usual: str = "") -> None:
        """Type a value; one in a usual form is taken once its reading was seen."""
        field = self._row(name, subject).locator("input")
        field.click()
        self.page.keyboard.type(text)
        self.page.keyboard.press("Tab")
        if usual:
            self.person.reads(f"is read as {usual}. It does not count yet.")
            self.page.locator(f".st-key-take-intake-{subject}-{name}").get_by_role("button").click()
        self._told(f"{catalogue()[name].label}{'' if subject == 'patient' else f' of {subject}'}: ")

    def add(self, name: str, codes: list[str]) -> None:
        for code in codes:
            self._row(name).get_by_role("button", name=code, exact=True).click()
            self._told(code)

    def complete(self, name: str) -> None:
        self.page.locator(f".st-key-complete-{name}").get_by_role("radio", name="yes", exact=True).click()
        self._told("list complete")

    def source(self, words: str) -> None:
        choice = self.page.locator(".st-key-intake-from").get_by_role("radio", name=re.compile(f"^{words}, "))
        choice.click()
        self._drawn()
        self.person.lacks("Choose this first")

    def absent(self, number: int = 0) -> list[str]:
        """What was listed, after all of it was recorded."""
        self.press(f"absent-list-{number}", ".st-key-absent-listed")
        listed = self.page.locator(".c-absent li").all_inner_texts()
        self.page.locator(".st-key-absent-record").get_by_role("button").click()
        of_images = self.page.get_by_role("heading", name="5 of 6: Imaging report", exact=True).count() == 1
        self._told(f"absent{' in the source' if of_images else ''} ({len(listed)}, ")
        told = self._last.inner_text()
        assert all(line.lower().removesuffix(": no") in told.lower() for line in listed)
        return listed


@only_deep
def test_an_empty_form_reaches_a_settled_standing_in_sixty_clicks(visitor):
    if not AXE.is_file():
        absent("axe-core (npm install --prefix tests/ui/.axe axe-core@4.14.1)")
    person = visitor()
    found = violations(person)
    asker = Asker(person)
    asker.press("start-guided", ".st-key-intake-source")
    assert person.page.locator("[class*='st-key-intake-'] [aria-checked=true]").count() == 1, "the page alone"
    asker.source("asked today")
    asker.write("birth_date", "17 May 1984", usual="17 May 1984")
    asker.say("sex", "male")
    asker.write("body_height", "5'10\"", usual="70 in, which is 177.8 cm")
    asker.write("body_weight", "78")
    asker.say("able_to_consent", "yes")
    asker.write("pain_duration", "26")
    asker.say("axial_dominance", "yes")
    asker.write("back_pain_nrs_average", "7")
    asker.write("odi_percent", "46")
    asker.add("discs_under_consideration", ["L4-L5"])
    asker._row("discs_under_consideration-form").get_by_role("radio", name="these and no others").click()
    asker._told("discs under consideration: L4-L5")
    assert asker.absent() == ["Leg pain radicular: no", "Leg pain below knee: no"]
    found += violations(person)
    asker.next("2 of 6: Care so far")
    asker.say("discography_done", "no")
    asker.say("failed_conservative_care", "yes")
    asker.write("conservative_care_duration", "9")
    asker.say("supervised_therapy_completed", "yes")
    asker.add("failed_care_kinds", ["oral medicine", "structured exercise or therapy"])
    asker.complete("intradiscal_procedures")
    asker.absent()
    asker.next("3 of 6: Signs of danger and examination")
    asker.write("phq9_item9", "0")
    asker.say("suicidal_thoughts", "no")
    assert "Saddle numbness: no" in asker.absent()
    assert "Motor deficit: no" in asker.absent(1)
    asker.next("4 of 6: Health, medicines, allergies, mind")
    asker.say("diabetes", "none")
    asker.say("smoking_status", "never")
    asker.say("substance_use", "none")
    asker.write("phq9_total", "5")
    asker.say("allergy_list_complete", "yes")
    asker.complete("medicines")
    asker.say("antithrombotic_use", "none")  # an empty list bears no day
    asker.absent()
    asker.next("5 of 6: Imaging report")
    person.reads("Choose this first")
    asker.press("intake-add-document", ".st-key-doc-intake-0-date")
    asker.page.locator(".st-key-doc-intake-0-date input").click()
    person.page.keyboard.type(_weeks_ago(4))
    person.page.get_by_role("button", name="Add", exact=True).click()
    asker._told("document added: imaging-1, imaging report")
    asker.write("lumbar_mri_date", _weeks_ago(4))
    assert "Neural compression of L4-L5: no" in asker.absent()
    asker.say("pfirrmann_grade", "III", "L4-L5")
    asker.say("displacement", "bulge", "L4-L5")
    asker.write("disc_height_loss", "15", "L4-L5")
    asker.say("modic_type", "1", "L4-L5")
    for name in (
        "canal_stenosis",
        "meyerding_grade",
        "endplate_defect",
        "recess_stenosis",
        "foraminal_stenosis",
    ):
        asker.say(name, "none", "L4-L5")
    playwright.expect(person.page.locator(".c-standing h2")).to_have_text("✓ Candidate")
    playwright.expect(person.keyed("not-counted")).to_have_count(0)
    assert asker.clicks <= MOST_CLICKS
    found += violations(person)
    assert found == [], "\n".join(found)


def _weeks_ago(weeks: int) -> str:
    return (date.today() - timedelta(weeks=weeks)).isoformat()


def test_the_intake_is_filled_in_by_keyboard_and_the_next_page_starts_at_its_source(visitor):
    person = visitor(width=900)
    page = person.page
    page.locator(".st-key-start-guided").get_by_role("button").press("Enter")
    person.settle()
    page.locator(".st-key-intake-from").get_by_role("radio", name=re.compile("^asked today, ")).press("Space")
    person.settle()
    weight = page.locator(".st-key-intake-patient-body_weight input")
    playwright.expect(weight).to_be_enabled()
    weight.press("1")
    page.keyboard.type("80 lb")
    page.keyboard.press("Tab")
    person.settle()
    page.locator(".st-key-take-intake-patient-body_weight").get_by_role("button").press("Enter")
    person.settle()
    last = page.locator(".c-changes p").nth(0)
    playwright.expect(last).to_contain_text("body weight: 180 lb (on ")
    page.locator(".st-key-intake-patient-sex").get_by_role("radio", name="male", exact=True).press("Space")
    person.settle()
    playwright.expect(last).to_contain_text("sex: male (on ")
    page.locator(".st-key-intake-next").get_by_role("button").press("Enter")
    person.settle()
    playwright.expect(page.get_by_role("heading", name="2 of 6: Care so far", exact=True)).to_be_visible()
    playwright.expect(page.locator(".st-key-intake-source :focus")).to_have_count(1)
    assert person.overflow() <= 0
