"""``python -m lakekit``: the command line, where the ``lakekit`` script is not on the path."""

import os
import sys

# a module that lies in the working folder is not ours to run; but we may live there, in a checkout
sys.path[:] = [place for place in sys.path if place not in ("", os.getcwd())]
home = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
if home not in sys.path:
    sys.path.append(home)

from lakekit.cli.main import main  # noqa: E402

if __name__ == "__main__":
    sys.exit(main())
