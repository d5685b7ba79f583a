"""Proofs about rule sets: what can never pass, what follows from what, and cases that witness a difference."""
