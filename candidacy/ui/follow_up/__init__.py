"""Follow-up: a course record opened, its visits, a visit and an event entered, triage, and the record taken away."""
