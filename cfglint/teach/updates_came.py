"""What went with an update and what came: boards, modes, defaults, names, lines that changed."""

from __future__ import annotations

import re
from collections import defaultdict
from difflib import SequenceMatcher
from typing import TYPE_CHECKING, Any

from cfglint.craft.model import show
from cfglint.craft.settings import MODES, SETTINGS, family, setting
from cfglint.dialect.address import segment
from cfglint.dialect.encode import close
from cfglint.dialect.lines import find
from cfglint.teach.meanings import best
from cfglint.teach.names import PROFILES, Words, fit
from cfglint.teach.numbers import readings
from cfglint.teach.updates_model import SURE, Row
from cfglint.teach.updates_pairs import likeness
from cfglint.teach.updates_read import under
from cfglint.teach.updates_values import Patch, read
from cfglint.teach.words import split

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from cfglint.carry.side import Side
    from cfglint.craft.model import Craft
    from cfglint.teach.updates import Drafter
    from cfglint.teach.updates_pairs import Pairer
    from cfglint.teach.updates_read import Key, Name

_WHY_GONE = "not in the dump after; look up what took its place"
#: So many readings of a dump are tried for words that a mode may go by.
_MOST_TRIALS = 60


def boards(g: Drafter) -> None:
    """Boards that go by another name."""
    seen: dict[str, set[str]] = defaultdict(set)
    for old, new in zip(g.olds, g.news, strict=True):
        first, second = old.craft.get("craft.board"), new.craft.get("craft.board")
        if first.known and second.known:
            seen[str(first.value)].add(str(second.value))
    for was, every in seen.items():
        now = sorted(every)[0]
        if was.lower() == now.lower() or g.fate.boards.get(was) == now:
            continue
        short, long = sorted((was.lower(), now.lower()), key=len)
        near = long.startswith(short) or likeness(was, now) >= 0.8
        confidence, reason = (
            0.45,
            "the dumps name two boards: another name for one, or another board",
        )
        if near:
            confidence, reason = 0.85, "the board goes by a name much like the old one"
        if len(every) > 1:
            confidence, reason = 0.2, f"it becomes {' and '.join(sorted(every))}"
        said = g.answer(f"board {was}")
        if said:
            confidence, reason = (
                (1.0, "as you say") if said in ("yes", now) else (0.0, "another board, as you say")
            )
        g.add(Row("boards", was, now, confidence, reason, confidence >= SURE, ask=f"board {was}"))


# ------------------------------------------------------------------ modes and lines


def ranges_of(craft: Craft, mode: str) -> list[tuple[int, float, float]]:
    """The ranges of a mode: channel and ends."""
    return sorted(
        (row.channel, row.low_us, row.high_us) for row in craft.mode_ranges if row.mode == mode
    )


def _trial(g: Drafter, rows: Sequence[Row]) -> list[Side]:
    """The dumps after, read with some rows alone."""
    from cfglint.carry.side import read_side
    from cfglint.teach.updates_proof import change_of, dialect_with

    dialect = dialect_with(g.dialect, change_of(g.at, rows))
    return [read_side(side.source, dialect, version=g.at) for side in g.news]


def modes(g: Drafter) -> None:
    """Modes that go by words which mean nothing yet: with one the mode has its ranges again."""
    gone = {mode for old, new in zip(g.olds, g.news, strict=True) for mode in MODES
            if ranges_of(old.craft, mode) and not ranges_of(new.craft, mode)}  # fmt: skip
    words = list(dict.fromkeys(_mode_words(g)))
    fits: dict[str, list[str]] = defaultdict(list)
    for word in words[: _MOST_TRIALS // max(1, len(gone))]:
        for mode in sorted(gone):
            sides = _trial(g, [Row("modes", mode, word, 1, "", True)])
            if all(ranges_of(old.craft, mode) in ([], ranges_of(new.craft, mode))
                   for old, new in zip(g.olds, sides, strict=True)):  # fmt: skip
                fits[word].append(mode)
    taken: set[str] = set()
    for word, every in fits.items():
        meant, weight = best("mode", word)
        mode = meant if meant in every else every[0]
        rival = next((one for one in every if one != mode), "")
        rival = rival or next(
            (other for other in fits if other != word and mode in fits[other]), ""
        )
        confidence, reason = 0.8, "it has the range that this mode had"
        if meant == mode:
            confidence, reason = (
                max(0.85, min(0.95, weight)),
                f"{reason}, and means it by its words",
            )
        elif meant and weight >= 0.75:
            confidence, reason = 0.4, f"{reason}, yet by its words it would be {meant}"
        elif rival:
            confidence, reason = 0.45, f"{reason}, as another had"
        said = g.answer(f"word mode {word}")
        if said in every:
            mode, confidence, reason = said, 1.0, "as you say"
        live = confidence >= SURE and mode not in taken
        taken |= {mode} if live else set()
        why = f"`{word}`: {reason}"
        g.add(Row("modes", mode, word, round(confidence, 2), why, live, rival=rival,
                  ask=f"word mode {word}", answered=said in every))  # fmt: skip


def _mode_words(g: Drafter) -> Iterator[str]:
    """Words of the dumps after that may be a mode's and mean nothing yet."""
    known = {title for side in g.olds for titles in side.sections.values() for title in titles}
    for side in g.news:
        yield from (one.written for one in side.craft.misread if one.name in ("range", "link"))
        for titles in side.sections.values():
            for title in titles:
                for other in known if title not in known else ():
                    here, there = title.split(), other.split()
                    apart = [a for a, b in zip(here, there, strict=False) if a != b]
                    if len(here) == len(there) > len(apart) == 1:
                        yield apart[0].strip(":{[]")


def lines(g: Drafter) -> None:
    """Lines of several fields that are put in other words now."""
    from cfglint.teach.updates import every_read

    for side in g.olds:
        read_by = {one.entry.id: one.row.text.strip() for reads in every_read(side)
                   for one in reads.values() if one.entry.way == "template"
                   and len(one.entry.at.fields) > 1
                   and one.entry.at.text not in g.alive}  # fmt: skip
        for text in read_by.values():
            for one in list(g.rows):
                if one.kind == "rename" and find(text, one.name):
                    break
            else:
                _reworded(g, text)


def left_over(g: Drafter, sides: Sequence[Side]) -> None:
    """A note on lines of several fields that even the rows do not make readable."""
    strays = [(side.craft.file, one) for side in sides for one, use in side.uses
              if use == "stray" and len(one.text.split()) > 3]  # fmt: skip
    lost = any(
        row.makes != "settings" and row.at.text not in g.alive for row in g.tables.map.entries
    )
    if strays and lost:
        g.notes.append(
            f"{len(strays)} lines are read by no row any more, the first at {strays[0][0]}:"
            f"{strays[0][1].line}: write their new form under `rows` by hand"
        )


def _reworded(g: Drafter, text: str) -> None:
    """Rows for the words in which a line differs from the strays it became."""
    parts = _masked(text)
    best_: tuple[float, tuple[tuple[str, str], ...]] = (0.6, ())
    for side in g.news:
        for statement, use in side.uses:
            if use != "stray":
                continue
            other = _masked(statement.text[statement.start : statement.end])
            match = SequenceMatcher(None, parts, other, autojunk=False)
            swaps = tuple((" ".join(parts[a:b]), " ".join(other[c:d]))
                          for tag, a, b, c, d in match.get_opcodes()
                          if tag == "replace")  # fmt: skip
            whole = all(tag in ("replace", "equal") for tag, *_ in match.get_opcodes())
            if (
                swaps
                and whole
                and match.ratio() > best_[0]
                and not any("#" in word for pair in swaps for word in pair)
            ):
                best_ = match.ratio(), swaps
    rows = [Row("rename", was, now, 0.85, "lines of several fields are read again with it", True)
            for was, now in best_[1] if not any(find(name, was) for name in g.alive)]  # fmt: skip
    if rows:
        before = sum(use in ("stray", "misread") for side in g.news for _, use in side.uses)
        after = sum(use in ("stray", "misread") for side in _trial(g, rows) for _, use in side.uses)
        g.rows += rows if after < before else []


def _masked(text: str) -> list[str]:
    return re.sub(r"\d+(?:[.,]\d+)?", "#", text).split()


# ------------------------------------------------------------------ defaults and senses


def defaults(g: Drafter) -> None:
    """What values tell of defaults."""
    known = g.tables.map.defaults
    differing: list[tuple[Any, Any, list[tuple[Any, Any]]]] = []
    for old, new, pair in g.matched():
        codec, row = g.now(old), setting(old.setting)
        values = [(one.was, read(codec, row, one.after)) for one in g.both(old, new)]
        values = [(was, now) for was, now in values if now is not None]
        if any(not close(was, now) for was, now in values):
            differing.append((old, pair, values))
    reset = [old.setting for old, _, values in differing if old.setting in known
             and all(close(now, known[old.setting].value) for _, now in values)]  # fmt: skip
    asked = {row.name for row in g.rows if row.kind == "rescale" and not row.live}
    for old, pair, values in differing:
        name = old.setting
        if name in asked or name in reset or name not in known or ".N" in name:
            continue
        now = values[0][1]
        agree = len(values) > 1 and all(close(one, now) for _, one in values)
        agree = agree and not any(close(was, now) for was, _ in values)
        confidence, reason = (
            0.3,
            "the value differs: set by hand, or a new default; nobody can tell from two dumps",
        )
        if pair is not None:
            confidence = 0.55
            reason = "the setting has a new name, so its old value was lost, and what stands "
            reason += "there now is neither that nor the old default"
            if reset:
                confidence, reason = 0.75, f"{reason}; {reset[0]} went back to its default as well"
        if agree:
            confidence += 0.2 if pair is not None else 0.45
            reason = f"{len(values)} craft have it now, and none had it before"
        _default(g, name, now, confidence, reason, known[name].value)
    if not g.full:
        _of_changes(g)


def _default(g: Drafter, name: str, now: Any, confidence: float, reason: str, was: Any) -> None:
    said = g.answer(f"default {name}")
    value = sorted(now) if isinstance(now, frozenset) else now
    if said:
        told = re.fullmatch(r"[+-]?\d+(?:\.\d+)?", said)
        value = (
            {"yes": True, "no": False}.get(said, float(said) if told else said)
            if setting(name).kind != "words"
            else value
        )
        confidence, reason = (0.0 if said == "-" else 1.0), "as you say"
    if isinstance(value, float) and value == int(value):
        value = int(value)
    text = f"{reason} (the default was {show(name, was)})"
    patch = Patch({"default": value}, round(confidence, 2), text)
    g.patch("default", name, patch, f"default {name}", bool(said), name in g.raw["map"])


def _of_changes(g: Drafter) -> None:
    """In dumps of changes a line stands where its value is no default: what that tells."""
    renamed = {pair.old.setting for pair in g.pairs} | {
        row.setting for row in g.rows if row.kind == "rescale"
    }
    renamed |= {family(one.name) for side in g.news for one in side.craft.misread}
    for name, default in g.tables.map.defaults.items():
        if ".N" in name or name in renamed:
            continue
        at_old, hidden = 0, []
        for old, new in zip(g.olds, g.news, strict=True):
            if old.craft.extent != "changes" or new.craft.extent != "changes":
                continue
            first, second = old.craft.get(name), new.craft.get(name)
            if first.origin == "default" and second.origin == "set":
                at_old += close(second.value, default.value)
            elif first.origin == "set" and second.origin == "default":
                hidden += [first.value] if not close(first.value, default.value) else []
        same = len({show(name, one) for one in hidden}) == 1
        if at_old and same:
            _default(g, name, hidden[0], 0.85, "the old default stands in the dump after, and the "
                     "value offered here went out of another", default.value)  # fmt: skip
        elif at_old:
            shown = show(name, default.value)
            if g.answer(f"default {name}"):
                _default(g, name, default.value, 0, "", default.value)
                continue
            why = f"{shown} stands in the dump after, where it did not before: it is no longer the "
            why += "default; look up the new one"
            g.add(Row("default", name, "", 0.4, why, False, {}, name, ask=f"default {name}"))
        elif same:
            why = "its line went: the default became what was set, or the value went back to the "
            why += "default; nobody can tell from two dumps"
            _default(g, name, hidden[0], 0.3 if len(hidden) == 1 else 0.6, why, default.value)


def inversion(g: Drafter) -> None:
    """Whether a flag still means the same cannot be seen in a dump: never guessed."""
    flipped = kept = 0
    for old, new in zip(g.olds, g.news, strict=True):
        first, second = old.craft.get("receiver.link"), new.craft.get("receiver.link")
        senses = old.craft.traits.inversion, new.craft.traits.inversion
        if not first.known or first.value != second.value or senses[0] != senses[1]:
            continue
        for name, value in old.craft.values.items():
            later = new.craft.get(name)
            if (
                family(name) in ("receiver.inverted", "port.N.inverted")
                and value.origin == later.origin == "set"
            ):
                flipped += value.value != later.value
                kept += value.value == later.value
    said = g.answer("sense receiver.inverted")
    if not flipped and not kept:
        return
    reason = "the flag is written as before; whether it still means the same no dump can tell: "
    reason += "read the makers' notes"
    if flipped:
        reason = (
            "the flag was flipped while the link stayed: set by hand, or it means something else "
            "now; look at the receiver at the bench"
        )
    if said in ("absolute", "relative"):
        g.add(Row("traits", "inversion", said, 1.0, "as you say", True, answered=True))
    elif said != "same":
        g.reopened += ["sense receiver.inverted"] if said else []
        g.add(Row("traits", "inversion", "", 0.5 if flipped else 0.2, reason, False, {},
                  "receiver.inverted", ask="sense receiver.inverted"))  # fmt: skip


# ------------------------------------------------------------------ names that went and came


def went(
    g: Drafter, gone: Sequence[Name], fresh: Sequence[Name], pairer: Pairer, told: set[Key]
) -> None:
    """Rows for names that went and became no other: removed, where every dump holds all names.

    ``fresh`` are the new names that no old one became, ``told`` the names that are said to be gone.
    """
    from cfglint.carry.side import cut_off
    from cfglint.teach.updates import shown

    cut = next((why for side in g.news if (why := cut_off(side))), "")
    share = len(gone) / max(1, len(g.old.by_key))
    if cut:
        g.notes.append(
            f"the dump after seems to be cut off ({cut}), so nothing is taken for removed"
        )
    if share > 0.4:
        g.notes.append(
            f"{len(gone)} of {len(g.old.by_key)} names are gone, which is more than an "
            "update does: are both dumps of the same firmware?"
        )
    if g.full and not g.all_named:
        g.notes.append(
            f"{len(gone)} names are gone and {len(fresh)} are new, as in dumps that hold only what "
            "differs from the defaults; so nothing is taken for removed"
        )
    kin = {re.sub(r"\d+", "#", one.name.lower()) for one in g.new.by_key.values()}
    for one in gone:
        if not g.all_named and one.key not in told:
            if not one.setting:
                g.add(Row("remove", one.name, _WHY_GONE, 0.25, "not in the dump after: at its "
                          "default now, renamed or gone", False))  # fmt: skip
            continue
        elsewhere = any(key[1] == one.key[1] for key in g.new.by_key)
        if elsewhere and not one.setting:
            continue  # in another section, which is nothing to a name without a meaning
        name, others = _words_for(g, one)
        confidence, reason = 0.85, "it stands in no dump after"
        if len(g.news) > 1:
            confidence, reason = 0.93, f"it stands in none of {len(g.news)} dumps after"
        stem = re.sub(r"\d+", "#", one.name.lower())
        if "#" in stem and stem in kin:
            confidence, reason = 0.55, "others of its kind are there: perhaps not shown here"
        if others:
            confidence, reason = 0.5, "something else has the same name, and would go with it"
        last = [one.name] if "#" not in one.name else []
        if len(one.name.split()) > 6 or any(
            find(side.source.lines[number - 1], word)
            for word in last for side in g.news for number, titles in side.sections.items()
            if under(titles) == one.home
        ):  # fmt: skip
            confidence, reason = 0.5, "its words still stand in the dump after"
        if one.home in g.new.unnamed:
            confidence, reason = 0.5, "lines under the same title are not understood"
        if one.use not in ("used", "kept"):
            confidence, reason = 0.5, "the dialect does not know the name, so nothing to do"
        rival = next((new.name for new in fresh if pairer.place(one.key, new.key) == 1
                      and (likeness(one.name, new.name) >= 0.3
                           or one.written == new.written)), "")  # fmt: skip
        if rival:
            confidence = min(confidence, 0.6)
            reason = f"{reason}, yet a new name stands in its place: `{rival}`"
        if len(gone) > max(2, len(g.old.by_key) // 50):
            confidence, reason = min(confidence, 0.6), f"{reason}, with {len(gone) - 1} others"
        if cut or share > 0.4:
            confidence = min(confidence, 0.4)
        if one.key in told and not others:
            confidence, reason = 1.0, "as you say"
        other = f"renamed to {rival}" if rival else ""
        g.add(Row("remove", name, _WHY_GONE, confidence, reason, confidence >= SURE, {},
                  one.setting, other, f"name {shown(one)}", one.key in told))  # fmt: skip


def _words_for(g: Drafter, one: Name) -> tuple[str, bool]:
    """The words by which a name is removed, and whether something else would go with it."""
    name = one.name.replace("#", "N")
    own = {entry.at.text for entry, _ in g.tables.entries_of(one.setting)} if one.setting else set()
    others = [entry.at.text for entry in g.tables.map.entries if entry.at.text not in own]
    others += [at.text for at in g.tables.map.kept] if one.setting else []
    for words in (name, *own):
        if "{" not in words and not any(find(text, words) for text in others):
            return words, False
    return name, True


def taken_up(g: Drafter, come: Sequence[Name]) -> None:
    """Rows for new names: a setting that had none, marked unconfirmed, or a name to keep."""
    sets = {name for entry in g.tables.map.entries for name in entry.sets.values()}
    gone = {row.setting for row in g.rows if row.kind == "remove" and row.live}
    free = [name for name in SETTINGS if ".N" not in name and (name not in sets or name in gone)]
    meant = dict(_meanings(come, free))
    kept = [at.text for at in g.tables.map.kept]
    heads = {
        row.at.segments[-1].lead[:1] for row in g.tables.map.entries if row.makes != "settings"
    } - {()}
    for one in come:
        text = f"{one.lead} {one.name}".strip()
        if one.key in meant:
            name, keys, score = meant[one.key]
            at = " > ".join((*one.titles, text))
            why, keys = f"`{one.name}` is new, and speaks of it", {"at": at, **keys, "sure": False}
            g.add(Row("setting", name, one.name, score, why, True, keys, name))
        elif (one.use != "kept" and text not in kept and re.search(r"\w", text)
              and segment(text).lead[:1] not in heads):  # fmt: skip
            # A line that begins as those of mode ranges do is more than a name to keep.
            why = "a new name without a meaning that is known here"
            g.add(Row("kept", text, "", 0.9, why, True))


def _meanings(
    come: Iterable[Name], free: Sequence[str]
) -> Iterator[tuple[Key, tuple[str, dict[str, Any], float]]]:
    """New names with the one setting that each may set, the keys it needs, and how likely."""
    rows = []
    for one in come:
        if not one.written or "#" in one.key[0] or one.lead == "{value}" or one.use == "misread":
            continue
        own, above = (tuple(word for word in split(text) if not word.isdigit())
                      for text in (one.name, one.key[0]))  # fmt: skip
        for profile in PROFILES:
            name = profile.setting
            score = fit(profile, Words(own, above)).score if name in free else 0.0
            if (
                score < 0.6
                or name not in SETTINGS
                or SETTINGS[name].kind not in ("number", "count")
            ):
                continue
            ways = readings(name, list(one.written.values()))
            if ways and ways[0].fit >= 0.5:
                rows.append((score, name, one, dict(ways[0].codec)))
    rows.sort(key=lambda row: -row[0])
    for score, name, one, keys in rows:
        near = [
            other
            for other, named, another, _ in rows
            if (another.key == one.key) != (named == name)
        ]
        if score - max(near, default=0.0) >= 0.12:
            yield one.key, (name, keys, round(score, 2))
