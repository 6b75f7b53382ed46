"""What tests of the front note share: the demo cut short, and its record cut at a date."""

from dataclasses import replace

import pandas as pd
from guide_helpers import short_demo

from lakekit.club import read_club
from lakekit.waters.knowledge import gather

LAKE = "quarry-hollow"
_MADE = []


def short_club(tmp_path_factory):
    """(club, knowledge) of the demo's last three years, without a probe or a log, for speed.

    Made once for the whole run: nothing in it is changed.
    """
    if not _MADE:
        folder = short_demo(tmp_path_factory.mktemp("club"))
        (folder / "trips.csv").unlink()
        club = read_club(folder)
        _MADE.append((club, gather(club, LAKE)))
    return _MADE[0]


def ending(knowledge, last, *, attrs=None, **changes):
    """Knowledge whose weather ends with the hour ``last``, perhaps of other source."""
    forcing = knowledge.forcing.sel(time=slice(None, last))
    forcing.attrs = knowledge.forcing.attrs | (attrs or {})
    return replace(knowledge, forcing=forcing, as_of=pd.Timestamp(last).to_datetime64(), **changes)
