"""The command line: one file per sub-command."""
