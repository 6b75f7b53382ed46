"""The club's briefing as a document: its front, a page or a strip a lake, what closes it.

Up to a dozen lakes each have a card on the front page. More have an index, by region, a line a
lake, over as many pages as it takes.
"""

from lakekit.guide import summaries
from lakekit.guide.summaries import rows_text, unique
from lakekit.pages import figures
from lakekit.pages.documents import (
    Document,
    Drawing,
    frame,
    grave_of,
    month_page,
    parts,
    prepared,
    season_strips,
    strip,
)

CARDS = 12  # lakes that the front page has room for
_LAKES_A_STRIP = 4  # on a phone
_PLACE = "see Hazards and rules"


def briefing_document(briefing):
    """The club briefing: each lake in a line, a page a lake, hazards and rules, how it was made.

    Parameters
    ----------
    briefing : dict
        ``guides``, season guides of one club in the order to print, in which over twelve are put
        by region; ``month``, ``YYYY-MM``, or None for the season edition, which has a strip a
        lake instead of a page a lake.

    Returns
    -------
    Document

    Raises
    ------
    ValueError
        With no guide, or none that has the month.
    """
    month = briefing["month"]
    shown = summaries.shown_lakes([prepared(guide) for guide in briefing["guides"]], month)
    regions = summaries.by_region(shown) if len(shown) > CARDS else []
    if regions:
        shown = [pair for _, pairs in regions for pair in pairs]
    first, first_month = shown[0]
    told = [guide for guide, _ in shown]
    heading = first_month["title"] if month else f"Season from {first_month['title']}"
    title = f"{first['club']}: briefing, {heading}"
    care = summaries.lake_sections(told, month)
    method = summaries.method_sections(told, month)
    lines = _lines(shown, month)
    index = _index(regions, lines)
    months = _months(shown) if month else []
    strips = [] if month else _strips(told)
    count = _count_words(told, regions)
    foot = " ".join(unique(summaries.foot_text(guide) for guide in told))
    wide, narrow = _screen_strips(shown, month)
    front = {
        "title": heading,
        "figure": None if index else _lakes_strip(shown, height=_lakes_height(len(shown))),
        "under": f"Briefing for {count}" if month else f"Season briefing for {count}; first month",
        "lines": [] if index else lines,
        "index": index,
        "mind": summaries.grave_text(
            [(guide["lake"]["name"], entry) for guide, entry in shown], _PLACE
        ),
    }
    last = {
        "over": first["club"],
        "beside": f"data to {first['as_of_text']}",
        "title": "How it was made",
        **method,
    }
    demo = any(guide["demo"] for guide in told)
    return Document(
        "briefing",
        title,
        max(guide["as_of"] for guide in told),
        frame(
            first,
            title,
            summaries.common_foot(told),
            demo=demo,
            front=front,
            months=[page for page, _ in months],
            strips=strips,
            care=care,
            closing=last,
        ),
        {
            "heading": heading,
            "under": f"Briefing for {count}",
            "club": first["club"],
            "demo": demo,
            "foot": foot,
            "wide_drawings": wide,
            "drawings": narrow,
            "lines": [] if index else lines,
            "index": index if month else [_unlinked(part) for part in index],
            "months": [section for _, section in months],
            "late": [*care, *method["left"], *method["right"]],
        },
    )


def _count_words(guides, regions):
    words = f"{len(guides)} lake{'s' if len(guides) > 1 else ''}"
    named = sum(pairs[0][0]["lake"]["region"] is not None for _, pairs in regions)
    return f"{words} in {named} regions" if named > 1 else words


def _lines(shown, month):
    """Each lake in a line, with what the web page calls it."""
    lines = []
    for number, (guide, entry) in enumerate(shown):
        line = summaries.lake_line(guide, entry)
        lines.append(
            {
                **line,
                "title": line["name"],
                "id": f"lake{number}" if month else "",
                "note": f"{line['phase']} · how sure: {line['sure']}",
            }
        )
    return lines


def _index(regions, lines):
    """The lines by region; each names the page or the strip it leads to."""
    index, number = [], 0
    for name, pairs in regions:
        held = [{**lines[number + at], "id": f"lake{number + at}"} for at in range(len(pairs))]
        index.append({"name": name, "lines": held})
        number += len(pairs)
    return index


def _unlinked(part):
    return {**part, "lines": [{**line, "id": ""} for line in part["lines"]]}


def _months(shown):
    """A page and a section for each lake in the month of a briefing."""
    months = [entry for _, entry in shown]
    return [
        month_page(
            entry,
            guide,
            name=f"lake{number}",
            over=entry["title"],
            title=guide["lake"]["name"],
            screen_over=f"{entry['title']} · ",
            place=_PLACE,
            beside=months,
        )
        for number, (guide, entry) in enumerate(shown)
    ]


def _strips(guides):
    """Each lake's season in a strip."""
    return [
        {
            "id": f"lake{number}",
            "name": guide["lake"]["name"],
            "figure": strip(guide, height=235.0),
            "dates": rows_text(guide["dates"]),
            "lines": summaries.month_lines(guide),
            "choice": summaries.choice_label(guide["months"]),
            "mind": grave_of(guide, _PLACE),
        }
        for number, guide in enumerate(guides)
    ]


def _lakes_strip(shown, **how):
    return Drawing(lambda: figures.lakes_strip_figure(shown, **how), figures.lakes_strip_alt(shown))


def _lakes_height(lakes):
    """Height [pt] of the strip of lakes that leaves room for a line on each."""
    return 340.0 if lakes <= 2 else 290.0 if lakes <= 4 else 215.0 if lakes <= 8 else 185.0


def _screen_strips(shown, month):
    """The web page's strips: of the lakes in a month, a dozen at the most, or of their seasons."""
    if month and len(shown) > CARDS:
        return [], []
    if month:
        narrow = [
            _lakes_strip(part, form="phone", height=235.0 if last else 183.0, key=last)
            for part, last in parts(shown, _LAKES_A_STRIP)
        ]
        return [_lakes_strip(shown)], narrow
    wide, narrow = [], []
    for guide, _ in shown:
        whole, halves = season_strips(guide)
        wide += whole
        narrow += halves
    return wide, narrow
