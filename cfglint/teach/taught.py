"""Teaching: from samples to a dialect of marks and map that reads them, each mapping proven.

Rows are families where their fields fit one, else entries of a name and a value; what every name
means is decided at once; what comes out is read back over all samples before it is written, and
a mapping that does not read its own values takes another form or is left out.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING, Any

from cfglint.craft.settings import SETTINGS
from cfglint.dialect.mapping import marks_of as compiled_marks
from cfglint.dump.layout import rows as rows_of
from cfglint.teach import lines, match, sheet, switches, tomlform
from cfglint.teach.bars import bar_rows
from cfglint.teach.changed import card_answers, changed_answers
from cfglint.teach.clauses import loose_sentences
from cfglint.teach.codes import (
    Legend,
    bare_hex,
    legends_of,
    lettered,
    listed,
    referred,
    titled_legends,
)
from cfglint.teach.doubts import doubted
from cfglint.teach.entries import entries_of, named_flags, steady, titles_of
from cfglint.teach.families import (
    Item,
    channel_rows,
    lines_of,
    loss_rows,
)
from cfglint.teach.fits import habits_of
from cfglint.teach.forms import form_rows
from cfglint.teach.guess import second_thoughts
from cfglint.teach.identity import identity_of
from cfglint.teach.levers import counted_from_zero, lever_rows
from cfglint.teach.listed import blocks_of, listed_entries
from cfglint.teach.measures import measures_of, saying
from cfglint.teach.numerals import ungrouped
from cfglint.teach.parts import record_items
from cfglint.teach.pointed import agreeing, pointed
from cfglint.teach.ports import port_rows
from cfglint.teach.proof import prove
from cfglint.teach.prose import prose_rows
from cfglint.teach.roles import role_rows
from cfglint.teach.sense import (
    LANGUAGES,
    dictionary,
    language_of,
    legend_of,
    understood,
)
from cfglint.teach.sheet import NOTHING, Answers, answers_of, joined
from cfglint.teach.spoken import (
    is_spoken,
    spoken_action,
    spoken_flags,
    spoken_item,
    spoken_names,
    spoken_pairs,
)
from cfglint.teach.tablerows import table_items
from cfglint.teach.tables import table_entries
from cfglint.teach.textmarks import marks_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.dump.layout import Row
    from cfglint.dump.source import Source
    from cfglint.teach.entries import Entry
    from cfglint.teach.prose import Told
from cfglint.teach.answered import agrees, answered, asked_again, believed, told_pairs
from cfglint.teach.mappings import single_item
from cfglint.teach.openings import Draft, questions
from cfglint.teach.pairing import Slot, flag_slot, pairs_of, slot_of, slots_of

#: So often a draft is made anew without the families that could not be read.
TRIES = 2


def teach(
    sources: Sequence[Source],
    name: str,
    language: str = "",
    answers: Answers = NOTHING,
    card: Mapping[str, str] | None = None,
    changed: tuple[str, str, str] | None = None,
) -> Draft:
    """The draft of a dialect from samples of one firmware; the language is found if not said.

    ``card`` says settings of the first sample's craft; ``changed`` names a setting that is all in
    which the first two samples differ, and its value in each.
    """
    more = card_answers(card) if card else {}
    if changed is not None:
        more.update(changed_answers(changed[0], sources[0], sources[1], changed[1:]))
    if more:
        answers = joined(answers_of(more), answers)
    texts = [line for source in sources for line in source.lines]
    language = language or language_of(texts)
    marks = marks_of(sources)
    begins = tuple(marks.get("comment", ()))
    comments = [line for line in texts if begins and line.strip().startswith(begins)]
    # A remark behind a value may explain it as well.
    comments += [
        line[line.index(f" {mark}") :] for line in texts for mark in begins if f" {mark}" in line
    ]
    comments += [line for line in texts if _explains(line)]
    words = dictionary(language) if language in LANGUAGES else {}
    wrong: list[str] = []
    plain: Draft | None = None
    if answers.words:
        with understood(words, legend_of(comments)):
            plain = _draft(sources, name, marks, frozenset(), NOTHING)
            answers, wrong = believed(answers, plain)
    drafts = [_tried(sources, name, marks, answers, words, comments, answers.words)]
    if answers.words:
        # Words told may make other rows of the same lines, and worse ones.
        drafts.append(_tried(sources, name, marks, answers, words, comments, {}))
    draft = max(drafts, key=lambda one: agreeing(sources, one.data, answers))
    with understood(words, legend_of(comments), answers.words):
        again = [asked_again(key, plain) for key in wrong] if plain is not None else []
        return draft._replace(
            reopened=(*draft.reopened, *wrong),
            questions=(
                *again,
                *(one for one in draft.questions if one.key not in {q.key for q in again}),
            ),
        )


def _tried(
    sources: Sequence[Source],
    name: str,
    marks: dict[str, Any],
    answers: Answers,
    words: Mapping[str, str],
    comments: Sequence[str],
    told: Mapping[tuple[str, str], str],
) -> Draft:
    """A draft, made anew without what cannot be read."""
    with understood(words, legend_of(comments), told):
        draft = _draft(sources, name, marks, frozenset(), answers)
        for _ in range(TRIES):
            if not draft.failed:
                break
            # Rows of a family that cannot be read are looked at once more, as anything else.
            draft = _draft(sources, name, marks, draft.failed | draft.left, answers)
        return draft


def _draft(
    sources: Sequence[Source],
    name: str,
    marks: dict[str, Any],
    left: frozenset[str],
    answers: Answers,
) -> Draft:
    comma = marks.get("decimal") == ","
    layout = compiled_marks(marks)
    every = steady(
        [
            (sample, row)
            for sample, source in enumerate(ungrouped(sources, marks))
            for row in rows_of(source, layout)
        ]
    )
    legends = _legends(every)
    bare = bare_hex(line for source in sources for line in source.lines)
    marks = dict(marks)
    told, items, modes, entries, rest = _read_by_kind(every, comma, bare, left)
    if told.sentences:
        marks["list"] = "and"
    flags = named_flags(rest, entries)
    habits = habits_of([entry.value for entry in entries], ",")
    marks["yes"], marks["no"] = habits.yes, habits.no
    held = {
        one for item in items for one in (item.name, *item.forms[0].get("sets", {}).values()) if one
    }
    slots = [*slots_of(entries), *(flag_slot(every) for every in flags)]
    answers_told, reopened = told_pairs(slots, every, answers, habits, comma)
    held |= answers.none
    pairs = pairs_of(slots, habits, comma, legends, bare)
    free = [one for one in told.sentences if id(one.row) not in told.taken]
    if told.sentences:
        more = [*spoken_names(free), *spoken_flags(free), *spoken_action(free)]
        items += [item for item in more if item.name not in answers_told]
    held |= {item.name for item in items if item.name}
    said_slots, said_pairs = spoken_pairs(free or loose_sentences(rest), habits, comma)
    slots += said_slots
    pairs = sorted([*pairs, *said_pairs], key=lambda pair: -pair.score)
    pairs = _late_last(pairs, sources)
    _agreeing(pairs, answers, answers_told, marks)
    families = match.choose([pair for pair in pairs if pair.slot.family], without=held)
    members = _members(families)
    pairs = [pair for pair in pairs if _single(slot_of(pair), members)]
    slots = [slot for slot in slots if _single(slot, members)]
    held |= (denied := _denied(pairs, answers_told, held, answers))[0]
    reopened += denied[1]
    chosen = match.choose(pairs, answers_told, without=held - set(answers_told))
    chosen.update(second_thoughts(slots, chosen, held, habits, comma, _port_heads(items)))
    port_base = _port_base(items)
    lines_said = _identity(sources, every)
    _without_doubtful(chosen, lines_said)
    order = {one: place for place, one in enumerate(SETTINGS)}
    used = {choice.pair.slot.key for choice in chosen.values()}
    for choice in sorted(chosen.values(), key=lambda one: order.get(one.pair.setting, 99)):
        made = (
            spoken_item(choice, pairs, used)
            if is_spoken(choice)
            else single_item(choice, habits, comma, port_base)
        )
        item, contradiction = answered(made, choice, answers, comma)
        if item.name == "craft.firmware":
            item = _versioned(item, sources)
        several = not choice.told and _one_of_several(slot_of(choice.pair), slots)
        item = _guessed(item) if several or item.name in denied[1] else item
        items.append(item)
        reopened += contradiction
    data = {"dialect": {"id": name}, "marks": marks, "modes": modes}
    proven, dropped = prove(sources, data, items)
    if answers.pointing:
        outcome = pointed(sources, data, proven, answers)
        data, proven = outcome.data, outcome.proven
        dropped += outcome.dropped
        reopened = [*(one for one in reopened if one not in answers.places), *outcome.wrong]
    data, proven = doubted(sources, data, proven, answers)
    kept = {item.id for item, _ in proven}
    tabled = {one.id for one in items if one.id == one.name and ("column" in one.forms[0])}
    if plain := _still_asked(lines_said, {item.name for item, _ in proven}):
        data["identity"] = {"lines": plain}
    failed = frozenset(
        _mark(one) for one in items if one.id not in kept and (not one.name or one.id in tabled)
    )
    draft = _written(data, proven, dropped)._replace(
        failed=failed - left, left=left, reopened=tuple(reopened)
    )
    return draft._replace(
        questions=tuple(questions(draft, proven, slots, items, pairs, reopened, sources[:1]))
    )


def _denied(
    pairs: Sequence[match.Pair],
    told: dict[str, match.Pair],
    held: set[str],
    answers: Answers,
) -> tuple[set[str], list[str]]:
    """Settings that by an answer no line says, and those of them that a line plainly does say."""
    none = {name for name, said in answers.values.items() if said == sheet.NONE}
    if not none:
        return none, []
    found = match.choose(pairs, told, without=held - set(told))
    plain = [name for name in none if name in found and found[name].confidence >= _LIKELY]
    return none - set(plain), sorted(plain)


def _agreeing(
    pairs: Sequence[match.Pair],
    answers: Answers,
    told: dict[str, match.Pair],
    marks: dict[str, Any],
) -> None:
    """Tell, besides, of each setting with an answer the first pair that reads what it says."""
    for pair in pairs:
        answer = answers.values.get(pair.setting, "")
        said = answer not in ("", sheet.OK, sheet.NONE) and pair.setting not in told
        if said and agrees(pair, answer, marks):
            told[pair.setting] = pair


def _still_asked(said: Sequence[str], mapped: set[str]) -> list[str]:
    """Lines at the beginning that say what no mapping reads."""
    asked = {field for field in ("board", "firmware") if f"craft.{field}" not in mapped}
    return [form for form in said if any(f"{{{field}}}" in form for field in asked)]


def _read_by_kind(
    every: list[tuple[int, Row]], comma: bool, bare: bool, left: frozenset[str]
) -> tuple[Told, list[Item], dict[str, Any], list[Entry], list[tuple[int, Row]]]:
    """Sentences, bars, forms, families and tables, then entries of all rows that are left."""
    told = prose_rows(every)
    said = {id(one.row) for one in told.sentences}
    other = [one for one in every if id(one[1]) not in said]
    drawn, filled = bar_rows(other), form_rows(other)
    shown = drawn.taken | filled.taken
    items, taken, modes = _families(
        [one for one in other if (one[0], one[1].line) not in shown],
        comma,
        bare,
        left,
        {**told.modes, **drawn.modes},
    )
    taken |= shown
    items += [i for i in (*told.items, *drawn.items, *filled.items) if _mark(i) not in left]
    rest = [one for one in other if (one[0], one[1].line) not in taken and not _legend(one[1])]
    columned, more = table_entries(rest)
    named = listed_entries(blocks_of(rest))
    columned += [one for one in named if (one.sample, one.row.line) not in more]
    more |= {(one.sample, one.row.line) for one in named}
    plain = [(sample, row) for sample, row in rest if (sample, row.line) not in more]
    return told, items, modes, [*filled.entries, *columned, *entries_of(plain)], rest


#: A dump names itself in one of its first lines.
_FIRST = 8
#: In this share of its lines.
_EARLY = 0.3
#: A name that surely says board or firmware is believed before a line at the beginning.
_PLAIN = 0.8
#: A name that rather says a setting is not given up because somebody says that no line does.
_LIKELY = 0.4


def _port_base(items: Sequence[Item]) -> int:
    """What ports are counted from, as their rows show."""
    firsts = [
        one.forms[0].get("fields", {}).get("N", {}).get("first", 1)
        for one in items
        if one.id.startswith("ports")
        or any(name.startswith("port.N") for name in one.forms[0].get("sets", {}).values())
    ]
    return 0 if 0 in firsts else 1


def _port_heads(items: Sequence[Item]) -> set[str]:
    """The words before the numbers of rows of ports, small."""
    forms = [one.forms[0]["at"] for one in items if one.id.startswith("ports")]
    texts = [text for at in forms for text in ([at] if isinstance(at, str) else at)]
    heads = {text.rpartition(" > ")[2].partition("{N}")[0].strip().lower() for text in texts}
    return heads - {""}


#: A name of the firmware before its version.
_NAMED = re.compile(r"([^\W\d_][\w\-]*)[ \t]+v?\d\S*")


def _versioned(item: Item, sources: Sequence[Source]) -> Item:
    """A firmware's version without its name, where the dump's first line begins with the name."""
    found = [_NAMED.fullmatch(one.written) for one in item.expects]
    words = {match[1] if match is not None else "" for match in found}
    word = next(iter(words)) if len(words) == 1 else ""
    first = sources[0].lines[0] if sources[0].lines else ""
    at = item.forms[0]["at"]
    if not word or not isinstance(at, str) or not re.match(rf"\W*{re.escape(word)}\b", first):
        return item
    expects = tuple(one._replace(written=one.written[len(word) :].strip()) for one in item.expects)
    return item._replace(forms=({**item.forms[0], "at": f"{at} {word}"},), expects=expects)


def _legend(row: Row) -> bool:
    """Whether a row explains codes, and so says nothing itself."""
    side = listed(row.text)
    return (side is not None and bool(side[0]) and len(side[2]) > 3) or bool(
        titles_of(row)[0] and lettered(row.text[row.start : row.note])
    )


def _members(families: Mapping[str, match.Choice]) -> set[int]:
    """The entries, by identity, that are members of a family that was found."""
    return {
        id(entry)
        for choice in families.values()
        if choice.confidence >= 0.5
        for entry in slot_of(choice.pair).entries
    }


def _single(slot: Slot, members: set[int]) -> bool:
    """Whether a slot is a family, or has an entry that is a member of none."""
    return slot.family or not all(id(entry) in members for entry in slot.entries)


def _late_last(pairs: Sequence[match.Pair], sources: Sequence[Source]) -> list[match.Pair]:
    """Pairs, those that call a craft something late in a dump with half their score.

    What a craft is called stands at the beginning; elsewhere it is a guess, and so it is marked.
    """

    def late(pair: match.Pair) -> bool:
        return pair.setting.startswith("craft.") and any(
            one.row.line > _EARLY * len(sources[one.sample].lines) for one in slot_of(pair).entries
        )

    placed = [p._replace(score=p.score / 2) if late(p) else p for p in pairs]
    return sorted(placed, key=lambda pair: -pair.score)


def _one_of_several(slot: Slot, slots: Sequence[Slot]) -> bool:
    """Whether the same is said of others that are counted: nobody knows which of them counts."""
    mine = {id(entry) for entry in slot.entries}
    return not slot.family and any(
        one.family
        and mine <= {id(entry) for entry in one.entries}
        and len(
            {
                number
                for entry, number in zip(one.entries, one.numbers, strict=True)
                if not entry.sample
            }
        )
        > 1
        for one in slots
    )


def _guessed(item: Item) -> Item:
    return item._replace(forms=tuple({**form, "sure": False} for form in item.forms))


def _without_doubtful(chosen: dict[str, match.Choice], said: Sequence[str]) -> None:
    """What a line at the beginning says plainly is not looked for in names that hardly mean it."""
    for field in ("board", "firmware"):
        choice = chosen.get(f"craft.{field}")
        plain = any(f"{{{field}}}" in form for form in said)
        if choice is not None and choice.confidence < _PLAIN and plain:
            del chosen[f"craft.{field}"]


def _identity(sources: Sequence[Source], every: Sequence[tuple[int, Row]]) -> list[str]:
    """Forms of comments and headings that say board or firmware."""
    rows = [
        lines.Row("comment", sources[sample].file, row.line, row.text.strip())
        for sample, row in every
        if row.line <= _FIRST and (row.comment or row.line == 1)
    ]
    return list(identity_of(rows).lines)


def _dropped(
    items: list[Item], taken: set[tuple[int, int]], left: frozenset[str]
) -> tuple[list[Item], set[tuple[int, int]]]:
    """Families without those that could not be read, whose rows are free again."""
    free = {(one.sample, one.line) for item in items if _mark(item) in left for one in item.expects}
    return [item for item in items if _mark(item) not in left], taken - free


def _merged(items: Sequence[Item]) -> list[Item]:
    """Families whose templates another has already are one with it."""
    out: list[Item] = []
    for item in items:
        at = item.forms[0]["at"]
        own = {at} if isinstance(at, str) else set(at)
        for place, other in enumerate(out):
            held = other.forms[0]["at"]
            if own <= ({held} if isinstance(held, str) else set(held)) and item.forms[0].get(
                "each"
            ) == other.forms[0].get("each"):
                out[place] = other._replace(expects=(*other.expects, *item.expects))
                break
        else:
            out.append(item)
    return out


def _mark(item: Item) -> str:
    """What a family is known by from one try to the next."""
    return f"{item.forms[0].get('makes', '')}{item.name}{item.forms[0]['at']}"


def _families(
    every: Sequence[tuple[int, Row]],
    comma: bool,
    bare: bool,
    skip: frozenset[str],
    spoken: Mapping[str, tuple[str, bool]],
) -> tuple[list[Item], set[tuple[int, int]], dict[str, Any]]:
    lines = lines_of(every)
    zeros = counted_from_zero(lines)
    notes, legends = _notes(every), _legends(every)
    blocks = blocks_of(every)
    table = table_items(every, comma, bare, notes, legends, zeros, blocks)
    items, taken = _dropped(table.items, set(table.taken), skip)

    def left() -> list[Any]:
        return [line for line in lines if (line.sample, line.row.line) not in taken]

    def kept(made: list[Item], rows: set[tuple[int, int]]) -> list[Item]:
        found, more = _dropped(made, rows, skip)
        taken.update(more)
        return found

    whole = role_rows(left(), every, legends, 1, early=True)
    with_loss = kept(whole.items, whole.taken)
    channels = kept(*channel_rows(left()))
    items += [*with_loss, *channels]
    loss = kept(*loss_rows(left(), comma, zeros))
    ports = kept(*port_rows(left(), every, comma, legends))
    levers = lever_rows(left(), zeros, notes, comma)
    levers = [one for one in levers if _mark(one.item) not in skip]
    held = {at for one in levers for at in one.lines}
    taken |= held
    items += [one.item for one in levers]
    entries = entries_of([(line.sample, line.row) for line in left()])
    told = list(dict.fromkeys([*notes, *saying(row.text for _, row in every)]))
    ranges = switches.range_rows(left(), entries, comma, told)
    found, more = _dropped(ranges.items, ranges.taken, skip)
    ranges = ranges._replace(items=found, taken=more)
    taken |= more
    ranges.modes[:0] = [mode for one in levers for mode in one.modes]
    ranges.modes.extend(text for text in spoken if text not in ranges.modes)
    near = switches.homes(
        line for line in lines if (line.sample, line.row.line) in ranges.taken | held
    )
    coded = switches.coded_ranges(left(), len(ranges.items))
    ranges.items.extend(coded.items)
    ranges.taken.update(coded.taken)
    taken |= coded.taken
    named_so_far = [*ranges.modes, *table.modes, *(one for one in table.coded if len(one) > 1)]
    links = switches.link_rows(left(), taken, named_so_far, near)
    taken |= links.taken
    joins = switches.join_rows(left(), [*ranges.modes, *table.modes], near)
    taken |= joins.taken
    zero = any(
        one.forms[0].get("fields", {}).get("N", {}).get("first") == 0
        for one in (*channels, *with_loss)
    )
    decided = role_rows(left(), every, legends, 0 if zero else 1, measures_of(tuple(told), comma))
    placed = kept(decided.items, decided.taken)
    blocks = [block for block in blocks if not block.lines() & taken]
    late = table_items(every, comma, bare, notes, legends, zeros, blocks, late=True)
    counted = kept(late.items, late.taken)
    records, more, named = record_items(
        entries_of([(line.sample, line.row) for line in left()]), comma
    )
    taken |= more
    # A record that stands once has nothing that bears it out.
    records = [
        one if len({(e.sample, e.line) for e in one.expects}) > 1 else _guessed(one)
        for one in records
    ]
    written = [*table.modes, *ranges.modes, *links.modes, *named, *decided.modes]
    modes = _mode_words(
        [one for one in written if one not in spoken and one not in table.coded],
        coded.words,
        {**table.coded, **decided.coded},
    )
    _spoken_modes(modes, spoken)
    more_items = [*links.items, *joins.items, *_merged(placed), *records, *counted]
    return [*items, *loss, *ports, *_merged(ranges.items), *more_items], taken, modes


def _mode_words(
    written: Sequence[str],
    noted: Mapping[str, str],
    coded: Mapping[str, tuple[str, bool]],
) -> dict[str, Any]:
    """``[modes]`` of a dialect, from words that rows hold and codes that notes explain."""
    words, unsure, own = switches.words_of_modes(list(dict.fromkeys(written)))
    modes: dict[str, Any] = dict(words)
    for code, word in noted.items():
        modes.setdefault(word, code)
        unsure.append(word)
    for code, (word, sure) in coded.items():
        modes.setdefault(word, code)
        if not sure:
            unsure.append(word)
    if unsure:
        modes["unsure"] = list(dict.fromkeys(unsure))
    if own:
        modes["own"] = own
    return modes


def _explains(line: str) -> bool:
    """Whether a line says what letters stand for: `I inverted, H one wire`."""
    pieces = [one.strip() for one in re.split(r"[,;{}|]|:[ \t]|[ \t]{2,}", line) if one.strip()]
    said = [one for one in pieces if re.fullmatch(r"[A-Z]{1,2}[ \t]+[^\W\d_]{2}.*", one)]
    return len(said) >= 2 and len(said) >= 0.6 * len(pieces)


def _legends(every: Sequence[tuple[int, Row]]) -> list[Legend]:
    """What codes mean, by notes and by rows of letters under a title."""
    titled = [
        (titles_of(row)[0][-1], row.text[row.start : row.note])
        for _, row in every
        if not row.comment and titles_of(row)[0]
    ]
    notes = _notes(every)
    found = legends_of(notes)
    # What begins every legend is no part of what it is called: `legend SIG 1 pwm, 2 oneshot42`.
    begins = Counter(one.label.split()[0] for one in found if " " in one.label)
    common = {word for word, count in begins.items() if count >= max(3, 0.6 * len(found))}
    found = [
        one._replace(label=rest)
        if (rest := one.label.partition(" ")[2]) and one.label.split()[0] in common
        else one
        for one in found
    ]
    return [*found, *referred(found, notes), *titled_legends(titled)]


def _spoken_modes(modes: dict[str, Any], spoken: Mapping[str, tuple[str, bool]]) -> None:
    """Add to ``[modes]`` what sentences call them: each by any number of phrases."""
    for text, (word, sure) in spoken.items():
        if not word:
            modes["own"] = [*modes.get("own", ()), text]
            continue
        held = modes.get(word, [])
        held = [held] if isinstance(held, str) else held
        modes[word] = [*held, text] if held else text
        if not sure:
            modes["unsure"] = list(dict.fromkeys([*modes.get("unsure", ()), word]))


def _notes(every: Iterable[tuple[int, Row]]) -> list[str]:
    """Comments and titles, which may say how numbers are meant."""
    out = []
    for _, row in every:
        side = None if row.comment else listed(row.text)
        if (
            row.comment
            or (side is not None and len(side[2]) > 1)
            or re.search(r"\(bits? \d|=.*=|:.*=|\d [^\W\d_][^,;]*[,;] ?\d+ [^\W\d_]", row.text)
        ):
            out.append(row.text)
    return list(dict.fromkeys(out))


def _written(
    data: dict[str, Any], items: Sequence[tuple[Item, dict[str, Any]]], dropped: Sequence[str]
) -> Draft:
    whole = {**data, "map": {}, "rows": []}
    reasons = {}
    for item, form in items:
        if item.name:
            whole["map"][item.name] = (
                form["at"] if set(form) == {"at"} and isinstance(form["at"], str) else form
            )
            reasons[item.name] = item.reason
        else:
            reasons[f"rows{len(whole['rows'])}"] = item.reason
            whole["rows"].append(form)
    return Draft(tomlform.dialect(whole, reasons), whole, tuple(dropped))
