"""Steps from one form of the tables to the next; each in one transaction, forward only, the trail untouched."""
