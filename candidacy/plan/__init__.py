"""What must happen when around a proposed day of injection, worked out from an assessment."""
