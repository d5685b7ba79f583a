"""What a reading asks a person, and how it quotes."""

import pytest
from hypothesis import given, settings

from candidacy.reading import Reading, read_text
from candidacy.reading.elements import facts
from candidacy.reading.show import as_data, as_html, as_text
from tests.reading.test_fuzz import TEXTS
from tests.reading.test_ledger import REPORTS


def asked(text: str) -> list[tuple[str, str]]:
    return [(q.about, q.kind) for q in read_text(text).questions]


def test_a_finding_without_a_disc_asks_for_it() -> None:
    assert asked("There is a disc extrusion. No annular tear.") == [("which disc?", "displacement")]
    assert asked("L4-5: disc extrusion.") == []
    assert asked("No disc herniation.") == []
    assert asked("Fracture of L1.") == []
    assert asked("HISTORY: disc extrusion.\nFINDINGS: L4-5: bulge. L5-S1: bulge.") == []


def test_more_than_half_elsewhere_asks_whether_it_is_of_this_study() -> None:
    text = "HISTORY: Old report: L4-5 disc extrusion. L5-S1 annular tear.\nFINDINGS: L3-4: bulge."
    (first, *_) = read_text(text).questions
    assert first.about == "more than half of what was read stands under history: is it of this study?"
    assert len(first.findings) == 2


def test_a_contradiction_is_a_question() -> None:
    assert asked("FINDINGS: L4-5 protrusion.\nIMPRESSION: L4-5 extrusion.") == [
        ("findings and impression differ", "displacement")
    ]


def test_questions_are_shown_and_given_as_data() -> None:
    reading = read_text("There is a disc extrusion.")
    assert 'no disc named, disc displacement: which disc?: extrusion "disc extrusion"' in as_text(reading)
    (question,) = as_data(reading)["questions"]
    assert [as_data(reading)["findings"][n]["kind"] for n in question["findings"]] == [question["kind"]]


def test_a_question_about_what_a_later_addendum_replaced_is_given_as_data() -> None:
    text = (
        "FINDINGS: Disc protrusion at L4-L5.\n\nADDENDUM: Please note that L4-L5 should read L1-L2.\n"
        "FINDINGS: Disc bulge at L5-S1.\n\nADDENDUM: The disc bulge is at L1-2, not at L5-S1."
    )
    data = as_data(read_text(text))
    about = [data["replaced"][n] for question in data["questions"] for n in question["replaced"]]
    assert [(f["disc"], f["value"]) for f in about] == [("L1-L2", "bulge")]


FAR = (
    "L4-5: No definite evidence on any of the sagittal or the axial images that were obtained today in the usual two planes "
    "and on the additional images that were made afterwards at the request of the surgeon of severe central canal stenosis."
)


def quotes_hold(reading: Reading) -> None:
    for f in (*reading.findings, *reading.outside):
        low, high = f.quoted
        assert all(low <= m.span.start < m.span.end <= high for m in f.modifiers)
        assert low <= f.evidence.start < f.evidence.end <= high
    for fact in facts(reading):
        words = fact.entry.words
        for span in fact.spans if words is not None else ():
            quote = " ".join(reading.words(span).split())
            assert quote in words or words.endswith(" more)")


@settings(max_examples=250, deadline=None)
@given(TEXTS)
def test_no_quotation_leaves_out_what_shaped_it(text: str) -> None:
    quotes_hold(read_text(text))


def test_no_quotation_of_a_report_leaves_out_what_shaped_it() -> None:
    for text in REPORTS:
        quotes_hold(read_text(text))


def test_a_denial_far_off_is_quoted() -> None:
    (words,) = [f.entry.words for f in facts(read_text(FAR)) if f.element == "canal_stenosis"]
    assert words is not None
    assert words.startswith("No definite evidence")
    assert words.endswith("canal stenosis")
    assert len(words) > 200
    assert words in as_text(read_text(FAR))


@pytest.mark.parametrize("count", [3, 60])
def test_many_quotations_are_kept_whole_or_counted(count: int) -> None:
    rows = [
        f"Image {n}: no annular tear at L4-5 on this one either, however it is looked at."
        for n in range(count)
    ]
    text = " ".join(rows) + " Annular tear at L4-5."
    (words,) = [f.entry.words for f in facts(read_text(text)) if f.element == "annular_fissure"]
    assert words is not None
    assert all(q.lower().startswith(("no annular tear", "annular tear", "(")) for q in words.split(" … "))


def test_what_stands_under_history_is_shown_as_such() -> None:
    text = as_text(read_text("HISTORY: L4-5 disc extrusion.\nFINDINGS: L4-5: disc bulge."))
    assert "extrusion, under history" in text
    assert "bulge, under" not in text


def test_two_masses_are_two_red_flags_and_the_same_words_are_one() -> None:
    text = "FINDINGS: Left renal mass. Epidural mass at L2.\nIMPRESSION: Left renal mass."
    first = as_text(read_text(text)).split("SEEN")[0]
    assert first.count("tumour, mass or unexplained lesion") == 2


@pytest.mark.parametrize(
    ("clear", "murky", "disc", "element"),
    [
        ("L4-5: Mild bulge.", "The protrusion is at L4-5, not L3-4.", "L4-L5", "displacement"),
        (
            "L4-5: Mild canal stenosis.",
            "Severe canal stenosis is at L4-5, not L3-4.",
            "L4-L5",
            "canal_stenosis",
        ),
        (
            "L5-S1: Mild height loss.",
            "Severe disc height loss is at L5-S1, not L4-5.",
            "L5-S1",
            "disc_height_loss_words",
        ),
    ],
)
def test_what_an_unread_clause_may_gainsay_is_asked_and_not_known(
    clear: str, murky: str, disc: str, element: str
) -> None:
    alone = {(f.subject, f.element): f.entry.unknown for f in facts(read_text(clear))}
    assert alone[disc, element] is None
    reading = read_text(f"{clear}\n\n{murky}")
    told = {(f.subject, f.element): f.entry.unknown for f in facts(reading)}
    assert told[disc, element] == "conflicting", reading.findings
    assert any(q.disc == disc and "not read" in q.about for q in reading.questions)


@pytest.mark.parametrize(
    ("which", "disc"),
    [
        ("the last of these", "L4-L5"),
        ("one of these", ""),
        ("the first of these", "L2-L3"),
        ("the lowest of these", "L4-L5"),
        ("the lower of the two", ""),
    ],
)
def test_one_of_those_just_named_is_the_one_its_place_tells_or_none(which: str, disc: str) -> None:
    reading = read_text(f"At L2-3, L3-4 and L4-5 there are bulges. At {which} there is a protrusion.")
    assert {f.disc for f in reading.findings if f.value == "protrusion"} == {disc}


def test_a_question_about_an_unread_clause_stands_in_every_form() -> None:
    """Its findings are those of the reading: a clause that was withdrawn is none of them."""
    reading = read_text("L4-5: Mild canal stenosis.\n\nSevere canal stenosis is at L4-5, not L3-4.")
    assert any("not read" in q.about for q in reading.questions)
    for q in (*reading.questions, *reading.contradictions):
        assert set(q.findings) <= set(reading.findings)
    assert as_data(reading)["questions"]
    assert "not read" in as_text(reading)
    assert "not read" in as_html(reading)


@pytest.mark.parametrize("kind", ["Canal stenosis", "Disc height loss", "Facet arthropathy"])
@pytest.mark.parametrize(
    "rest", ["L1-2 severe, L2-3", "L1-2 severe, L2-3 mild, L3-4", "L4-5 (severe), L5-S1"]
)
def test_a_list_that_ends_on_a_level_gives_it_no_value_of_another(kind: str, rest: str) -> None:
    reading = read_text(f"{kind}: {rest}.")
    assert not [f for f in reading.findings if f.severity], reading.findings
    assert reading.unread


UNREAD_BESIDE = "a clause about it was not read and may say otherwise"


@pytest.mark.parametrize(
    ("text", "disc", "kind"),
    [
        ("Bulges at L4-5 and L5-S1. The herniation at L5-S1 is frumious.", "L5-S1", "displacement"),
        ("L4-5: bulge. The extrusion there went away.", "L4-L5", "displacement"),
        (
            "L4-5: severe canal stenosis. The canal narrowing at L4-5 is hardly real.",
            "L4-L5",
            "canal_stenosis",
        ),
        (
            "L4-5: annular fissure. On the radiologist's word the annular fissure is dubious.",
            "L4-L5",
            "annular_fissure",
        ),
        (
            "Extrusion: none at L3-4, present at L4-5, left sided. L3-4 to L5-S1 bulge.",
            "L4-L5",
            "displacement",
        ),
    ],
)
def test_a_sentence_that_was_not_read_puts_in_question_what_another_says_of_it(
    text: str, disc: str, kind: str
) -> None:
    reading = read_text(text)
    asked = {(q.disc, q.kind) for q in reading.questions if q.about == UNREAD_BESIDE}
    assert (disc, kind) in asked
    fact = next(f for f in facts(reading) if f.subject == disc and f.element == ELEMENTS[kind])
    assert fact.entry.unknown == "conflicting" or fact.entry.value is None


ELEMENTS = {
    "displacement": "displacement",
    "canal_stenosis": "canal_stenosis",
    "annular_fissure": "annular_fissure",
}


@pytest.mark.parametrize(
    "text",
    [
        "Bulges at L4-5 and L5-S1. There is an annular fissure at L5-S1.",
        "L4-5: bulge. No herniation.",
        "L4-5: bulge. The herniation seen before has resolved.",
        "L4-5: bulge. Possible extrusion at L5-S1.",
    ],
)
def test_sentences_that_were_read_put_nothing_in_question(text: str) -> None:
    assert not [q for q in read_text(text).questions if q.about == UNREAD_BESIDE]
