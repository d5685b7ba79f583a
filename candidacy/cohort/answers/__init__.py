"""What is asked of a screened cohort: counts, what is missing, what if, who moves and why."""
