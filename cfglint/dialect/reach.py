"""Contradictions of what is read: lines that never reach what is meant to read them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import setting
from cfglint.dialect.codec import Bad, decode, encode
from cfglint.dialect.model import ROLES, first_word, like
from cfglint.dump.forms import field_names, fill
from cfglint.errors import Problem

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.craft.model import Craft
    from cfglint.dialect.codec import Codec
    from cfglint.dialect.model import Dialect, Entry, Form, Tables
    from cfglint.span import Span

#: What stands in a form's fields when it is asked which form reads its lines.
_PROBES = ("7", "q", "7.5")
#: Values that are tried for a number, those first that most settings can have.
_NUMBERS = (1000, 1500, 14, 100, 50, 5, 4, 3.5, 3, 2, 1, 0.5, 0, 115200, 8000, 5800)
#: Members of a family that are looked up to see who takes them.
_MEMBERS = (1, 2, 3, 5, 8, 12, 16)


def unreached(dialect: Dialect, version: str) -> Iterator[Problem]:
    """What can never be read at a version of a dialect, or could mean two things; with places."""
    tables = dialect.at(version)
    yield from _hidden_forms(dialect, tables)
    yield from _hidden_entries(dialect, tables)
    yield from _swallowed(dialect, tables)
    yield from _modes(dialect, tables)
    yield from _doubtful_words(dialect, tables)
    yield from _defaults(dialect, tables)


# ---------------------------------------------------------------- places


def _entry_place(dialect: Dialect, name: str, key: str = "") -> Span:
    """Where a setting's entry stands: in the file's table or else in that of a change."""
    document = dialect.document
    paths = [("settings", name), *(
        ("changes", at, "settings", name) for at in range(len(dialect.data.get("changes", [])))
    )]  # fmt: skip
    path = next(path for path in paths if document.has(*path, *((key,) if key else ())))
    return document.where_value(*path, key) if key else document.where(*path)


def _form_place(dialect: Dialect, form: Form) -> Span:
    path = next(
        path
        for path, row in _form_rows(dialect)
        if row["line"] == form.line and row.get("within", "") == form.within
    )
    return dialect.document.where_value(*path, "line")


def _form_rows(dialect: Dialect) -> Iterator[tuple[tuple[str | int, ...], dict[str, Any]]]:
    for number, row in enumerate(dialect.data.get("forms", [])):
        yield ("forms", number), row
    for at, change in enumerate(dialect.data.get("changes", [])):
        for number, row in enumerate(change.get("forms", [])):
            yield ("changes", at, "forms", number), row


# ---------------------------------------------------------------- forms and names


def _hidden_forms(dialect: Dialect, tables: Tables) -> Iterator[Problem]:
    """Forms all of whose lines fit a form that is looked at before them."""
    for form in tables.forms:
        takers = [_taker(tables, form, probe) for probe in _PROBES]
        other = takers[0]
        if other is None or any(one is not other for one in takers) or other is form:
            continue
        alike = _fit_all(tables, other, form)
        message = (
            f"the lines of the form `{form.line}` are those of `{other.line}` as well"
            if alike
            else f"no line is ever read by the form `{form.line}`: `{other.line}` takes it before"
        )
        instead = (
            "take one of them out, or write what tells them apart"
            if alike
            else "put it before that one, or write what tells them apart"
        )
        yield Problem(message, span=_form_place(dialect, form), instead=instead)


def _taker(tables: Tables, form: Form, probe: str) -> Form | None:
    """The form by which a line of a form is read, as reading goes about it."""
    line = fill(form.line, dict.fromkeys(field_names(form.line), probe))
    word = tables.fold(first_word(line[:200]))
    by_head = tables.forms_by_head
    forms: list[Form] = [*by_head.get(word, ()), *(by_head.get("", ()) if word else ())]
    for one in forms:
        if _place_of(one.within) == _place_of(form.within) and _fits(tables, one, line):
            return one
    return None


def _fit_all(tables: Tables, form: Form, by: Form) -> bool:
    """Whether lines of one form also fit another."""
    return all(
        _fits(tables, by, fill(form.line, dict.fromkeys(field_names(form.line), probe)))
        for probe in _PROBES
    )


def _fits(tables: Tables, form: Form, line: str) -> bool:
    return tables.compiled(form.line).fullmatch(line) is not None


def _place_of(within: str) -> str:
    """A section's title whatever its fields are called."""
    return fill(within, dict.fromkeys(field_names(within), "{}"))


def _hidden_entries(dialect: Dialect, tables: Tables) -> Iterator[Problem]:
    """Families whose members other entries take, and a profile's name that is a setting's."""
    for entry in tables.entries:
        if "{N}" not in entry.name:
            continue
        names = (fill(entry.name, {"N": str(number)}) for number in _MEMBERS)
        takers = [_finds(tables, entry.within, name) for name in names]
        if all(taker is not entry for taker in takers):
            other = takers[0]
            yield Problem(
                f"`{entry.name}` of `{entry.setting}` is never read: "
                f"`{other.name}` of `{other.setting}` takes every such name",
                span=_entry_place(dialect, entry.setting),
                instead="give one of them another name, or another section",
            )
    in_use = str(tables.profiles.get("in_use", ""))
    entry_there = tables.names.get(("", tables.fold(in_use))) if in_use else None
    if entry_there is not None:
        yield Problem(
            f"`{in_use}` says which profile is in use and stands for `{entry_there.setting}` too",
            span=dialect.document.where_value("profiles", "in_use"),
            instead="give one of them another name",
        )


def _finds(tables: Tables, within: str, name: str) -> Entry:
    found = tables.names.get((within, tables.fold(name)))
    if found is not None:
        return found
    return next(
        entry
        for home, compiled, entry in tables.families
        if home == within and compiled.fullmatch(name)
    )


def _swallowed(dialect: Dialect, tables: Tables) -> Iterator[Problem]:
    """Names and lines to pass over among which a mapped one is.

    In a section a name may have another meaning, so only names that stand in none count.
    """
    shape = dialect.data["shape"]
    assign = shape.get("assign", "")
    assign = assign if isinstance(assign, str) else next(iter(assign), "")
    for entry in tables.entries:
        if not entry.name or entry.within:
            continue
        name = fill(entry.name, dict.fromkeys(field_names(entry.name), "1"))
        plain = bool(assign) and not entry.flag
        line = fill(assign, {"name": name, "value": "1"}) if plain else ""
        for known, span, table in _passed_over(dialect, tables):
            text = name if table == "kept" else line
            if text and like(tables.fold(text), tables.fold(known)):
                yield Problem(
                    f"`{known}` in [{table}] fits `{text}` too, which stands for `{entry.setting}`",
                    span=span,
                    instead="take it out, or write it so that it leaves out what has a meaning",
                )


def _passed_over(dialect: Dialect, tables: Tables) -> Iterator[tuple[str, Span, str]]:
    document, data = dialect.document, dialect.data
    lists: list[tuple[tuple[str | int, ...], list[str]]] = [
        (("kept", "names"), data.get("kept", {}).get("names", [])),
        *((("changes", at, "kept"), row.get("kept", []))
          for at, row in enumerate(data.get("changes", []))),
    ]  # fmt: skip
    places = {
        text: document.where(*path, number)
        for path, texts in reversed(lists)
        for number, text in enumerate(texts)
    }
    for known in tables.kept:
        # One that a change renamed stands nowhere by its new name but in `rename`.
        yield known, places.get(known, document.where("kept", "names")), "kept"
    for number, known in enumerate(tables.ignored):
        yield known, document.where("ignored", "lines", number), "ignored"


# ---------------------------------------------------------------- words


def _modes(dialect: Dialect, tables: Tables) -> Iterator[Problem]:
    """A mode that one form has a word for and another of its kind has none."""
    for makes, field in (("range", "mode"), ("link", "mode"), ("link", "follows")):
        forms = [form for form in tables.forms if form.makes == makes and form.codecs[field].values]
        having: dict[str, Form] = {}
        for form in forms:
            for mode in form.codecs[field].values:
                having.setdefault(mode, form)
        for form in forms:
            lacking = [mode for mode in having if mode not in form.codecs[field].values]
            if lacking:
                more = f" ({len(lacking) - 1} more)" if lacking[1:] else ""
                yield Problem(
                    f"{{{field}}} of the form `{form.line}` has no word for `{lacking[0]}`{more}, "
                    f"which `{having[lacking[0]].line}` has",
                    span=_form_place(dialect, form),
                    instead="say the words of all modes once, in [modes]",
                )


def _codecs(dialect: Dialect, tables: Tables) -> Iterator[tuple[str, Codec, Span]]:
    """Every way in which a setting is written: its name, how, and where that stands."""
    for entry in tables.entries:
        if entry.name:
            yield entry.setting, entry.codec, _entry_place(dialect, entry.setting)
    for form in tables.forms:
        for field, name in form.sets.items():
            yield name, form.codecs[field], _form_place(dialect, form)


def _doubtful_words(dialect: Dialect, tables: Tables) -> Iterator[Problem]:
    """Written words of which nobody could say which of two things they mean."""
    for name, codec, span in _codecs(dialect, tables):
        row = setting(name)
        if row.kind == "flag":
            both = [word for word in codec.yes if tables.fold(word) in map(tables.fold, codec.no)]
            if both:
                yield Problem(
                    f"`{both[0]}` means both yes and no for `{name}`",
                    span=span,
                    instead="one written word can be read back as one meaning only",
                )
        elif row.kind == "words" and not codec.mask and codec.none:
            written = codec.back or row.words
            if tables.fold(codec.none) in written:
                yield Problem(
                    f"`{codec.none}` is both an empty list and a word of `{name}`",
                    span=span,
                    instead="one written word can be read back as one meaning only",
                )


def _defaults(dialect: Dialect, tables: Tables) -> Iterator[Problem]:
    """Defaults for which there is no written word, bit or code."""
    by_form = {name: form.codecs[field] for form in tables.forms for field, name in
               form.sets.items()}  # fmt: skip
    for entry in tables.entries:
        codec = entry.codec if entry.name else by_form.get(entry.setting, entry.codec)
        if entry.default is None or not (codec.values or codec.mask):
            continue
        try:
            encode(codec, setting(entry.setting), entry.default)
        except Bad as bad:
            yield Problem(
                f"the default of `{entry.setting}` cannot be written: there is {bad.valid}",
                span=_entry_place(dialect, entry.setting, "default"),
                instead="add how it is written, or name another default",
            )


# ---------------------------------------------------------------- written and read


def not_read_back(dialect: Dialect, version: str) -> Iterator[Problem]:
    """Settings whose own line is read as something else: as a comment, by another form, …

    For a dialect of which nothing else is wrong: this finds much of that again, in other words.
    """
    from cfglint.dialect.roundtrip import lost_of

    tables = dialect.at(version)
    craft, spans = sample(dialect, tables)
    for one in lost_of(craft, dialect, version):
        if one.written:
            subject = f"a {one.what}" if one.what in ("range", "link") else f"`{one.what}`"
            yield Problem(
                f"{subject} is written `{one.written}`, and "
                + (f"reading that gives {one.got}" if one.got else one.why),
                span=spans.get((one.what, one.value), one.span),
                instead="write what tells such a line apart from others",
            )


def sample(dialect: Dialect, tables: Tables) -> tuple[Craft, dict[tuple[str, str], Span]]:
    """A craft with a value for all that a dialect can say, and where each is said how."""
    from cfglint.craft.model import Craft, ModeLink, ModeRange, Value
    from cfglint.dialect.examples import show_link, show_range

    top = dialect.document.where("dialect")
    values: dict[str, Value] = {}
    spans: dict[tuple[str, str], Span] = {}
    ranges: list[ModeRange] = []
    links: list[ModeLink] = []

    def add(name: str, codec: Codec, number: Codec | None, span: Span) -> None:
        value = _value(codec, name)
        which = _member(number) if ".N" in name else 0
        if value is None or which is None:
            return
        called = name.replace("N", str(which), 1) if which else name
        values[called] = Value(called, value, "set", span, span)

    for entry in tables.entries:
        if entry.name:
            place = _entry_place(dialect, entry.setting)
            add(entry.setting, entry.codec, entry.number, place)
    for form in tables.forms:
        place = _form_place(dialect, form)
        for field, name in form.sets.items():
            add(name, form.codecs[field], form.codecs.get("N"), place)
        if form.makes == "settings":
            continue
        mode = _role(form, "mode")
        join = form.join if "join" not in form.codecs else _role(form, "join")
        if form.makes == "link":
            link = ModeLink(mode, _role(form, "follows"), join, place)
            links.append(link)
            spans["link", show_link(link)] = place
            continue
        low, high = _ends(form)
        made = ModeRange(mode, _role(form, "channel"), low, high, join, place, place, place, place)
        if None not in made and low < high:
            ranges.append(made)
            spans["range", show_range(made)] = place
    links = [link for link in links if None not in link]
    craft = Craft(
        file=dialect.file,
        name="",
        dialect=dialect.id,
        extent="full",
        whole=top,
        values=values,
        mode_ranges=tuple(ranges),
        mode_links=tuple(links),
    )
    return craft, spans


def _member(number: Codec | None) -> int | None:
    """The first number of a family that can be written."""
    return next((one for one in _MEMBERS if number is None or _back(number, ROLES["N"], one)), None)


def _value(codec: Codec, name: str) -> Any:
    """A value that can be written and read back by its own codec; None if none is found."""
    row = setting(name)
    tries: Iterable[Any]
    if row.kind == "flag":
        tries = (True,)
    elif row.kind == "word":
        tries = row.words
    elif row.kind == "words":
        tries = [frozenset([word]) for word in row.words]
    elif row.kind == "text":
        tries = ("hold", "1500", "AETR", *codec.values)
    else:
        kind = int if row.kind == "count" else float
        tries = [kind(one) for one in (*map(float, codec.values), *_NUMBERS)]
    return next((one for one in tries if _back(codec, row, one)), None)


def _role(form: Form, field: str) -> Any:
    row = ROLES[field]
    tries = row.words or range(1, 33)
    return next((one for one in tries if _back(form.codecs[field], row, one)), None)


def _ends(form: Form) -> tuple[float, float]:
    row = ROLES["low"]
    low, high = form.codecs["low"], form.codecs["high"]
    first = next((one for one in (1750.0, 1250.0, 1000.0) if _back(low, row, one)), 1.0)
    last = next((one for one in (2150.0, 2000.0, 1800.0) if _back(high, row, one)), 0.0)
    return first, last


def _back(codec: Codec, row: Any, value: Any) -> bool:
    """Whether a value can be written and is read back as itself."""
    try:
        text = encode(codec, row, value)
        return bool(text) and decode(codec, row, text) == value
    except Bad:
        return False
