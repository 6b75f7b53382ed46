"""Catch rates on worlds whose truth is known, beside rivals, and on real outings."""

from lakekit.bench.rates.run import measure, table

__all__ = ["measure", "table"]
