"""The case conference: ratings, decisions, minutes."""
