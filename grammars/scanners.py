SCANNERS: dict[str, tuple[tuple[str, str], ...]] = {}
