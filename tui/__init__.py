"""The terminal: the command line now, the screens beside it; no blending of its own."""
