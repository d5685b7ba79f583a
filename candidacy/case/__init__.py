"""The case record: what is known about one referral, with provenance and with reasons for what is not known."""
