"""The Report check page: a queue of reports, notes and letters; facts beside their words, each accepted, corrected or rejected."""
