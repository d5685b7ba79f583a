"""The difference between two rule sets as text for the terminal, and as Markdown for a change request."""

from collections.abc import Iterator, Sequence

from candidacy.explain.cited import cites_words
from candidacy.explain.flat import ChangedText, ContentDifference
from candidacy.explain.labels import force_words, status_words
from candidacy.explain.printable import printable
from candidacy.explain.rule_set_difference import (
    ChangedValue,
    CriterionDifference,
    RuleSetDifference,
    RuleSetInfo,
    ValueInUse,
)
from candidacy.rules.vocabulary import GROUPS

# Depth of a line -> the line: 0 a heading, 1 an item, 2 and more what belongs to it.
Lines = Iterator[tuple[int, str]]


def as_text(difference: RuleSetDifference) -> str:
    """Plain lines, indented by what belongs to what."""
    out: list[str] = []
    for depth, line in _lines(printable(difference)):
        if depth == 0 and out:
            out.append("")
        out.append("  " * depth + line)
    return "\n".join(out) + "\n"


def as_markdown(difference: RuleSetDifference) -> str:
    """Headings and nested lists; text from rule files is escaped."""
    out: list[str] = []
    for depth, line in _lines(printable(difference)):
        if depth == 0:
            out += ["", f"## {_escaped(line)}", ""] if out else [f"# {_escaped(line)}", ""]
        else:
            out.append("  " * (depth - 1) + f"- {_escaped(line)}")
    return "\n".join(out) + "\n"


def _escaped(text: str) -> str:
    for sign in "\\`*_<>[]|#":
        text = text.replace(sign, "\\" + sign)
    return text


def _lines(found: RuleSetDifference) -> Lines:
    yield 0, f"From {found.before.id} {found.before.version} to {found.after.id} {found.after.version}"
    yield from _side("from", found.before)
    yield from _side("to", found.after)
    if found.identical:
        yield 1, "No difference: both have the same digest, and so the same content in the same words."
        return
    sections = [
        ("Criteria", list(_criteria(found.criteria))),
        ("Settings", [line for each in found.settings for line in _value(each, 1)]),
        ("Decision rules", list(_content(found.decisions))),
        ("Companion rule sets", list(_content(found.companions))),
        ("Tables", list(_content(found.tables))),
        ("Relations between facts", list(_content(found.relations))),
        ("Data elements of one's own", list(_content(found.elements))),
        ("Sources", list(_content(found.sources))),
        ("In the place of shipped content", list(_content(found.replaced))),
        ("What the rule sets say of themselves", list(_texts(found.about, 1))),
    ]
    same = [title.lower() for title, lines in sections if not lines]
    for title, lines in sections:
        if lines:
            yield 0, title
            yield from lines
    if len(same) == len(sections):
        yield 0, "Nothing that is used differs"
        yield 1, "The digests differ by a version, or by words in a file that no part of an answer shows."
    elif same:
        yield 0, "The same in both"
        yield 1, ", ".join(same)


def _side(word: str, info: RuleSetInfo) -> Lines:
    extends = f", extends {info.extends}" if info.extends else ""
    yield 1, f"{word}: {info.title} ({info.id} {info.version}, {status_words(info.status)}{extends})"
    yield 2, info.digest
    for trial in info.trial:
        yield 2, f"local trial: {trial}"


def _criteria(criteria: Sequence[CriterionDifference]) -> Lines:
    for group, title in GROUPS.items():
        rows = [each for each in criteria if each.group == group]
        if rows:
            yield 1, f"{title}:"
        for row in rows:
            yield 2, f"{row.change} {row.id}: {row.title} ({force_words(row.force)})"
            if row.change != "changed":
                yield 3, row.rule
            if row.reason:
                yield 3, f"left out because: {row.reason}"
            for each in (*([row.forces] if row.forces else []), *row.parameters):
                yield from _value(each, 3)
            yield from _texts(row.texts, 3)


def _value(changed: ChangedValue, depth: int) -> Lines:
    before, after = changed.before, changed.after
    values = [force_words(side.value) if changed.name == "force" else side.value
              for side in (before, after) if side is not None]  # fmt: skip
    if before is None or after is None:
        told = f"{values[0]}, only {'after' if before is None else 'before'}"
    else:
        told = (
            f"{values[0]} → {values[1]}"
            if values[0] != values[1]
            else f"{values[0]} in both, on other grounds"
        )
    yield depth, f"{changed.name}: {told} ({changed.meaning.rstrip('.')})"
    for word, side in (("before", before), ("after", after)):
        if side is not None:
            yield depth + 1, f"{word}: {_grounds(side)}"


def _grounds(side: ValueInUse) -> str:
    cites = f" ({cites_words(side.cites)})" if side.cites else ""
    return (side.reason.rstrip() or "the default") + cites


def _content(items: Sequence[ContentDifference]) -> Lines:
    for item in items:
        yield 1, f"{item.change} {item.id}: {item.title}"
        yield from _texts(item.texts, 2)


def _texts(texts: Sequence[ChangedText], depth: int) -> Lines:
    for text in texts:
        if text.before is None:
            yield depth, f"{text.place}, only after: {text.after}"
        elif text.after is None:
            yield depth, f"{text.place}, only before: {text.before}"
        else:
            yield depth, f"{text.place}:"
            yield depth + 1, f"before: {text.before}"
            yield depth + 1, f"after: {text.after}"
