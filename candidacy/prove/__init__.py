"""Proofs about rule sets: what they can never say, where two of them differ, and invented cases that show it.

Needs the extra ``prove`` (z3-solver), which nothing outside this package loads.
"""
