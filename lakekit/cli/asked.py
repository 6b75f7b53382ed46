"""Tackle questions asked in words: quantities with units as text, into SI."""

import re

from lakekit.errors import TackleError
from lakekit.units import parse_quantity

_USUAL = {"length": ("ft", "m"), "speed": ("mph", "m/s"), "mass": ("oz", "g")}


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
    needs_unit(text, where, _USUAL[dimension])
    try:
        return parse_quantity(text, dimension)
    except ValueError as error:
        mend = None
        if dimension == "length" and re.search(r"\d\s*(lb|kg|oz|g)\s*$", text):
            mend = 'A line is told by its diameter, printed on the spool: "0.23 mm"'
        raise TackleError(str(error), where=where, mend=mend) from None


def needs_unit(text, where, units):
    """Refuse a bare number: asked in words, 9 is as likely feet as metres. Zero and None pass.

    Parameters
    ----------
    text : str or None
    where : str
        What it answers, for the message.
    units : tuple of str
        Two units it may have, for the message.

    Raises
    ------
    TackleError
    """
    if text is None or re.search(r"[^\d./\s+-]", text) or not re.search("[1-9]", text):
        return
    raise TackleError(
        f"{text!r} has no unit",
        where=where,
        mend=f'Write "{text.strip()} {units[0]}" or "{text.strip()} {units[1]}", with the quotes',
    )


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
