"""The grammars and the bundled dialects, as data files beside this module."""
