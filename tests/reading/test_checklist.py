"""Boxes of a form: what is marked is read, what is not says nothing, and only a marked ``no`` denies."""

import pytest

from candidacy.reading import read_text

DISCS = {"L2-3": "L2-L3", "L4/5": "L4-L5", "L5-S1": "L5-S1"}
ONE_OF_TWO = [
    "{d}: [x] {a} [ ] {b}",
    "{d}: [ ] {b} [X] {a}",
    "{d}: (x) {a} ( ) {b}",
    "{d}: ☒ {a} ☐ {b}",
    "{d}: ☐ {b} ☑ {a}",
    "{d}: {a} [x] {b} [ ]",
    "{d}: {a} ☒, {b} ☐",
    "{d}: {a} _X_ {b} ___",
    "{d}:\n[x] {a}\n[ ] {b}",
    "{d}:\n☐ {b}\n☒ {a}",
    "{d} - [x] {a}; [ ] {b}",
    "{d}: Disc: [x] {a} [ ] {b}",
]
YES = [
    "{d}: {a}: [x] yes [ ] no",
    "{d}: {a} (X) yes ( ) no",
    "{d}: {a}: ☒ Yes ☐ No",
    "{d}: {a}: yes [x] no [ ]",
    "{d}: {a}: _x_ yes ___ no",
    "{d}: {a}: Y",
    "{d}: {a}: Y  Vacuum sign: N",
    "{d}: Vacuum sign: N  {a}: Y",
    "{d}: {a} ........ yes",
    "{d}: Vacuum sign: [ ] yes [x] no  {a}: [x] yes [ ] no",
]


def said(text: str, kind: str) -> set[tuple]:
    return {(f.disc, f.value, f.status) for f in read_text(text).findings if f.kind == kind}


def told(reading) -> bool:
    """Whether the reading says that nobody marked anything: of a statement, or of the report as a whole."""
    return any(m.kind == "template" for m in reading.marks) or any(
        u.reason == "no box marked" for u in reading.not_understood
    )


@pytest.mark.parametrize(("d", "disc"), DISCS.items())
@pytest.mark.parametrize("form", ONE_OF_TWO)
def test_only_the_marked_box_is_read(form, d, disc):
    for a, b in (("bulge", "protrusion"), ("protrusion", "extrusion"), ("extrusion", "bulge")):
        assert said(form.format(d=d, a=a, b=b), "displacement") == {(disc, a, "present")}


@pytest.mark.parametrize("form", [f for f in ONE_OF_TWO if "Disc:" not in f])
def test_a_form_without_a_mark_says_nothing(form):
    text = form.format(d="L4-5", a="bulge", b="protrusion")
    for mark, blank in (("[x]", "[ ]"), ("[X]", "[ ]"), ("(x)", "( )"), ("☒", "☐"), ("☑", "☐")):
        text = text.replace(mark, blank)
    if "_X_" not in text:
        reading = read_text(text)
        assert not reading.findings
        assert told(reading)
        beside = read_text(f"L1-2: Disc: [x] bulge [ ] protrusion\n{text}")
        assert {f.disc for f in beside.findings} == {"L1-L2"}
        assert told(beside)


@pytest.mark.parametrize(("d", "disc"), DISCS.items())
@pytest.mark.parametrize("form", YES)
def test_a_marked_yes_affirms_and_a_marked_no_denies(form, d, disc):
    text = form.format(d=d, a="Annular fissure")
    assert said(text, "annular_fissure") == {(disc, "present", "present")}
    if "Vacuum" in text:
        assert said(text, "vacuum_sign") == {(disc, "present", "absent")}
    no = {"[x] yes [ ] no": "[ ] yes [x] no", "(X) yes ( ) no": "( ) yes (X) no", "☒ Yes ☐ No": "☐ Yes ☒ No",
          "yes [x] no [ ]": "yes [ ] no [x]", "_x_ yes ___ no": "___ yes _x_ no", "fissure: Y": "fissure: N",
          "........ yes": "........ no"}  # fmt: skip
    for yes, denied in no.items():
        if yes in text:
            swapped = text.replace(yes, denied, 1)
            assert said(swapped, "annular_fissure") == {(disc, "present", "absent")}, swapped
            break
    else:
        raise AssertionError(text)


@pytest.mark.parametrize("grade", ["mild", "moderate", "severe"])
@pytest.mark.parametrize(("on", "off"), [("[x]", "[ ]"), ("(X)", "( )"), ("☒", "☐")])
def test_the_marked_severity_is_the_severity(grade, on, off):
    boxes = " ".join(f"{on if g == grade else off} {g}" for g in ("none", "mild", "moderate", "severe"))
    assert said(f"L4-5: Canal stenosis: {boxes}", "canal_stenosis") == {("L4-L5", (grade,), "present")}
    denied = boxes.replace(on, off).replace(f"{off} none", f"{on} none")
    assert said(f"L4-5: Canal stenosis: {denied}", "canal_stenosis") == {("L4-L5", "present", "absent")}


@pytest.mark.parametrize(
    "text",
    ["L4-5: Annular fissure: [x] yes [x] no", "Disc bulge: yes / no", "L4-5: Disc bulge: [Y/N]", "L4-5: Disc bulge: ____",
     "L4-5: Annular fissure: present / absent", "L4-5: ( ) mild ( ) severe canal stenosis", "L4-5: Bulge: ____ mm",
     "L4-5: (x) mild ( ) moderate ( ) severe canal stenosis"],
)  # fmt: skip
def test_what_cannot_be_told_is_listed(text):
    reading = read_text(text)
    assert not reading.findings
    assert reading.not_understood or told(reading)


@pytest.mark.parametrize("word", ["mild", "subtle", "trace", "slight"])
def test_a_form_read_before_changes_nothing_in_what_is_read_next(word):
    read_text(f"L4-5: Canal stenosis: [ ] none [x] {word}\nL5-S1: Annular fissure: [ ] yes [x] no")
    assert [o.organ for o in read_text(f"Hips: {word} osteoarthritis.").outside] == ["hip"]


@pytest.mark.parametrize("gap", ["   ", "; ", ". ", " | ", "\t"])
@pytest.mark.parametrize(("d", "disc"), [("L3-4", "L3-L4"), ("L5-S1", "L5-S1")])
def test_several_fields_in_a_row_are_told_apart(gap, d, disc):
    text = f"{d}  [ ] bulge [ ] protrusion [x] extrusion{gap}canal stenosis [ ] none [ ] mild [x] moderate"
    assert said(text, "displacement") == {(disc, "extrusion", "present")}
    assert said(text, "canal_stenosis") == {(disc, ("moderate",), "present")}
    none = text.replace("[ ] none", "[x] none").replace("[x] moderate", "[ ] moderate")
    assert said(none, "canal_stenosis") == {(disc, "present", "absent")}
    assert said(none, "displacement") == {(disc, "extrusion", "present")}


@pytest.mark.parametrize(
    "text",
    [
        "L4-5: Bulge [x]  Protrusion [ ]  Stenosis: [x] mild [ ] moderate",
        "L4-5: Bulge [ ] Extrusion [x] Canal: [ ] none [x] severe",
        "L4-5: Tear (x)  Bulge ( )  Foramina: (x) patent ( ) narrowed",
    ],
)
def test_boxes_before_and_behind_their_words_are_not_read(text):
    reading = read_text(text)
    assert not [f for f in reading.findings if f.disc]
    assert reading.not_understood
