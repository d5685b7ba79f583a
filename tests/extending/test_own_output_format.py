"""An output format of one's own: a function of an answer. Here a Markdown note for a case conference.

The document holds everything that is said, in order and in words, so a format only arranges it. What stops comes first and
free text from a record stays data: `one_line` keeps it from becoming a row, a heading or a link.
"""

import pytest

import candidacy

DAY = "2026-12-02"


def one_line(text: str) -> str:
    """Text as it may stand in a cell of a Markdown table."""
    return "".join(f"\\{sign}" if sign in "\\`*_{}[]()<>#|!" else sign for sign in " ".join(text.split()))


def markdown(answer: candidacy.Answer) -> str:
    document = answer.document
    aside = {disc.level for disc in document.discs if disc.considered == "not_met"}
    lines = [f"**{one_line(sentence)}**" for sentence in document.stops]
    lines += [
        f"# {one_line(document.case.id)}: {one_line(document.standing_name)}",
        one_line(document.case.title),
        *map(one_line, document.reason),
    ]
    lines += ["", "| outcome | of | found | rule | source |", "|---|---|---|---|---|"]
    for each in document.criteria:
        if each.outcome != "pass" and each.subject not in aside:
            sources = "; ".join(f"{c.source} ({c.tag})" for p in each.parameters for c in p.cites)
            cells = (each.outcome, each.subject, "; ".join(each.because), each.rule, sources)
            lines.append(f"| {' | '.join(map(one_line, cells))} |")
    return "\n".join([*lines, "", *(f"- {one_line(caution)}" for caution in document.cautions)]) + "\n"


@pytest.mark.parametrize("name", [name for name in candidacy.demo_cases() if name != "mixed-scales"])
def test_the_note_says_what_the_answer_says(name: str):
    answer = candidacy.assess(candidacy.demo_cases()[name], as_of=DAY)
    note = markdown(answer)
    assert f": {one_line(answer.standing_name)}\n" in note
    assert all(one_line(caution) in note for caution in answer.document.cautions)
    aside = {disc.level for disc in answer.discs if disc.considered == "not_met"}
    left = [c for c in answer.criteria if c.outcome != "pass" and c.subject not in aside]
    assert note.count("\n| fail |") + note.count("\n| undetermined |") == len(left)
    if answer.stops:
        assert note.startswith(f"**{one_line(answer.stops[0])}")


def test_free_text_of_a_record_stays_data():
    case = candidacy.load_case(candidacy.demo_cases()["heavy-patient-for-conference"])
    renamed = candidacy.load_case(case.record.plain() | {"title": "x\n# y | [z](http://z)"})
    note = markdown(candidacy.assess(renamed, as_of=DAY))
    assert "\nx \\# y \\| \\[z\\]\\(http://z\\)\n" in note
    assert len([line for line in note.splitlines() if line.startswith("#")]) == 1
    assert one_line("a|b\n# c") == "a\\|b \\# c"


def test_the_body_mass_index_row_carries_value_limit_and_source():
    note = markdown(candidacy.assess(candidacy.demo_cases()["heavy-patient-for-conference"], as_of=DAY))
    row = next(line for line in note.splitlines() if line.startswith("| fail | patient | Body mass index"))
    assert "38.41 kg/m2" in row
    assert "35 kg/m2" in row
    assert "seen" in row
