"""Words and symbols for outcomes, standings, forces and burdens, the same in text, page and screens."""

from candidacy.rules.schema import FORCES, STANDINGS

# Outcome -> (symbol, word). The word is always shown; the symbol only helps the eye.
OUTCOMES = {"pass": ("✓", "pass"), "fail": ("✗", "FAIL"), "undetermined": ("?", "undetermined")}
STANDING_SYMBOLS = {
    "urgent": "‼",
    "not_candidate": "✗",
    "incomplete": "?",
    "borderline": "≈",
    "candidate": "✓",
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


def standing_words(standing: str) -> str:
    """Symbol and word of a standing."""
    return f"{STANDING_SYMBOLS[standing]} {STANDINGS[standing]}"


def status_words(status: str) -> str:
    """A status of a criterion or rule set in words."""
    return status.replace("_", " ")


def force_words(force: str) -> str:
    """A force in words."""
    return FORCES[force]
