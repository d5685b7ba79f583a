"""The day of an injection: checklist, what was done, tracing of tissue."""
