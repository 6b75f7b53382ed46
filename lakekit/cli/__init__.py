"""The command line: thin."""
