"""A case under a rule set on a day: facts seen, criteria read, the record held against itself, standings, holds and outlook."""
