"""Sun times and the depth that light reaches, for the middle of a month."""

import numpy as np
import pandas as pd

from lakekit.column.basin import monthly_to_hourly
from lakekit.column.light import attenuation
from lakekit.column.parameters import fading_factor
from lakekit.units import depth_text
from lakekit.weather.air import standard_pressure
from lakekit.weather.sky import clear_sky_shortwave
from lakekit.weather.sun import hourly_sun, sun_times

DIM_SHARE = 0.01  # of midday surface light: the usual bottom of the lit zone
USUAL_VAPOUR_PRESSURE = 12.0  # hPa; it moves clear-sky light by a few percent only
TWILIGHT = pd.Timedelta(hours=1)  # dawn is the hour after sunrise, dusk the hour before sunset


def month_light(lake, month, *, parameters=None):
    """Sunrise, sunset and lit depths on the 15th of a month.

    The lit depth is where light has fallen to 1 % of that day's midday surface light, the common
    edge of the lit zone (Kirk 2011, Light and Photosynthesis in Aquatic Ecosystems, from memory);
    clear sky, and light that fades as it does in the simulated water.

    Parameters
    ----------
    lake : lakekit.club.Lake
    month : str or datetime64
        Any day of the month.
    parameters : xarray.Dataset, optional
        The lake's own, the first member central; default: those of an unfitted lake.

    Returns
    -------
    dict
        ``sunrise``, ``sunset`` (local clock times as text, None where the sun does neither),
        ``dawn`` (mean of the hour after sunrise), ``midday``, ``dusk`` (the hour before sunset):
        lit depth [m], 0 where the surface itself is dimmer.
    """
    day = pd.Timestamp(month).replace(day=15)
    times = sun_times(day, lake.latitude, lake.longitude, lake.time_zone)
    sunrise, noon, sunset = (times[name] for name in ("sunrise", "noon", "sunset"))
    half = TWILIGHT / 2
    if sunrise is None or sunset is None:
        hours = [noon - half] * 3
    else:
        hours = [sunrise, noon - half, sunset - TWILIGHT]
    utc = pd.DatetimeIndex([hour.tz_convert("UTC").tz_localize(None) for hour in hours])
    surface = clear_sky_shortwave(
        hourly_sun(utc, lake.latitude, lake.longitude),
        np.full(3, USUAL_VAPOUR_PRESSURE),
        np.full(3, standard_pressure(lake.elevation)),
    )
    dim = DIM_SHARE * surface[1]
    secchi = monthly_to_hourly(lake.secchi, utc.values[1:2])[0]
    per_metre = attenuation(secchi, factor=fading_factor(lake, parameters))
    with np.errstate(divide="ignore"):
        reach = np.log(np.maximum(surface / dim, 1.0)) / per_metre
    depths = np.minimum(reach, lake.max_depth).tolist()
    return {
        "sunrise": None if sunrise is None else sunrise.strftime("%H:%M"),
        "sunset": None if sunset is None else sunset.strftime("%H:%M"),
        **dict(zip(("dawn", "midday", "dusk"), depths, strict=True)),
    }


def sun_text(light):
    """Sunrise and sunset as one phrase."""
    if light["sunrise"] is None or light["sunset"] is None:
        return "The sun does not rise or set on the 15th"
    return f"Sunrise {light['sunrise']}, sunset {light['sunset']} on the 15th"


def light_text(light, units):
    """The lit depths as one sentence."""
    return (
        f"Light reaches about {depth_text(light['midday'], units)} at midday, "
        f"{depth_text(min(light['dawn'], light['dusk']), units)} in the first and last hour of sun "
        "(1 % of midday surface light, clear sky)."
    )
