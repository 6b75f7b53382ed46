"""The two font families of the reports, and text made safe to set in them."""

import base64
import io
import shutil
import string
import tempfile
import unicodedata
from functools import lru_cache
from pathlib import Path

FAMILY = "Source Sans Pro"
FALLBACK = "DejaVu Sans"  # Hebrew, Arabic, Greek and signs that the first family lacks
MISSING = "\u25af"  # an empty box: a character was here that cannot be printed

_TEXT_FILES = ("Regular", "It", "Semibold", "Bold", "BoldIt")
_FALLBACK_FILES = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "DejaVuSans-Oblique.ttf")
_MODIFIERS = {*range(0xFE00, 0xFE10), *range(0x1F3FB, 0x1F400)}  # of the sign before them
_FACES = ((400, "Regular"), (700, "Bold"))
_USUAL = string.ascii_letters + string.digits + string.punctuation + " –—·…’°×±½¼¾→"  # of a page
_JOINERS = {0x200C, 0x200D}  # Arabic and Persian spelling needs them


def font_files():
    """Paths of the font files that figures and PDFs use, text family first."""
    import font_source_sans_pro
    import matplotlib

    own = Path(font_source_sans_pro.font_directory)
    fallback = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    files = [own / f"SourceSansPro-{style}.ttf" for style in _TEXT_FILES]
    return [*files, *(fallback / name for name in _FALLBACK_FILES)]


@lru_cache(maxsize=1)
def _font_folder():
    # typst reads folders only; one with these files alone keeps its choice of face certain
    folder = tempfile.TemporaryDirectory(prefix="lakekit-fonts-")
    for path in font_files():
        shutil.copyfile(path, Path(folder.name) / path.name)
    return folder


@lru_cache(maxsize=1)
def typst_fonts():
    """The fonts as typst takes them, without the system's."""
    import typst

    return typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[_font_folder().name],
    )


@lru_cache(maxsize=1)
def use_in_matplotlib():
    """Make the text family known to matplotlib, once a process."""
    from matplotlib import font_manager

    for path in font_files():
        if path.name.startswith("SourceSansPro"):
            font_manager.fontManager.addfont(str(path))
    return [FAMILY, FALLBACK]


def font_faces(letters):
    """CSS that brings the text family with a page: its letters alone, regular and bold.

    Parameters
    ----------
    letters : str
        The characters that the page shows; those the family lacks come from the reader's own.

    Returns
    -------
    str
        Safe inside a style element.
    """
    from markupsafe import Markup

    wanted = "".join(sorted({*letters, *_USUAL}))
    return Markup("".join(_face(weight, name, wanted) for weight, name in _FACES))


@lru_cache(maxsize=8)
def _face(weight, name, letters):
    from fontTools import subset

    path = next(path for path in font_files() if path.stem == f"SourceSansPro-{name}")
    options = subset.Options(flavor="woff", hinting=False, layout_features=["kern"])
    options.recalc_timestamp = False
    with subset.load_font(str(path), options) as font:
        cutter = subset.Subsetter(options)
        cutter.populate(text=letters)
        cutter.subset(font)
        stream = io.BytesIO()
        subset.save_font(font, stream, options)
    data = base64.b64encode(stream.getvalue()).decode()
    return (
        f"@font-face{{font-family:'{FAMILY}';font-weight:{weight};"
        f"src:url(data:font/woff;base64,{data})}}"
    )


@lru_cache(maxsize=1)
def _covered():
    from matplotlib.ft2font import FT2Font

    points = set()
    for path in font_files():
        if path.stem in ("SourceSansPro-Regular", "DejaVuSans"):
            points |= set(FT2Font(str(path)).get_charmap())
    return frozenset(points)


def printable(text):
    """Text that both fonts can show: one line, no controls, a box for what has no glyph.

    Parameters
    ----------
    text : str
        Any text, also hostile: control characters and direction overrides are dropped, runs of
        white space become one space, an emoji or a Chinese character becomes ``MISSING``.

    Returns
    -------
    str
    """
    covered = _covered()
    kept = []
    for character in unicodedata.normalize("NFC", str(text)):
        point, kind = ord(character), unicodedata.category(character)
        if character.isspace():
            kept.append(" ")
        elif point in _JOINERS:
            kept.append(character if _joins_letters(kept) else "")
        elif kind in ("Cc", "Cf") or point in _MODIFIERS:
            continue
        elif kind in ("Co", "Cn", "Cs") or point not in covered:
            kept.append(MISSING)
        else:
            kept.append(character)
    return " ".join("".join(kept).split())


def _joins_letters(kept):
    return bool(kept) and bool(kept[-1]) and unicodedata.bidirectional(kept[-1]) == "AL"


def printable_all(value):
    """The same for every text in nested dicts, lists and tuples; numbers and None stay."""
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, dict):
        return {key: printable_all(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [printable_all(item) for item in value]
    return value


def clip(text, length):
    """Text cut at a word end to at most ``length`` characters, with an ellipsis where cut."""
    if text is None or len(text) <= length:
        return text
    cut = text[: length - 1]
    at_word = cut.rsplit(" ", 1)[0] if " " in cut[length // 2 :] else cut
    return at_word.rstrip(" ,;:.(") + "…"
