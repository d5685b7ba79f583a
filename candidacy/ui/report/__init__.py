"""The Report check page: findings beside their words, each accepted, corrected or rejected."""
