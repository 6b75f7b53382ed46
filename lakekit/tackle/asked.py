"""Tackle questions asked in words: quantities with units as text, into SI."""

from lakekit.errors import TackleError
from lakekit.units import parse_quantity


def si(text, dimension, where):
    """One quantity as text, in SI; None stays None.

    Parameters
    ----------
    text : str or None
        Such as ``1/8 oz``.
    dimension : str
        A key of ``lakekit.units.UNITS``.
    where : str
        What it answers, for the message.

    Raises
    ------
    TackleError
        When it is no quantity of that dimension.
    """
    if text is None:
        return None
    try:
        return parse_quantity(text, dimension)
    except ValueError as error:
        raise TackleError(str(error), where=where) from None


def quantities(texts, dimension):
    """Quantities as text, all of one dimension, as a list of SI numbers."""
    return [si(text, dimension, text) for text in texts]


def readings(texts):
    """Measured depths as text, ``line out, speed, depth``, as tuples of [m], [m/s], [m]."""
    found = []
    for text in texts:
        parts = text.split(",")
        if len(parts) != 3:
            raise TackleError(
                f"{text!r} is not three figures",
                where="measured",
                mend='Write line out, speed and depth: "60 ft, 1.3 mph, 8 ft"',
            )
        dimensions = ("length", "speed", "length")
        found.append(tuple(si(p, d, "measured") for p, d in zip(parts, dimensions, strict=True)))
    return found
