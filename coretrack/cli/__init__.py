"""The terminal: the same actions as the pages."""
