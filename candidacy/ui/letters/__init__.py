"""Letters about the open referral: choose, read, fill in, take away."""
