"""Letters drafted from an assessment: templates as data, filled with what the record says, signed by a person or not sent."""
