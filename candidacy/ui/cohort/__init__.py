"""What the Cohort page is made of: tables put on the desk, the screening that runs, its results, files to take away."""
