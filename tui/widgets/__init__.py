"""The terminal's own widgets, one idea a file."""
