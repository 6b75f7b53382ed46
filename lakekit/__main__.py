"""``python -m lakekit``: the command line, where the ``lakekit`` script is not on the path."""

import os
import sys

# a module that lies in the working folder is not ours to run
sys.path[:] = [place for place in sys.path if place not in ("", os.getcwd())]

from lakekit.cli.main import main  # noqa: E402

if __name__ == "__main__":
    sys.exit(main())
