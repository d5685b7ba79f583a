"""A rule set over columns: facts, conditions and decisions as SQL that says what the single case says."""
