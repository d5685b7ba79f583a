"""Which missing facts would settle a standing, and which changes would move it."""
