"""``python -m cfglint.cli``."""

from __future__ import annotations

import sys

from cfglint.cli import main

if __name__ == "__main__":
    sys.exit(main())
