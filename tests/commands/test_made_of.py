"""Every form in which a result leaves the program tells what it was made of: rule sets with version and digest, and the record."""

import pytest

from candidacy.case.load import load_case
from candidacy.cli import main
from candidacy.course.load import load_course
from candidacy.foundation.digest import short
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set

DEMO = demo_cases_folder()
CASE, COURSE = DEMO / "one-disc-candidate.yaml", DEMO / "courses" / "one-disc.yaml"
RULES, WIDE = "practice_baseline", "wide_screen"


@pytest.mark.parametrize(
    ("command", "rules"),
    [
        (("assess", CASE), (RULES,)),
        (("assess", CASE, "--full"), (RULES,)),
        (("assess", CASE, "--format", "json"), (RULES,)),
        (("assess", CASE, "--format", "html"), (RULES,)),
        (("assess", CASE, "--rules", RULES, "--rules", WIDE), (RULES, WIDE)),
        (("assess", CASE, CASE, "--format", "csv"), (RULES,)),
        (("assess", CASE, CASE, "--format", "jsonl"), (RULES,)),
        (("plan", CASE, "--on", "2026-12-14"), (RULES,)),
        (("plan", CASE, "--on", "2026-12-14", "--format", "html"), (RULES,)),
        (("day", CASE, "--disc", "L4-L5", "--on", "2026-12-10"), (RULES, "procedural_safety")),
        (("day", CASE, "--disc", "L4-L5", "--on", "2026-12-10", "--format", "html"), (RULES, "procedural_safety")),
        (("day", CASE, "--disc", "L4-L5", "--on", "2026-12-10", "--format", "json"), (RULES, "procedural_safety")),
        (("letter", "referrer", CASE), (RULES,)),
    ],
)  # fmt: skip
def test_a_result_names_its_rule_sets_and_its_record(capsys, command, rules) -> None:
    main([*map(str, command)])
    told = capsys.readouterr().out
    for each in rules:
        assert load_rule_set(each).file.version in told
        assert short(load_rule_set(each).digest) in told
    assert short(load_case(CASE).digest) in told


@pytest.mark.parametrize("command", ["triage", "show"])
def test_advice_after_an_injection_names_its_course(capsys, command) -> None:
    main(["follow", command, str(COURSE)])
    assert short(load_course(COURSE).digest) in capsys.readouterr().out


def test_a_proof_names_its_rule_set(capsys) -> None:
    pytest.importorskip("z3", reason="proofs are an optional part")
    main(["rules", "prove", WIDE])
    assert short(load_rule_set(WIDE).digest) in capsys.readouterr().out
