"""Plan: what must happen when around a proposed day of injection of the open referral."""
