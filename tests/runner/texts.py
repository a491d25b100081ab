"""A configuration that says nearly all that one can say."""

FULL = """\
[hangar]
name = "Saltmarsh Survey Club"

[[dumps]]
files = ["dumps/*.dump.txt", "more/**/*.txt"]
dialect = "mine"
card = "cards/{stem}.toml"
craft = "{stem}"
extent = "changes"

[[dumps]]
files = "old/*.txt"

[dialects]
mine = "dialects/mine.toml"

[rules]
"motor/left-on-default-signal" = "off"
"modes/near-a-range-edge" = { grade = "advise", margin_us = 30 }

[lint]
floor = "fix"
"""
