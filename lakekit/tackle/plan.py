"""A set-up as data: what to tie on, let out and count, and where the bait then runs."""

from dataclasses import dataclass

from lakekit.tackle import words


@dataclass(frozen=True)
class Setup:
    """What to do so that the bait runs in a band; SI, None where a figure does not apply."""

    motion: str
    possible: bool
    band: tuple  # (top, bottom) m
    target: float  # m
    depth: float | None = None  # m, where it runs
    low: float | None = None  # m, about two in three
    high: float | None = None
    tolerance: float | None = None  # m either way, never under 1.5 ft
    lure: object = None
    line: object = None
    lures_on_line: int = 1
    upper_depth: float | None = None  # m, of the upper of two lures
    speed: float | None = None  # m/s
    line_out: float | None = None  # m
    line_in_water: float | None = None  # m
    line_angle: float | None = None  # degrees above the horizontal
    count: tuple | None = None  # s: low, middle, high
    stop_depth: float | None = None  # m from float to bait
    reason: tuple | None = None  # why not: (us, metric)
    alternatives: tuple = ()  # of (us, metric)
    assumptions: tuple = ()  # sentences without units

    def alternatives_text(self, units):
        """What else would serve, as sentences."""
        return tuple(pair[units != "us"] for pair in self.alternatives)

    def text(self, units):
        """The set-up as one or two sentences to print.

        Parameters
        ----------
        units : str
            "us" or "metric".

        Returns
        -------
        str
        """
        if not self.possible:
            return self.reason[units != "us"]
        sentence = words.SENTENCES[self.motion](self, units)
        return f"{sentence} Give or take {words.tolerance_text(self.tolerance, units)}."

    def as_dict(self):
        """Flat figures for JSON."""
        flat = {
            name: getattr(self, name)
            for name in (
                "motion",
                "possible",
                "depth",
                "low",
                "high",
                "tolerance",
                "lures_on_line",
                "upper_depth",
                "speed",
                "line_out",
                "line_in_water",
                "line_angle",
                "stop_depth",
            )
        }
        flat |= {
            "target": self.target,
            "band_top": self.band[0],
            "band_bottom": self.band[1],
            "lure": self.lure and self.lure.name,
            "line": self.line and self.line.name,
        }
        if self.count:
            flat |= dict(zip(("count_low", "count", "count_high"), self.count, strict=True))
        return flat


@dataclass(frozen=True)
class Ask:
    """What is asked of the gear: motion, band and target [m], and the conditions."""

    motion: str
    band: tuple
    boat: object
    target: float
    tactic: str | None
    kinds: tuple
    cards: dict
    sinking: dict
    tip: float
    conditions: tuple

    def cannot(self, reason, alternatives=()):
        return Setup(
            motion=self.motion,
            possible=False,
            band=self.band,
            target=self.target,
            reason=pair(reason),
            alternatives=tuple(map(pair, alternatives)),
        )

    def can(self, *, depth, low, high, tolerance, alternatives=(), **figures):
        alternatives = list(alternatives)
        if self.motion in ("troll", "drift") and self.band[1] - self.band[0] < high - low:
            alternatives.append(
                lambda u: (
                    "The band is thinner than the doubt: vary speed or line "
                    "until one answers, and note what did."
                )
            )
        return Setup(
            motion=self.motion,
            possible=True,
            band=self.band,
            target=self.target,
            depth=depth,
            low=low,
            high=high,
            tolerance=tolerance,
            alternatives=tuple(map(pair, alternatives)),
            **figures,
        )


def pair(sentence):
    return sentence("us"), sentence("metric")
