"""Check rule content: everything wrong at once, before it can reach a patient."""

from candidacy.check.library import check_library, check_rule_set

__all__ = ["check_library", "check_rule_set"]
