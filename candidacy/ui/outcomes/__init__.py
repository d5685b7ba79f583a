"""The page Outcomes: how treated patients did, counted from their course records."""
