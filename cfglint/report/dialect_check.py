"""What is wrong with a dialect file, what does not survive a round trip, which examples fail.

Lines for people, each with its place first, as compilers write them; or JSON.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from cfglint.dialect.roundtrip import Lost, Trip
    from cfglint.dialect.trials import Tried
    from cfglint.errors import Problem


def check_lines(file: str, problems: Sequence[Problem], trips: Sequence[Trip]) -> Iterator[str]:
    """Every problem, everything lost, and the counts."""
    yield from map(str, problems)
    number = len(problems)
    yield f"{file}: {number or 'no'} contradiction{'' if number == 1 else 's'}"
    for trip in trips:
        yield from (_lost(trip, one) for one in trip.lost)
    if trips:
        yield from trips_summary(trips)


def _lost(trip: Trip, one: Lost) -> str:
    what = one.value if one.what in ("range", "link") else f"{one.what}, {one.value},"
    start = f"{trip.where}: " if trip.where else ""
    kind = f"the {one.what} " if one.what in ("range", "link") else ""
    return f"{one.span}: {start}{kind}{what} does not survive: not written; {one.why}"


def trips_summary(trips: Sequence[Trip]) -> tuple[str, str]:
    """What was written and read again, and how much of it was lost."""
    examples = sum(bool(trip.where) for trip in trips)
    dumps = len(trips) - examples
    subjects = [_count(dumps, "dump")] if dumps else []
    subjects += [_count(examples, "example")] if examples else []
    settings = sum(trip.settings for trip in trips)
    ranges, links = sum(trip.ranges for trip in trips), sum(trip.links for trip in trips)
    lost = sum(len(trip.lost) for trip in trips)
    return (
        f"{' and '.join(subjects)} written back and read again",
        f"{_count(settings, 'setting')}, {_count(ranges, 'range')}, {_count(links, 'link')}; "
        f"{lost or 'nothing'} lost",
    )


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def check_json(file: str, problems: Sequence[Problem], trips: Sequence[Trip]) -> str:
    return _dump(
        {
            "file": file,
            "problems": [_problem(one) for one in problems],
            "round_trips": [
                {
                    "file": trip.file,
                    "example": trip.where,
                    "settings": trip.settings,
                    "ranges": trip.ranges,
                    "links": trip.links,
                    "lost": [{**one._asdict(), "span": one.span._asdict()} for one in trip.lost],
                }
                for trip in trips
            ],
        }
    )


def tried_lines(tried: Sequence[Tried]) -> Iterator[str]:
    """Each failure of each example, and the count."""
    for one in tried:
        for failure in one.failures:
            yield f"{one.span}: example {one.number}: {failure.text}"
    failing = sum(bool(one.failures) for one in tried)
    count = f"{len(tried)} example{'' if len(tried) == 1 else 's'}"
    passing = f"{len(tried) - failing} pass{'es' if len(tried) - failing == 1 else ''}"
    yield f"{count}, {passing}, {failing} fail{'s' if failing == 1 else ''}"


def tried_json(file: str, tried: Sequence[Tried]) -> str:
    return _dump(
        {
            "file": file,
            "examples": [
                {
                    "number": one.number,
                    "at": one.span._asdict(),
                    "lines": one.lines,
                    "passes": not one.failures,
                    "failures": [failure._asdict() for failure in one.failures],
                }
                for one in tried
            ],
        }
    )


def _problem(one: Problem) -> dict[str, Any]:
    span = one.span._asdict() if one.span is not None else None
    return {"at": span, "message": one.message, "instead": one.instead}


def _dump(value: dict[str, Any]) -> str:
    import json

    return json.dumps(value, indent=2) + "\n"
