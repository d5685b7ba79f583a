"""Letters and sheets drafted from an assessment, from templates that are data."""
