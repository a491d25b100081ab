"""``python -m cfglint``: the command line."""

import sys

from cfglint.cli import main

if __name__ == "__main__":
    sys.exit(main())
