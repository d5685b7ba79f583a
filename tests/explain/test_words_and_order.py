"""Ticks, green and order: for considered discs alone, none beside an emergency; a standing bears its day and its trial."""

import io
import re
from datetime import date

import pytest
from rich.console import Console

from candidacy.assessment.assess import assess
from candidacy.case.edit import with_header
from candidacy.case.load import case_from_record, load_case
from candidacy.explain.brief import print_brief
from candidacy.explain.build import build_document
from candidacy.explain.companions import companion_strip, companions_line
from candidacy.explain.headline import foot_words, headline
from candidacy.explain.marks import marks_of
from candidacy.explain.page import css_text, fragment, page
from candidacy.explain.text import print_document
from candidacy.explain.trial import trial_file_part
from candidacy.foundation.shipped import demo_cases_folder
from candidacy.rules.libraries import load_rule_set
from candidacy.rules.library import Library
from tests.explain.test_forms import parsed, printed

RULES = load_rule_set("practice_baseline")
TRIAL = RULES.with_trial({("body_mass_index_limit", "bmi_upper_limit"): 40})
CLAUSE = "if “body mass index that is itself too high” were 40 kg/m2 (shipped 35 kg/m2)"


def document(name, rules=RULES, record=None):
    record = record or load_case(demo_cases_folder() / f"{name}.yaml").record
    return build_document(assess(case_from_record(record), rules, date.fromisoformat(record.as_of)))


def forms(of):
    """Every form in which an assessment is read, as one line of text each."""
    brief = printed(lambda console: print_brief(console, of), width=4000)
    whole = printed(lambda console: print_document(console, of), width=4000)
    texts = {
        "brief": brief,
        "text": whole,
        "page": parsed(page(of)).text,
        "fragment": parsed(fragment(of)).text,
    }
    return {form: " ".join(text.split()) for form, text in texts.items()}


def considering(name, levels):
    """A demonstration case of which other discs are considered; none where it is not known."""
    record = load_case(demo_cases_folder() / f"{name}.yaml").record
    patient = dict(record.patient)
    del patient["discs_under_consideration"]
    told = record.model_dump(mode="json", exclude_defaults=True)
    del told["patient"]["discs_under_consideration"]
    if levels:
        told["patient"]["discs_under_consideration"] = {"value": levels}
    return type(record).model_validate(told)


# --- discs


def test_considered_discs_come_first_in_every_form_and_in_each_criterion():
    found = document("one-disc-candidate", record=considering("one-disc-candidate", ["L4-L5"]))
    order = ["met", "unknown", "not_met"]
    assert [d.considered for d in found.discs] == sorted((d.considered for d in found.discs), key=order.index)
    assert found.discs[0].level == "L4-L5" != min(d.level for d in found.discs), (
        "the case shows an order of its own"
    )
    per_criterion = {}
    for row in found.criteria:
        if row.subject != "patient":
            per_criterion.setdefault(row.id, []).append(row.subject)
    levels = [d.level for d in found.discs]
    assert per_criterion
    for subjects in per_criterion.values():
        assert subjects == [level for level in levels if level in subjects]
    heads = re.findall(r'<th scope="col">(L\d-\S\d)', page(found))
    assert heads == levels


def test_only_considered_discs_bear_a_tick_or_green():
    found = document("one-disc-candidate", record=considering("one-disc-candidate", ["L4-L5"]))
    marks = marks_of(found)
    seen = set()
    for disc in found.discs:
        seen.add(disc.considered)
        assert ("✓" in marks.disc(disc)) is (disc.considered == "met" and disc.shown == "candidate")
        if disc.considered != "met":
            assert marks.tone("pass", disc.level) not in ("pass", "candidate")
    assert seen >= {"met", "not_met"}
    for row in found.criteria:
        considered = next((d.considered for d in found.discs if d.level == row.subject), "met")
        ticked = "✓" in marks.row(row.shown, row.subject)
        assert ticked is (row.shown == "pass" and considered == "met"), (row.id, row.subject)
        if row.shown == "fail":
            assert marks.row("fail", row.subject) == "✗ FAIL", "what fails is never hushed"


def test_where_nobody_knows_which_disc_is_considered_none_is_ticked():
    found = document("one-disc-candidate", record=considering("one-disc-candidate", []))
    assert {d.considered for d in found.discs} == {"unknown"}
    marks = marks_of(found)
    for disc in found.discs:
        assert "✓" not in marks.disc(disc)
    table = page(found).split("<h3>Discs</h3>")[1].split("</table>")[0]
    assert "✓" not in table
    assert 'class="pass"' not in table


# --- an emergency


@pytest.mark.parametrize(
    "case", ["cauda-equina-signs", "suspected-spinal-infection", "thoughts-of-self-harm"]
)
def test_beside_an_emergency_nothing_is_ticked_or_green(case):
    found = document(case)
    assert found.standing == "urgent"
    assert any(row.outcome == "pass" for row in found.criteria)
    for form, text in forms(found).items():
        assert "✓" not in text, form
    html = page(found)
    assert not re.findall(r'class="[^"]*\b(?:pass|candidate)\b(?!-)[^"]*"', html)
    out = io.StringIO()
    print_document(Console(file=out, width=120, force_terminal=True, color_system="truecolor"), found)
    assert "\x1b[32m" not in out.getvalue()
    assert "\x1b[1;32m" not in out.getvalue()


# --- the day, the companions, a trial


def test_not_yet_bears_its_day_wherever_it_stands():
    found = document("discography-nine-days-ago")
    words = f"Not yet, earliest {found.not_yet.earliest}"
    assert headline(found) == f"○ {words}"
    for form, text in forms(found).items():
        assert words.lower() in text.lower(), form
    without = document("pregnant")
    assert headline(without) == "○ Not yet, no date can be given"


def test_companions_stand_in_one_strip():
    found = document("discography-nine-days-ago")
    strip = companion_strip(found)
    assert [title for title, _, _ in strip] == [c.title for c in found.companions if c.applies]
    html = page(found)
    screen = html[html.index("<header>") :]
    assert screen.count('<ul class="strip">') == 1
    inside = parsed(screen.split('<ul class="strip">')[1].split("</ul>")[0]).text
    for title, words, _ in strip:
        assert f"{title}: {words}" in inside
        assert f"{title}: {words}" in companions_line(found)


def test_a_trial_says_what_would_have_to_be_otherwise_in_every_form():
    found = document("heavy-patient-for-conference", TRIAL)
    assert found.standing == "candidate"
    assert headline(found) == f"✓ Candidate {CLAUSE}"
    for form, text in forms(found).items():
        assert CLAUSE in text, form
    assert foot_words(found).startswith(f"Local trial, valid only {CLAUSE}.")
    assert css_text(foot_words(found)) in page(found)
    assert CLAUSE in found.reason[0]
    plain = document("heavy-patient-for-conference")
    assert "valid only" not in foot_words(plain)
    assert "were" not in headline(plain)
    assert plain.rule_set.tried == []


def test_a_second_trial_is_told_against_what_was_shipped():
    again = TRIAL.with_trial({("body_mass_index_limit", "bmi_upper_limit"): 45})
    assert document("heavy-patient-for-conference", again).rule_set.tried[0].instead_of == "35 kg/m2"


def test_a_rule_set_of_ones_own_is_not_called_shipped(tmp_path):
    folder = tmp_path / "sets" / "ours"
    folder.mkdir(parents=True)
    (folder / "ruleset.yaml").write_text(
        'id: ours\nversion: "0.1.0"\nextends: practice_baseline\nreason: Ours.\n'
        'changes: [{version: "0.1.0", date: "2026-11-28", change: First draft.}]\n'
    )
    from candidacy.rules.libraries import shipped

    ours = Library(tmp_path, base=shipped()).rule_set("ours")
    tried = ours.with_trial({("body_mass_index_limit", "bmi_upper_limit"): 40})
    found = document("heavy-patient-for-conference", tried)
    assert "(the rule set says 35 kg/m2)" in headline(found)
    assert "shipped 35" not in headline(found)


def test_a_file_of_a_trial_says_so_in_its_name_and_holds_only_plain_signs():
    found = document("heavy-patient-for-conference", TRIAL)
    assert trial_file_part(found.rule_set.tried) == "-trial-if-bmi_upper_limit-40-kg-m2"
    assert trial_file_part([]) == ""
    many = [
        each.model_copy(update={"value": f"../{n}; “x” é"}) for each in found.rule_set.tried for n in range(9)
    ]
    name = trial_file_part(many)
    assert re.fullmatch(r"[\w.-]+", name, re.ASCII)
    assert "/" not in name
    assert name.endswith("-and-more")
    assert len(name) < 120


def test_text_of_a_case_cannot_leave_the_foot_of_the_page():
    record = with_header(load_case(demo_cases_folder() / "pregnant.yaml").record, title='"; } </style><b>x')
    html = page(document("pregnant", record=record))
    style = html[html.index("<style>") : html.index("</style>")]
    assert "<b>" not in style
    assert css_text('"</style>\\') == "\\22 \\3c \\2f style\\3e \\5c "
