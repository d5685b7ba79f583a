"""The course of one treated patient: what was injected, visits, events, and what is due."""
