"""Kept referrals: what was recorded, assessed, read and decided, with a trail that shows tampering."""
