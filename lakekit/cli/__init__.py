"""The command line: thin."""

from lakekit.cli.main import build_parser, main

__all__ = ["build_parser", "main"]
