"""The built-in rule packs, one module a concern; loaded through the same hooks as a club's own."""
