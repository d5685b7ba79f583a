"""Tables and case records from outside made into a frame of facts; what cannot be used is set aside and told."""
