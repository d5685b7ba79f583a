"""The page of the case conference."""
