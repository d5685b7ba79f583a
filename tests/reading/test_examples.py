"""Every entry of the data files: its example triggers it, its counter-example does not."""

from candidacy.reading import read_text
from candidacy.reading.document import sentences
from candidacy.reading.grades import add_grades
from candidacy.reading.lexer import match, tokenise
from candidacy.reading.lexicon import lexicon
from candidacy.reading.link import build
from candidacy.reading.mention import Parts
from tests.rows import each_row

LEX = lexicon()
ROWS = LEX.examples
QUIET = ("objects", "actions", "attributes", "severity", "places", "known")


def test_every_entry_has_its_own_id() -> None:
    ids = [(group, name) for group, name, _, _ in ROWS]
    assert len(ids) == len(set(ids))
    assert len(ids) > 200


def triggered(group: str, name: str, text: str) -> bool:
    if group in ("findings", "pairs"):
        said = ("present", "possible", "historical", *DENIES.get(name, ()))
        return any(
            f.rule == name and (f.status in said or f.value in ("none", "absent"))
            for f in read_text(text).findings
        )
    if group == "modifiers":
        return _modifies(name, text)
    if group in ("section", "region", "modality"):
        return _structure(group, name, text)
    if group == "study":
        return any(f.rule == name for f in read_text(text).findings)
    if group == "words":
        return _word(name, text)
    if group == "grades":
        return _grade(name, text)
    return any(m.entry.id == name for s in sentences(text, LEX) for m in _matches(text, s))


def _matches(text: str, sentence) -> list:
    return match(tokenise(text, sentence.start, sentence.end, LEX).words, LEX)


def _modifies(name: str, text: str) -> bool:
    kinds = {e.id: e for node in _ends(LEX.trie) for e in node}
    entry = kinds[name]
    if entry.kind in (
        "pseudo",
        "comparison",
        "terminate",
        "assert",
        "mood",
    ):  # they shadow or stop, and touch nothing
        return any(m.entry.id == name for s in sentences(text, LEX) for m in _matches(text, s))
    return any(m.rule == name for f in read_text(text).findings for m in f.modifiers)


def _ends(node: dict) -> list:
    out = [node[""]] if "" in node else []
    for key, child in node.items():
        if key:
            out += _ends(child)
    return out


def _structure(group: str, name: str, text: str) -> bool:
    if group == "section":
        wanted = next(h.section for h in LEX.headings.values() if h.id == name)
        rows = sentences(text, LEX)
        body = text.split(":", 1)
        return len(body) == 2 and bool(rows) and rows[0].start > 0 and rows[0].section == wanted
    if group == "region":
        wanted = next(h.section for h in LEX.regions.values() if h.id == name)
        found = {LEX.regions[m.lower()].section for m in LEX.region_words.findall(text)}
        return wanted in found
    found = LEX.modality_words.search(text)
    wanted = next(h.section for h in LEX.modalities.values() if h.id == name)
    return found is not None and LEX.modalities[found.group().lower()].section == wanted


def _word(name: str, text: str) -> bool:
    row = WORD_OF[name]
    return any(row in tokenise(text, s.start, s.end, LEX).words for s in sentences(text, LEX))


def _grade(name: str, text: str) -> bool:
    for s in sentences(text, LEX):
        tokens = tokenise(text, s.start, s.end, LEX)
        parts = Parts(tokens.words, match(tokens.words, LEX))
        mentions = build(parts, LEX)
        add_grades(parts, mentions, LEX)
        for m in mentions:
            if m.rule == name or (name == "g_meyerding" and m.kind == "listhesis" and m.obj):
                return True
            if name == "g_modic" and m.kind == "endplate_change" and m.value not in ("present", "absent"):
                return True
    return False


def _word_rows() -> dict[str, str]:
    from importlib.resources import files

    import yaml

    rows = yaml.safe_load((files("candidacy.reading") / "data" / "words.yaml").read_text("utf-8"))
    return {r["id"]: r["word"] for r in rows}


WORD_OF = _word_rows()
DENIES = {e.id: ("absent",) for node in _ends(LEX.trie) for e in node if e.status == "absent"}
"""Entries whose own words are a denial."""


@each_row(
    ("group", "name", "example"), [(g, n, e) for g, n, e, _ in ROWS], ids=[f"{g}-{n}" for g, n, *_ in ROWS]
)
def test_example_triggers_its_entry(group: str, name: str, example: str) -> None:
    assert triggered(group, name, example)


@each_row(
    ("group", "name", "counter"), [(g, n, c) for g, n, _, c in ROWS], ids=[f"{g}-{n}" for g, n, *_ in ROWS]
)
def test_counter_example_does_not(group: str, name: str, counter: str) -> None:
    assert not triggered(group, name, counter)
