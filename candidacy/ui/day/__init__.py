"""The page of the day of injection."""
