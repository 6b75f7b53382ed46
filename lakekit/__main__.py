"""``python -m lakekit``: the command line, where the ``lakekit`` script is not on the path."""

import sys

from lakekit.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
