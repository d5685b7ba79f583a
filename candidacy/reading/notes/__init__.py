"""Discography and procedure notes: text → facts of discs and of the patient, each with its words.

A note is read by clauses. A value is asserted only where its disc, its label, its number with unit and each word that
denies or doubts it are all accounted for; what is left is listed as unread, with the reason.
"""
