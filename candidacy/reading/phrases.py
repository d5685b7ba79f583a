"""Phrases of the data files: spelled out from their short form, and as one pattern that passes quickly over other text."""

import itertools
import re
from collections.abc import Iterable

_EVERY = "".join(map(chr, range(0x2200)))
"""Every character that is the same as a plain letter but for its case is among these."""


def any_of(phrases: Iterable[str], gap: str) -> re.Pattern[str]:
    r"""Compile one pattern for phrases as whole words in any case, the longest first; ``gap`` stands between words.

    The pattern begins with plain characters, for which the engine has a quick search; it has none for a pattern
    that begins with a look behind or disregards case from its first character on.

    Examples
    --------
    >>> any_of(["mri", "mr imaging"], r"\s+").search("MR  imaging")[0]
    'MR  imaging'
    """
    by_first: dict[str, list[str]] = {}
    for p in sorted(map(str, phrases), key=len, reverse=True):
        words = [re.escape(w) for w in p.split()]
        first = re.match(r"\\?.", words[0])
        assert first is not None
        by_first.setdefault(first[0], []).append(gap.join(words)[first.end() :])
    cases = {ch: "".join(map(re.escape, re.findall(ch, _EVERY, re.IGNORECASE))) for ch in by_first}
    forms = "|".join(f"(?<=[{cases[ch]}])(?i:{'|'.join(rest)})" for ch, rest in by_first.items())
    return re.compile(rf"[{''.join(cases.values())}](?<!\w.)(?:{forms})(?!\w)")


_CHOICE = re.compile(r"\{([^{}]*)\}")


def spelled_out(phrase: str) -> list[str]:
    """Spell out the choices of a phrase, each written in braces; an empty one leaves the place out.

    Examples
    --------
    >>> spelled_out("lowest {two,2} {lumbar,} disc")
    ['lowest two lumbar disc', 'lowest two disc', 'lowest 2 lumbar disc', 'lowest 2 disc']
    """
    if "{" not in phrase:
        return [phrase]
    pieces = _CHOICE.split(phrase)
    choices = [p.split(",") if i % 2 else [p] for i, p in enumerate(pieces)]
    return [" ".join("".join(row).split()) for row in itertools.product(*choices)]
