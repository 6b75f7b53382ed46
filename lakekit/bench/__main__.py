"""Run one bench: a table for people, or one flat JSON object for machines."""

import argparse
import importlib
import json
import math
import sys
from datetime import date

from lakekit.guide.evidence import RECORDS
from lakekit.store import write_whole

from . import BENCHES


def plain_table(figures):
    """Figures as two aligned columns."""
    width = max((len(name) for name in figures), default=0)
    return "\n".join(f"{name:<{width}}  {_text(value)}" for name, value in figures.items())


def _text(value):
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def _clean(value):
    """JSON has no NaN: an undefined figure is null."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value.item() if hasattr(value, "item") else value


def record(bench, figures, day, path=RECORDS):
    """Keep a bench's figures as the last recorded, beside those of the other benches."""
    entries = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    rounded = {k: round(v, 4) if isinstance(v, float) else v for k, v in figures.items()}
    entries[bench] = {"date": day, "figures": rounded}
    write_whole(path, json.dumps(dict(sorted(entries.items())), indent=1) + "\n")


def main(argv=None):
    """Measure and print; 0 whatever the figures, 1 when nothing could be measured."""
    parser = argparse.ArgumentParser(prog="python -m lakekit.bench", description=__doc__)
    parser.add_argument("name", choices=BENCHES, help="what to measure")
    parser.add_argument("--json", action="store_true", help="one flat JSON object")
    parser.add_argument(
        "--record", action="store_true", help="keep the figures, with today's date, for the guides"
    )
    drills = parser.add_argument_group("drills")
    drills.add_argument("--seed", type=int, help="of the faults that are tried")
    drills.add_argument("--cases", type=int, help="how many")
    drills.add_argument("--kills", type=int, help="commands to kill as well; default none")
    arguments = parser.parse_args(argv)
    asked = {name: getattr(arguments, name) for name in ("seed", "cases", "kills")}
    asked = {name: value for name, value in asked.items() if value is not None}
    if asked and arguments.name != "drills":
        parser.error("--seed, --cases and --kills belong to drills")
    try:
        module = importlib.import_module(f"{__package__}.{arguments.name}")
        figures = module.measure(**asked)
    except Exception as error:
        print(f"could not measure {arguments.name}: {error}", file=sys.stderr)
        return 1
    figures = {name: _clean(value) for name, value in figures.items()}
    if arguments.record:
        record(arguments.name, figures, date.today().isoformat())
    if arguments.json:
        print(json.dumps(figures))
    else:
        known = {name: math.nan if value is None else value for name, value in figures.items()}
        print(getattr(module, "table", plain_table)(known))
    return 0


if __name__ == "__main__":
    sys.exit(main())
