"""Measuring text, also from several threads at once."""

import subprocess
import sys

import pytest

from lakekit.pages.canvas import text_width

MEASURE = """
from concurrent.futures import ThreadPoolExecutor
from lakekit.pages.canvas import text_width
words = [f"word {i} AVAT {i % 7}" * 3 for i in range(2000)]
with ThreadPoolExecutor(8) as threads:
    found = list(threads.map(lambda word: text_width(word, 10.0), words))
text_width.cache_clear()
assert found == [text_width(word, 10.0) for word in words]
"""


def test_threads_measure_text_alike_and_live():
    # in a process of its own: a font shared between threads ends it with a signal
    done = subprocess.run([sys.executable, "-c", MEASURE], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-500:]


def test_widths_grow_with_size_and_weight():
    assert text_width("thermocline", 20.0) == pytest.approx(2 * text_width("thermocline", 10.0))
    assert text_width("thermocline", 10.0, "bold") > text_width("thermocline", 10.0)
    # a character that the family lacks counts as an em square
    assert text_width("\u4e00", 10.0) == pytest.approx(10.0, abs=0.5)
