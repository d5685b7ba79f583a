"""Generated notes: what is marked is read, nothing else is asserted, whatever the layout; and any text is survived."""

import contextlib
import random
import re
import textwrap

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from candidacy.foundation.errors import Code, ReportError
from candidacy.reading.model import KNOWN, PARTLY, UNREAD, USED
from candidacy.reading.notes.model import NoteReading
from candidacy.reading.notes.read import read_note
from tests.reading.notes.generator import LAYOUTS, NO_PAIN, PAINS, discs, note


def forms(reading: NoteReading) -> dict[tuple[str, str], dict[str, object]]:
    return {(f.subject, f.element): f.form for f in reading.facts}


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda f: f.__name__)
def test_every_mark_of_a_layout_is_read_and_nothing_else(layout) -> None:
    for seed in range(150):
        rng = random.Random(seed)
        made = layout(discs(rng), rng)
        assert forms(read_note(made.text, "discography")) == made.marks, made.text


@given(st.integers(min_value=10_000, max_value=10_000_000))
@settings(max_examples=300, deadline=None)
def test_notes_of_any_seed_are_read_as_marked(seed: int) -> None:
    made = note(seed)
    assert forms(read_note(made.text, "discography")) == made.marks, made.text


@given(st.integers(0, 1_000_000), st.data())
@settings(max_examples=200, deadline=None)
def test_a_damaged_note_never_crashes_and_accounts_for_its_words(seed: int, data: st.DataObject) -> None:
    text = list(note(seed).text)
    for _ in range(data.draw(st.integers(1, 12))):
        at = data.draw(st.integers(0, len(text) - 1))
        text[at] = data.draw(
            st.sampled_from(["", "\n", "\t", "|", ".", ",", ":", "0", "9", "/", " no ", "L", "\u2013", "("])
        )
    broken = "".join(text)
    try:
        reading = read_note(broken, "discography")
    except (
        ReportError
    ) as error:  # damage may look like another language ("Con ordance"); then nothing is read
        if {problem.code for problem in error.problems} != {Code.OTHER_LANGUAGE}:
            raise
        return
    for fact in reading.facts:
        assert fact.spans
        assert all(0 <= s.start < s.end <= len(broken) for s in fact.spans)
    assert {a.state for a in reading.ledger} <= {USED, PARTLY, KNOWN, UNREAD}
    assert all(bool(a.missed) == (a.state in (UNREAD, PARTLY)) for a in reading.ledger)
    told = [False] * len(broken)
    for a in reading.ledger:
        told[a.span.start : a.span.end] = [True] * (a.span.end - a.span.start)
    left = {
        ch for ch, seen in zip(broken, told, strict=True) if not seen and ch.isalnum() and not ch.isdigit()
    }
    assert not left, left


@given(st.text(max_size=400))
@settings(max_examples=200, deadline=None)
def test_any_text_is_survived(text: str) -> None:
    for kind in ("discography", "procedure"):
        with contextlib.suppress(ReportError):  # in another language, or taken back
            read_note(text, kind)


def wrapped(text: str, rng: random.Random) -> str:
    width = rng.randint(25, 70)
    return "\n".join(part for line in text.split("\n") for part in textwrap.wrap(line, width) or [""])


CHANGES = {
    "lines joined": lambda text, rng: " ".join(text.split("\n")),
    "no blank lines": lambda text, rng: re.sub(r"\n+", "\n", text),
    "blank lines": lambda text, rng: text.replace("\n", "\n\n"),
    "wrapped": wrapped,
    "capitals": lambda text, rng: text.upper(),
    "small letters": lambda text, rng: text.lower(),
    "no full stops": lambda text, rng: re.sub(r"\.(?=\s|$)", "", text),
    "quoted": lambda text, rng: "\n".join(f"> {line}" for line in text.split("\n")),
    "carriage returns": lambda text, rng: text.replace("\n", "\r\n"),
}
DENYING = {
    "no",
    "not",
    "without",
    "none",
    "non",
    "non-concordant",
    "partially",
    "exact",
    "exactly",
    "a.o.",
    "above",
    "painless",
}


def wrong(
    found: dict[tuple[str, str], dict[str, object]], marks: dict[tuple[str, str], dict[str, object]]
) -> dict[object, object]:
    """What is asserted and not marked; a wider choice that holds the marked value is no wrong one."""

    def fits(key: tuple[str, str], form: dict[str, object]) -> bool:
        mark = marks.get(key)
        options = form.get("one_of")
        return "unknown" in form or form == mark or (
            isinstance(options, list) and mark is not None and mark.get("value") in options
        )  # fmt: skip

    return {key: form for key, form in found.items() if not fits(key, form)}


@pytest.mark.parametrize("change", CHANGES)
def test_another_setting_of_the_lines_never_makes_another_value(change: str) -> None:
    for seed in range(200):
        made, rng = note(seed), random.Random(seed)
        text = CHANGES[change](made.text, rng)
        assert wrong(forms(read_note(text, "discography")), made.marks) == {}, text


def test_a_word_left_out_never_makes_another_value() -> None:
    rng = random.Random(11)
    for seed in range(600):
        made = note(seed)
        word = rng.choice(list(re.finditer(r"[A-Za-z][A-Za-z.]*(?:-[A-Za-z]+)*", made.text)))
        if word[0].lower() not in DENYING:
            text = made.text[: word.start()] + made.text[word.end() :]
            assert wrong(forms(read_note(text, "discography")), made.marks) == {}, (word[0], text)


SAYINGS = [(p, e) for _, (_, phrases) in PAINS.items() for p in phrases for e in ["discography_concordance"]]
SAYINGS += [(p, "discography_concordance") for p in NO_PAIN]
SAYINGS += [
    (p, "discography_leak")
    for p in ("leak of contrast", "no leak", "extravasation", "contrast was contained")
]
SAYINGS += [
    ("opening pressure 12 psi", "discography_opening_pressure"),
    ("pain 8/10", "discography_pain_nrs"),
    ("Dallas grade 4", "discography_fissure_grade"),
    ("volume 1.5 mL", "discography_volume"),
]
DOUBTS = ("possible {}", "probably {}", "questionable {}", "{}?", "equivocal {}", "perhaps {}", "it is unclear whether {}",
          "hardly {}", "vaguely {}", "{} cannot be excluded", "{} is doubtful")  # fmt: skip
NOT_SO = ("if {}, treatment is planned", "previously {}", "in 2019 an outside discogram showed {}", "{} would be a criterion",
          "should there be {}, stop", "{} was expected", "her mother had {}", "plan: look for {}", "prior discography: {}",
          "cervical disc: {}")  # fmt: skip


@pytest.mark.parametrize("frame", [*DOUBTS, *NOT_SO])
def test_what_is_doubted_or_not_said_to_be_so_is_never_a_value(frame: str) -> None:
    for saying, element in SAYINGS:
        found = forms(read_note(f"Discography\nL4-5: {frame.format(saying)}.", "discography"))
        form = found.get(("L4-L5", element), {"unknown": "nothing said"})
        assert "unknown" in form, (frame, saying, form)


@pytest.mark.parametrize(
    "denial",
    [
        "not {}",
        "never {}",
        "denied {}",
        "without evidence of {}",
        "nor {}",
        "{} was not found",
        "{} was denied",
    ],
)
def test_a_denied_saying_is_never_asserted(denial: str) -> None:
    for saying, element in SAYINGS:
        plain = forms(read_note(f"L4-5: {saying}.", "discography")).get(("L4-L5", element))
        assert plain is not None, saying
        assert "unknown" not in plain, saying
        found = forms(read_note(f"L4-5: {denial.format(saying)}.", "discography")).get(("L4-L5", element))
        assert found is None or found != plain, (denial, saying, found)
