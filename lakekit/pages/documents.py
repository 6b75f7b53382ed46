"""A guide or note made ready for type."""

from lakekit.pages.fonts import printable_all

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def marked(tactics):
    """Tactics with the sign that the figure and the list share as ``mark``.

    A rank is a number. What the log cannot rank gets a letter, so that no order is read into it.
    """
    unranked = iter(_LETTERS * (1 + len(tactics) // len(_LETTERS)))
    return [
        {**card, "mark": next(unranked) if card.get("rank") is None else str(card["rank"])}
        for card in tactics
    ]


def prepared(guide):
    """A guide whose every text can be set in type, and whose tactics carry their marks."""
    guide = printable_all(guide)
    guide["months"] = [
        {**month, "tactics": marked(month["tactics"]), "phase": _capital(month["phase"])}
        for month in guide.get("months", [])
    ]
    if "tactics" in guide:
        guide["tactics"] = marked(guide["tactics"])
    return guide


def _capital(phase):
    return {**phase, "name": phase["name"][:1].upper() + phase["name"][1:]}
