"""Month-by-month tactic guides for small lakes, from open weather and an angler's log.

The public names stand in ``__init__.pyi``, each beside the module it lives in; each is imported
when it is first used, so that the command line answers at once.

The examples of ``help()`` go on from ``club = read_club()``, ``lake = club.lakes[key]`` where
``key = "quarry-hollow"``, ``weather = lake_weather(club, lake)``, ``forcing = prepare_forcing(
weather, lake)``, ``knowledge = gather(club, key)``, ``trips = knowledge.trips``, a ``probe`` as it
was read, a ``run`` of May 2026, a ``guide``, ``note`` and ``card`` of that lake, a folder ``out``.
"""

import ast
from importlib import import_module
from pathlib import Path

__version__ = "0.2.0"

_HOME = {
    alias.name: line.module
    for line in ast.parse(Path(__file__).with_suffix(".pyi").read_text(encoding="utf-8")).body
    if isinstance(line, ast.ImportFrom)
    for alias in line.names
}

__all__ = ["__version__", *_HOME]


def __getattr__(name):
    if name not in _HOME:
        raise AttributeError(f"module 'lakekit' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)


def __dir__():
    return sorted(__all__)
