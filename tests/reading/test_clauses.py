"""A clause is asserted only if all of it is used up; what is not is listed as unread with its reason.

The sentences are in ``clauses.yaml``, by construct; every one is read through the public entry.
"""

import itertools
import re
from pathlib import Path

import pytest

from candidacy.reading import Reading, read_text
from candidacy.reading.clause_data import clause_data
from candidacy.reading.elements import facts
from tests.quick_yaml import read_yaml
from tests.rows import each_row

TABLE = read_yaml((Path(__file__).parent / "clauses.yaml").read_text("utf-8"))
CASES = [(name, case) for name, cases in TABLE.items() for case in cases]
REASONS = frozenset(clause_data()["reasons"].values())
ASSERTED = ("present", "absent")
# Consequences and measures that the table leaves out for brevity; displacement is told by its value alone.
LEFT_OUT = ("neural_compression", "meyerding_grade", "displacement_site", "displacement_size")
LEVELS = {"L1-2": "L1-L2", "L2-3": "L2-L3", "L3-4": "L3-L4", "L4-5": "L4-L5", "L5-S1": "L5-S1"}


def asserted(reading: Reading) -> set[str]:
    out = set()
    for f in reading.findings:
        if f.status in ASSERTED and f.kind not in LEFT_OUT:
            value = " or ".join(f.value) if isinstance(f.value, tuple) else str(f.value)
            denied = "no " if f.status == "absent" else ""
            what = (
                f.kind
                if value in ("present", "none", "absent") or (denied and f.kind != "displacement")
                else f"{f.kind} {value}"
            )
            what = what.removeprefix("displacement ") if f.disc else what
            out.add(f"{f.disc} {denied}{what}".strip())
    return out


def unread(reading: Reading) -> list[str]:
    return [u.reason for u in reading.not_understood if u.reason in REASONS]


@each_row(("name", "case"), CASES, ids=[f"{n}: {c['text'][:70]}" for n, c in CASES])
def test_what_a_sentence_asserts(name: str, case: dict) -> None:
    reading = read_text(case["text"])
    assert asserted(reading) == set(case["said"])
    assert len(unread(reading)) == case.get("unread", 0)
    missed = " … ".join(reading.words_missed(a) for a in reading.unread)
    assert [words for words in case.get("shown", ()) if words not in missed] == []


@each_row(("name", "case"), CASES, ids=[f"{n}: {c['text'][:70]}" for n, c in CASES])
def test_a_sentence_that_breaks_off_anywhere_is_read_without_a_fault(name: str, case: dict) -> None:
    for word in re.finditer(r"\S+", case["text"]):
        read_text(case["text"][: word.end()])


def moved(text: str, change: dict[str, str]) -> str:
    """Write other levels in place of those of a text, all at once."""
    marks = {level: f"\x00{n}\x00" for n, level in enumerate(change)}
    for level, mark in marks.items():
        text = text.replace(level, mark)
    for level, mark in marks.items():
        text = text.replace(mark, change[level])
    return text


BY_NEIGHBOURS = (
    "down_to_a_level",
    "on_down",
    "slip_of_two_vertebrae",
    "one_level_up",
    "lowest_level_by_its_name",
    "endplates_of_vertebrae",
    "bare_levels",
    "place_in_a_row",
    "counted_lumbar_discs",
    "discs_without_their_letter",
    "levels_with_a_comma",
    "denied_as_far_as_a_vertebra",
    "grades_in_turn",
    "normal_above",
    "of_a_disc_with_an_unknown_name",
    "letters_for_figures",
)
SHORT = [
    (n, c)
    for n, c in CASES
    if n not in BY_NEIGHBOURS and not any(long in c["text"] for long in ("L3-L4", "L4-L5", "L4 on L5"))
]


@pytest.mark.parametrize("shift", [1, 2, 3])
def test_other_levels_move_what_is_said_and_nothing_else(shift: int) -> None:
    names = list(LEVELS)
    change = {a: names[(i + shift) % len(names)] for i, a in enumerate(names)}
    discs = {LEVELS[a]: LEVELS[b] for a, b in change.items()}
    for name, case in SHORT:
        if " from " in case["text"] or " through " in case["text"]:
            continue  # a range, turned round, is no range
        reading = read_text(moved(case["text"], change))
        wanted = {" ".join(discs.get(w, w) for w in said.split()) for said in case["said"]}
        assert asserted(reading) == wanted, (name, case["text"])


FINDINGS = ("disc bulge", "disc protrusion", "annular fissure", "canal stenosis", "facet arthropathy", "foraminal narrowing",
            "vacuum phenomenon", "disc desiccation", "retrolisthesis", "fracture")  # fmt: skip
AFFIRMED = [
    "L4-5: {}.",
    "There is {} at L4-5.",
    "At L4-5, there is {}.",
    "{} is seen at L4-5.",
    "The L4-5 level shows {}.",
]
DENIED = ["L4-5: no {}.", "There is no {} at L4-5.", "At L4-5, there is no evidence of {}.", "{} is not seen at L4-5.", "The L4-5 level does not show {}."]  # fmt: skip


@pytest.mark.parametrize("finding", FINDINGS)
def test_a_denial_put_in_turns_present_into_absent(finding: str) -> None:
    for yes, no in zip(AFFIRMED, DENIED, strict=True):
        told, denied = asserted(read_text(yes.format(finding))), asserted(read_text(no.format(finding)))
        assert told, yes
        assert denied, no
        assert not any(" no " in f" {s}" for s in told)
        assert all(" no " in f" {s}" for s in denied)


@pytest.mark.parametrize("finding", FINDINGS)
@each_row("word", ["would be expected", "was resected", "is planned", "was not assessed", "is doubtful", "was not confirmed"])  # fmt: skip
def test_no_finding_is_asserted_with_a_word_that_takes_it_back(finding: str, word: str) -> None:
    assert asserted(read_text(f"{finding.capitalize()} at L4-5 {word}.")) == set()


@pytest.mark.parametrize(
    ("first", "second"), list(itertools.permutations(["bulge", "annular fissure", "canal stenosis"], 2))
)
@pytest.mark.parametrize("levels", list(itertools.permutations(["L2-3", "L3-4", "L4-5"], 2)), ids="-".join)
def test_two_findings_at_two_levels(first: str, second: str, levels: tuple[str, str]) -> None:
    kinds = {"bulge": "bulge", "annular fissure": "annular_fissure", "canal stenosis": "canal_stenosis"}
    upper, lower = levels
    wanted = {f"{LEVELS[upper]} {kinds[first]}", f"{LEVELS[lower]} {kinds[second]}"}
    for form in (
        "{a} at {x} and {b} at {y}.",
        "{x} {a}, {y} {b}.",
        "{a} at {x}; {b} at {y}.",
        "At {x} there is {a}, at {y} there is {b}.",
    ):
        text = form.format(a=first, b=second, x=upper, y=lower)
        assert asserted(read_text(text)) == wanted, text


def test_a_red_flag_in_an_unread_clause_is_raised_all_the_same() -> None:
    for text in (
        "The fracture of L1 would need surgery.",
        "Discitis at L4-5 was not assessed.",
        "The epidural abscess should be drained.",
        "Severe canal stenosis at L4-5 was decompressed.",
    ):
        reading = read_text(text)
        assert reading.red_flags, text
        assert asserted(reading) == set(), text
        assert unread(reading), text


def test_surgery_is_never_lost_with_its_level() -> None:
    reading = read_text("Remote laminectomy, at L4-5 a bulge is seen, the L5-S1 disc is normal.")
    assert {f.disc for f in reading.findings if f.kind == "prior_surgery"} == {""}
    assert "L4-L5 bulge" in asserted(reading)


def test_a_blanket_denial_is_not_said_of_a_disc_whose_clause_is_unread() -> None:
    plain = facts(read_text("L4-5: desiccation. No disc herniation."))
    assert [f.subject for f in plain if f.element == "displacement" and f.subject == "L4-L5"] == ["L4-L5"]
    torn = facts(read_text("The L4-5 herniation would be operated. No disc herniation."))
    assert [f for f in torn if f.element == "displacement"] == []


def test_a_denial_in_a_form_of_one_disc_is_not_said_of_the_others() -> None:
    told = facts(read_text("Findings L5-S1: bulge: yes; protrusion: no."))
    assert [f.subject for f in told if f.element == "displacement"] == ["L5-S1"]


def test_a_disc_whose_clause_is_unread_is_not_among_the_other_discs() -> None:
    reading = read_text("Bulge or protrusion at L4-5. The remaining discs are normal.")
    assert "L4-L5 no displacement" not in asserted(reading)
    assert "L3-L4 no displacement" in asserted(reading)


def test_the_next_statement_does_not_go_on_from_an_unread_one() -> None:
    reading = read_text("Canal stenosis at L3-4 was decompressed. L4-L5, mild.")
    assert asserted(reading) == set()


def test_the_unread_words_are_those_of_the_clause() -> None:
    reading = read_text("L4-5: mild bulge; the extrusion was resected.")
    assert asserted(reading) == {"L4-L5 bulge"}
    assert ["resected" in reading.words(u.span) for u in reading.not_understood] == [True]


@pytest.mark.parametrize(
    ("text", "open_values"),
    [
        ("L4-5: no protrusion.", ("none", "bulge")),
        ("L4-5: no extrusion.", ("none", "bulge", "protrusion")),
        ("L4-5: no bulge.", ("none", "protrusion", "extrusion", "sequestration")),
        ("L4-5: no herniation.", ("none", "bulge")),
        ("L4-5: no sequestration.", ("none", "bulge", "protrusion", "extrusion")),
    ],
)
def test_denying_a_lesser_herniation_denies_the_greater(text: str, open_values: tuple[str, ...]) -> None:
    (fact,) = [f for f in facts(read_text(text)) if f.element == "displacement"]
    assert tuple(fact.entry.one_of or ()) == open_values


def test_every_production_has_a_name_of_its_own_and_a_standing_that_exists() -> None:
    data = clause_data()
    names = [row["id"] for row in (*data["status"], *data["levels"])]
    assert len(names) == len(set(names))
    standings = {row["from"] for row in data["status"]}
    assert {row["to"] for row in data["status"]} - {"never"} <= standings


@pytest.mark.parametrize("joined", [", no", " with no", ", without", " but no", ". No", "; no", " and no"])
@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("indents the thecal sac", "narrowing"),
        ("effaces the thecal sac", "narrowing"),
        ("compresses the left L5 nerve root", "compression"),
        ("abuts the thecal sac", "contact"),
    ],
)
def test_a_denial_of_what_follows_takes_nothing_back(said: str, value: str, joined: str) -> None:
    """Lost before: "indents the thecal sac, no canal stenosis" was read as no narrowing of the sac."""
    reading = read_text(f"L4-5: central protrusion, 3 mm, {said}{joined} canal stenosis.")
    of_nerve = {(f.disc, f.value, f.status) for f in reading.findings if f.kind == "neural_compression"}
    assert of_nerve == {("L4-L5", value, "present")} or (not of_nerve and reading.unread)
    of_canal = {f.status for f in reading.findings if f.kind == "canal_stenosis"}
    assert of_canal == {"absent"} or (not of_canal and reading.unread)
