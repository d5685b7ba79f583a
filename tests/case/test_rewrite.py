"""A changed record in its own text: it reads as intended, and no other sign of the text changes."""

import difflib
import json

import pytest

from candidacy.case.edit import with_document, with_entry, with_fact
from candidacy.case.load import parse_case
from candidacy.case.record import CaseRecord, Document, FactEntry
from candidacy.case.rewrite import rewritten
from candidacy.foundation.errors import CaseError, Code
from candidacy.foundation.shipped import demo_cases_folder
from tests.rows import each_row

WORDS = 'Said: "IV", # not {this}, \\ nor 100 % é'
DEMO = [p for p in sorted(demo_cases_folder().glob("*.yaml")) if p.stem != "mixed-scales"]


def changed(record: CaseRecord) -> CaseRecord:
    """A new document, a new disc, a new fact of the patient, and another value of a fact that is there."""
    entry = FactEntry(value="bulge", source="added", words=WORDS, by="report reader")
    record = with_document(
        record, "added", Document(kind="imaging_report", date="2026-03-04", title="a: b, {c}")
    )
    for level in ("L1-L2", "L4-L5"):
        record = with_fact(record, level, "displacement", entry)
    return with_fact(record, "patient", "able_to_consent", FactEntry(unknown="not_asked", note="x"))


@pytest.mark.parametrize("path", DEMO, ids=lambda path: path.stem)
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@each_row("mark", ["", "\ufeff"])
def test_every_demo_record_takes_a_change_and_keeps_every_other_line(path, ends, mark):
    text = mark + path.read_text(encoding="utf-8").replace("\n", ends)
    old = parse_case(text).record
    made = rewritten(text, old, changed(old))
    assert parse_case(made).record.plain() == changed(old).plain()
    assert made.startswith(mark)
    assert made.count("\n") == made.count(ends)
    told = list(difflib.unified_diff(text.split(ends), made.split(ends), lineterm="", n=0))[2:]
    gone = [line[1:] for line in told if line.startswith("-")]
    come = [line[1:] for line in told if line.startswith("+")]
    facts = ("displacement:", "able_to_consent:")
    assert len(gone) <= 3
    assert all(any(fact in line for fact in facts) for line in gone)
    assert all(
        any(
            word in line
            for word in (*facts, "added:", "L1-L2:", "L4-L5:", "discs:", "patient:", "documents:")
        )
        for line in come
    )
    assert len(come) <= len(gone) + 8


@pytest.mark.parametrize("path", DEMO[:6], ids=lambda path: path.stem)
@pytest.mark.parametrize("indent", [None, 2, "\t"])
@pytest.mark.parametrize("ascii_only", [True, False])
def test_json_stays_json_in_its_own_layout(path, indent, ascii_only):
    old = parse_case(path.read_text(encoding="utf-8")).record
    text = json.dumps(old.plain(), indent=indent, ensure_ascii=ascii_only)
    made = rewritten(text, old, changed(old))
    assert json.loads(made) == changed(old).plain()
    assert json.dumps(json.loads(made), indent=indent, ensure_ascii=text.isascii()) == made
    if ascii_only:
        assert made.isascii()


def test_no_change_changes_no_byte():
    for path in DEMO:
        text = path.read_text(encoding="utf-8")
        record = parse_case(text).record
        assert rewritten(text, record, record) == text


@pytest.mark.parametrize(
    "text",
    [
        'schema_version: "1"\nid: x',
        'schema_version: "1"\nid: x\ndiscs: {}\npatient: {}   # nobody\n',
        'schema_version: "1"\nid: x\ndiscs: {L4/5: {displacement: none}, L5-S1: {}}',
        'schema_version: "1"\nid: x\ndiscs:\n  L4-L5:\n    displacement:\n      value: none   # said\n      words: |\n        two\n        lines\n\n# end\n',
        'schema_version: "1"\nid: x\ndiscs:\n  L4-L5: {\n    displacement: none,   # said\n    disc_height_loss_words: mild   # last\n  }\n',
        '{schema_version: "1", id: x, discs: {"L4-L5": {}}}',
        '{"schema_version":"1","id":"x","note":"a\u2028b \\ud83d\\ude00"}',
    ],
)  # fmt: skip
def test_odd_layouts_take_the_change_too(text):
    old = parse_case(text).record
    made = rewritten(text, old, changed(old))
    assert parse_case(made).record.plain() == changed(old).plain()
    for comment in ("# nobody", "# said", "# last", "# end"):
        assert (comment in made) == (comment in text)


def longer(record: CaseRecord) -> CaseRecord:
    """A further fact of the first medicine, two more medicines, and the first treatment."""
    told = FactEntry(value="clopidogrel", source="added", words=WORDS)
    record = with_document(record, "added", Document(kind="medication_list"))
    record = with_fact(record, "medicines[1]", "medicine_as_needed", FactEntry(value=True))
    for _ in range(2):
        record = with_entry(record, "medicines")
        number = len(record.medicines.entries)
        record = with_fact(record, f"medicines[{number}]", "medicine_name", told)
        record = with_fact(record, f"medicines[{number}]", "medicine_dose", FactEntry(value=75, unit="mg"))
    record = with_entry(record, "treatments")
    return with_fact(record, "treatments[1]", "treatment_kind", FactEntry(value="nsaid"))


HEAD = 'schema_version: "1"\nid: x\n'


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize(
    "lists",
    [
        "medicines:\n  # by phone\n  entries:\n    - medicine_name: a   # since 2020\n    # the second\n"
        "    - medicine_name: b   # last\n# end\n",
        "medicines:\n  entries:\n  - medicine_name: a   # since 2020\n    medicine_dose: {value: 3, unit: mg}\n  complete: true  # end\n",
        "medicines:\n  entries:\n    - {medicine_name: a}   # since 2020\n    -   medicine_name: b # last\n",
        "medicines:\n  entries: [\n    {medicine_name: a},   # since 2020\n    {medicine_name: b}   # last\n  ]\n",
        "medicines: {entries: [{medicine_name: a}, {medicine_name: b},]}   # end\n",
        "treatments:\n  entries: []   # end\nmedicines:\n  entries: [{medicine_name: a}]",
        "treatments: {}\nmedicines:\n  entries: # by phone\n\n    - # since 2020\n      medicine_name: a\n",
    ],
)  # fmt: skip
def test_a_longer_list_keeps_every_comment_and_every_line(lists, ends):
    text = (HEAD + lists).replace("\n", ends)
    old = parse_case(text).record
    made = rewritten(text, old, longer(old))
    assert parse_case(made).record.plain() == longer(old).plain()
    for comment in ("# by phone", "# since 2020", "# the second", "# last", "# end"):
        assert (comment in made) == (comment in text)
    assert made.count("\n") == made.count(ends)
    if "{medicine_name" not in lists:
        # nobody reads a list of medicines in one line
        assert max(map(len, made.split(ends))) < 120


@pytest.mark.parametrize("indent", [None, 2, "\t"])
@pytest.mark.parametrize("entries", [[{"medicine_name": {"value": "a"}}] * 2, []])
def test_a_longer_list_of_json_stays_in_its_layout(indent, entries):
    plain = {"schema_version": "1", "id": "x", "medicines": {"entries": entries}}
    text = json.dumps(plain, indent=indent)
    old = parse_case(text).record
    new = longer(old if entries else with_entry(old, "medicines"))
    made = rewritten(text, old, new)
    assert json.loads(made) == new.plain()
    if entries:
        assert json.dumps(json.loads(made), indent=indent) == made


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize(
    "fact",
    [
        "{unknown: conflicting, words: a, note: b}   # said",
        "{note: b, unknown: conflicting, words: a}   # said",
        "{\n      unknown: conflicting,   # said\n      note: b   # goes with it\n    }",
        "\n      unknown: conflicting   # said\n      # kept\n      note: b\n      words: |\n        two\n        lines\n      # end",
        "\n      unknown: conflicting   # said\n      note: b   # goes with it",
        "\n      note: b   # goes with it\n      unknown: conflicting   # said",
        "{unknown: conflicting,   # said\n      note: b}   # end",
        "{one_of: [none,   # said\n      bulge], note: b}   # end",
        "\n      one_of:\n        - none   # said\n        # kept\n        - protrusion\n      note: b\n      # end",
        "\n      one_of: [none,   # said\n        protrusion]\n      words: 'a # b'   # goes with it\n      # end",
    ],
)  # fmt: skip
def test_another_value_takes_away_what_was_said_of_the_earlier_one(fact, ends):
    text = f"{HEAD}discs:\n  L4-L5:\n    displacement: {fact}\n    disc_desiccation: true   # last\n"
    text = text.replace("\n", ends)
    old = parse_case(text).record
    entries = (
        FactEntry(value="bulge"),
        FactEntry(one_of=["none", "bulge"], source="added", words=WORDS),
    )
    for entry in entries:
        record = with_document(old, "added", Document(kind="imaging_report"))
        new = with_fact(record, "L4-L5", "displacement", entry)
        made = rewritten(text, old, new)
        assert parse_case(made).record.plain() == new.plain()
        for comment in ("# said", "# kept", "# end", "# last"):
            assert (comment in made) == (comment in text)
        assert made.count("\n") == made.count(ends)


def test_what_cannot_be_changed_in_place_is_refused():
    """A fact that is taken out leaves a hole; what is written then is for a person to say."""
    text = 'schema_version: "1"\nid: x\npatient: {sex: male, able_to_consent: true}\n'
    old = parse_case(text).record
    with pytest.raises(CaseError) as caught:
        rewritten(text, old, with_fact(old, "patient", "sex", None), "mine.yaml")
    assert [(p.code, p.file) for p in caught.value.problems] == [(Code.SYNTAX, "mine.yaml")]
    assert "candidacy case new" in caught.value.problems[0].next_step
