"""A cohort written out: tables, diagrams, a page, a folder that is whole or absent."""
