"""The guided intake: source and date first, then six short pages, declared in ``pages.yaml``."""
