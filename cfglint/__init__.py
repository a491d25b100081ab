"""cfglint: a linter for the setup dumps of small multirotors' flight controllers."""

__version__ = "0.1.0"
