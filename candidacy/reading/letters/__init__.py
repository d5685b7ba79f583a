"""Referral letters: text → facts of the patient, each with its words.

A value is asserted only where every word of its clause is understood; what is left is listed as unread, with the reason.
"""
