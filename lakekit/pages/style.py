"""How every report looks: type, colour, spacing and hatching, decided here and nowhere else.

Made for wet hands, poor light and a photocopier: large type, near-black on white, and nothing
told by colour alone. Every meaning has a shape, a hatch or a word of its own.
"""

# name -> sRGB. Text colours keep 4.5:1 or more on every ground named in ``TEXT_ON``.
COLOURS = {
    "paper": "#ffffff",
    "ink": "#14212b",  # text, tactics
    "soft": "#42525e",  # second-rank text
    "rule": "#8d9ba5",  # hairlines, never text
    "water": "#e3eef5",  # ground of the water column
    "deep": "#17547c",  # thermocline, headings
    "heat": "#a33c0a",  # temperature
    "band": "#fff3bf",  # the band that can hold fish
    "poor": "#c9d2d8",  # too little oxygen, under the hatching
    "note": "#f2f5f7",  # ground of asides
}

# the HTML page on a screen set to dark; drawings stay on their white paper
DARK = {
    "paper": "#12191f",
    "ink": "#e8eef2",
    "soft": "#b7c3cc",
    "rule": "#5f6d77",
    "deep": "#8fc7ec",
    "note": "#1e2830",
}

# (text colour, ground) pairs in use; the tests compute their contrast
TEXT_ON = (
    ("ink", "paper"),
    ("ink", "water"),
    ("ink", "band"),
    ("ink", "poor"),
    ("ink", "note"),
    ("soft", "paper"),
    ("soft", "note"),
    ("soft", "water"),
    ("deep", "paper"),
    ("deep", "note"),
    ("deep", "water"),
    ("heat", "paper"),
    ("heat", "water"),
    ("heat", "band"),
    ("paper", "ink"),
    ("paper", "deep"),
)

# name -> size in points, on paper and in figures alike
TYPE = {
    "display": 34.0,  # the cover's lake
    "title": 27.0,  # the month
    "large": 20.0,  # a name too long for the title
    "lead": 15.5,  # the sentence that answers
    "head": 12.5,
    "body": 10.5,
    "small": 9.2,
    "foot": 8.0,
}
FIGURE_TYPE = {"large": 11.0, "label": 9.6, "tick": 9.0, "fine": 8.2}

# points
SPACE = {"hair": 2.0, "tight": 4.0, "near": 7.0, "step": 11.0, "gap": 17.0}
MARGIN = {"side": 43.0, "top": 38.0, "bottom": 46.0}

# points: line widths
LINE = {"fine": 0.6, "rule": 0.9, "mark": 1.5, "curve": 2.4, "heavy": 3.2}

# kind -> (direction in degrees from level, or two; spacing in points; line width in points)
HATCH = {
    "range": ((45,), 3.2, 0.7),  # 8 years in 10 lie here
    "low": ((-45,), 6.0, 0.8),  # low oxygen
    "poor": ((-45, 45), 7.0, 0.55),  # under the least
    "ground": ((60,), 4.5, 0.9),  # the lake bed
}

PHONE_WIDTH = 268.0  # pt of a figure that fills a phone 360 px wide
PAPERS = {"letter": (612.0, 792.0), "a4": (595.28, 841.89)}  # points


def relative_luminance(colour):
    """Relative luminance of an sRGB colour ``#rrggbb``, 0 to 1 (WCAG 2.1, W3C 2018)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    """Contrast ratio of two sRGB colours, 1 to 21 (WCAG 2.1, W3C 2018)."""
    light, dark = sorted((relative_luminance(one), relative_luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def sheet():
    """The whole style as plain data, for the typst templates and the HTML page."""
    from lakekit.pages.fonts import FALLBACK, FAMILY

    return {
        "colour": COLOURS,
        "type": TYPE,
        "space": SPACE,
        "margin": MARGIN,
        "line": LINE,
        "fonts": [FAMILY, FALLBACK],
        "figure_type": FIGURE_TYPE,
    }
