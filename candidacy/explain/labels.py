"""Words and symbols for outcomes, standings, forces and burdens, the same in text, page and screens."""

from candidacy.rules.vocabulary import FORCES, STANDINGS

# Outcome -> (symbol, word). The word is always shown; the symbol only helps the eye.
OUTCOMES = {"pass": ("✓", "pass"), "fail": ("✗", "FAIL"), "undetermined": ("?", "undetermined")}
# How a row is marked -> (symbol, word); beside the outcomes, what neither passes nor fails.
SHOWN = {
    **OUTCOMES,
    "noted": ("•", "noted"),
    "not_seen": ("–", "not seen"),
    "does_not_apply": ("–", "does not apply"),
}
# "Not yet" is neither a refusal nor a doubt, so its sign says neither.
STANDING_SYMBOLS = {
    "urgent": "‼",
    "not_candidate": "✗",
    "incomplete": "?",
    "borderline": "≈",
    "candidate": "✓",
    "not_yet": "○",
}
WEIGHT_WORDS = {
    "alone": "could change the standing by itself",
    "later": "could decide once others are known",
    "no": "cannot change the standing",
}
BURDEN_WORDS = {
    "in_chart": "already in the chart",
    "question": "a question",
    "questionnaire": "a questionnaire",
    "blood_test": "a blood test",
    "imaging": "imaging or its report",
    "invasive_test": "an invasive test",
}


def standing_words(standing: str, name: str = "") -> str:
    """Symbol of a standing as it is shown, and its name under a rule set, or else its general name."""
    return f"{STANDING_SYMBOLS[standing]} {name or STANDINGS[standing]}"


def mark_words(shown: str) -> str:
    """Symbol and word of a mark, where no disc or emergency has a say; see `candidacy.explain.marks`."""
    return " ".join(SHOWN[shown])


def status_words(status: str) -> str:
    """A status of a criterion or rule set in words."""
    return status.replace("_", " ")


def force_words(force: str) -> str:
    """A force in words."""
    return FORCES[force]
