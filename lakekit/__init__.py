"""Month-by-month tactic guides for small lakes, from open weather and an angler's log."""

__version__ = "0.1.0"
