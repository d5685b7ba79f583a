"""Passages by many hands, marked before the reader met them: nothing is asserted that they do not say, and little is lost."""

from pathlib import Path

from candidacy.reading import read_text
from tests.quick_yaml import read_yaml
from tests.reading.test_clauses import asserted

PASSAGES = read_yaml((Path(__file__).parent / "data" / "many_hands.yaml").read_text("utf-8"))
DISCS = ("T12-L1", "L1-L2", "L2-L3", "L3-L4", "L4-L5", "L5-S1", "L5-L6", "L6-S1")
GRADES = frozenset(("mild", "moderate", "severe", "or", "present_ungraded"))
LEAST_FOUND = 0.88


def plain(said: str) -> str:
    return " ".join(w for w in said.split() if w not in GRADES)


def covers(wanted: str, found: str) -> bool:
    return found == wanted or found.startswith(f"{wanted} ")


def test_nothing_is_asserted_that_is_not_said() -> None:
    wrong = {}
    for case in PASSAGES:
        reading = read_text(case["text"])
        held = {c.disc for c in reading.contradictions}
        allowed = [plain(s) for s in (*case["said"], *case.get("may", ()))]
        extra = {
            said
            for said in asserted(reading)
            if said.startswith(DISCS) and said.split()[0] not in held
            and not any(covers(a, plain(said)) for a in allowed)
        }  # fmt: skip
        if extra:
            wrong[case["text"]] = extra
    assert wrong == {}


def test_what_is_said_is_found() -> None:
    pairs = [(said, case["text"]) for case in PASSAGES for said in case["said"]]
    found = [any(covers(said, f) for f in asserted(read_text(text))) for said, text in pairs]
    assert len(pairs) > 300
    assert sum(found) / len(found) >= LEAST_FOUND
