"""Sun times and the depth that light reaches, for the middle of a month."""

import numpy as np
import pandas as pd

from lakekit.column.light import attenuation
from lakekit.units import depth_text
from lakekit.weather.sky import clear_sky_shortwave, solar_elevation, sun_times

DIM_SHARE = 0.01  # of midday surface light: the usual bottom of the lit zone
NEAR = pd.Timedelta(minutes=30)  # dawn is this long after sunrise, dusk this long before sunset


def month_light(lake, month):
    """Sunrise, sunset and lit depths on the 15th of a month.

    The lit depth is where light has fallen to 1 % of that day's midday surface light, the common
    edge of the lit zone (Kirk 2011, Light and Photosynthesis in Aquatic Ecosystems, ch. 6, from
    memory); clear sky, the lake's own clarity for that month.

    Parameters
    ----------
    lake : lakekit.club.Lake
    month : str or datetime64
        Any day of the month.

    Returns
    -------
    dict
        ``sunrise``, ``sunset`` (local clock times as text), ``dawn``, ``midday``, ``dusk`` (lit
        depth [m], 0 where the surface itself is dimmer).
    """
    day = pd.Timestamp(month).replace(day=15)
    times = sun_times(day, lake.latitude, lake.longitude, lake.time_zone)
    sunrise, sunset = times["sunrise"], times["sunset"]
    moments = {
        "dawn": sunrise + NEAR,
        "midday": sunrise + (sunset - sunrise) / 2,
        "dusk": sunset - NEAR,
    }
    utc = pd.DatetimeIndex(
        [moment.tz_convert("UTC").tz_localize(None) for moment in moments.values()]
    )
    elevation = solar_elevation(utc, lake.latitude, lake.longitude)
    surface = np.maximum(clear_sky_shortwave(elevation), 0.0)
    dim = DIM_SHARE * surface[1]
    per_metre = attenuation(lake.secchi[day.month - 1])
    reach = np.log(np.maximum(surface / dim, 1.0)) / per_metre
    depths = dict(zip(moments, np.minimum(reach, lake.max_depth).tolist(), strict=True))
    return {"sunrise": sunrise.strftime("%H:%M"), "sunset": sunset.strftime("%H:%M"), **depths}


def light_text(light, units):
    """The lit depths as one sentence."""
    return (
        f"Light reaches about {depth_text(light['midday'], units)} at midday and "
        f"{depth_text(min(light['dawn'], light['dusk']), units)} half an hour after sunrise or "
        "before sunset (1 % of midday surface light, clear sky)."
    )
