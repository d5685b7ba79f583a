"""The Referral page: entry by groups, discs as a grid, the standing, the criteria."""
