"""Criteria and rule sets as data: their shape, how they are loaded and resolved, and how they are checked."""
