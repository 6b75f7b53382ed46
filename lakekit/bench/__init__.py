"""Measurements of what the README claims: ``python -m lakekit.bench NAME [--json]``.

Each bench is a module here with ``measure() -> dict`` of flat figures, keys starting with the
bench's name and saying the unit, and an optional ``table(figures) -> str`` for people.
"""

BENCHES = (
    "column", "accuracy", "choices", "following", "rates", "tackle", "front", "sky", "report",
    "patterns", "scale", "drills",
)  # fmt: skip

__all__ = ["BENCHES"]
