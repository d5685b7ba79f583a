"""The day of an injection: a checklist for the planned disc, what was injected where, and the record for tracing tissue.

It words what an assessment says as of the day and what people answer; it decides nothing.
"""
