"""From samples to a drafted dialect file."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from cfglint import tomlwrite
from cfglint.dump.source import Source
from cfglint.teach.answers import understand
from cfglint.teach.identity import Identity, identity_of
from cfglint.teach.legends import legends
from cfglint.teach.lines import lines_of
from cfglint.teach.mapping import Mapped
from cfglint.teach.model import Draft, Guess
from cfglint.teach.questions import questions_of
from cfglint.teach.shape import Shape, read_shape
from cfglint.teach.sniff import one_dump, one_firmware, sniff
from cfglint.teach.understand import WORTH, Understanding, understand_rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from cfglint.teach.forms import FormGuess
    from cfglint.teach.lines import Row


def teach(
    sources: Sequence[Source], answers: Mapping[str, str] | None = None, *, name: str = "mine"
) -> Draft:
    """The draft of a dialect called ``name`` for samples of one firmware.

    ``answers`` maps questions' ids to answers (see :class:`~cfglint.teach.model.Question`).
    The draft depends on nothing else, so asking again with one answer more is how a dialogue
    goes on.  Raises Problem where the samples are no dumps, or an answer cannot be meant.
    """
    shape, notes = _shape(tuple((source.file, source.text) for source in sources))
    told = understand(answers or {})
    identity = identity_of(shape.rows)
    rows = [row for row in shape.rows if (row.file, row.number) not in identity.numbers]
    # What the owner says of a word goes before what a comment says.
    said = {key: dict(table) for key, table in legends(shape.rows).items()}
    for key, table in told.words.items():
        said[key] = {**said.get(key, {}), **table}
    informed = told._replace(words=said)
    partial = bool(identity.changes) or any(row.kind == "removal" for row in rows)
    made = understand_rows(shape, rows, informed, partial=partial, named="name" in identity.said)
    writer = _Writer(made, identity, rows, name, notes)
    text = writer.text()
    from cfglint.dialect.load import load_dialect

    dialect = load_dialect(f"{name}.toml", text.encode("utf-8"))
    return Draft(
        text, dialect, tuple(writer.guesses), questions_of(made, told), tuple(writer.notes)
    )


@lru_cache(maxsize=4)
def _shape(samples: tuple[tuple[str, str], ...]) -> tuple[Shape, tuple[str, ...]]:
    """The shape of samples; kept, since every answer asks for it again."""
    sources = [Source.from_text(file, text) for file, text in samples]
    notes = sniff(sources)
    first = [one_dump(source, notes) for source in sources]
    shape = read_shape(lines_of(first))
    one_firmware(shape, sources)
    return shape, tuple(notes)


class _Writer:
    """Writes the dialect file down, part by part."""

    def __init__(
        self,
        made: Understanding,
        identity: Identity,
        rows: Sequence[Row],
        name: str,
        notes: Sequence[str],
    ) -> None:
        self.made = made
        self.identity = identity
        self.rows = rows
        self.name = name
        self.notes = list(notes)
        self.guesses: list[Guess] = []
        self.out: list[str] = []

    def text(self) -> str:
        self._top()
        self._shape()
        self._identity()
        self._traits()
        self._settings()
        self._modes()
        self._forms()
        self._rest()
        return "\n".join(self.out).rstrip() + "\n"

    def _say(self, *parts: str) -> None:
        self.out.extend(parts)

    def _note(self, words: str) -> None:
        self.out.extend(tomlwrite.comment(words))

    def _top(self) -> None:
        self._note(
            "Drafted from samples. What is marked `sure = false` or stands in `unsure` is a guess: "
            "look at the line, then take the mark out, or mend the mapping. The number before a "
            "reason is how sure the guess is, from 0 to 1."
        )
        self._say("", "[dialect]", f"id = {tomlwrite.text(self.name)}", "schema = 1")
        extent = self.identity.changes and not self.identity.full
        if extent or (self.made.shape.unset and any(r.kind == "removal" for r in self.rows)):
            self._say('extent = "changes"')
        self._say("")

    def _shape(self) -> None:
        shape = self.made.shape
        self._say("[shape]", 'grammar = "plain"')
        for key, forms in (
            ("prompt", (shape.prompt,) if shape.prompt else ()),
            ("comment", shape.comment),
            ("refusal", shape.refusal),
            ("assign", shape.assign),
            ("unset", shape.unset),
            ("flag_on", shape.flag_on),
            ("flag_off", shape.flag_off),
            ("open", shape.open),
            ("close", shape.close),
        ):
            self._say(f"{key} = {tomlwrite.value(forms[0] if len(forms) == 1 else list(forms))}")
        habits = self.made.habits
        self._say(f"list = {tomlwrite.text(habits.divider)}")
        self._say(f"yes = {tomlwrite.text(habits.yes)}", f"no = {tomlwrite.text(habits.no)}", "")

    def _identity(self) -> None:
        if not self.identity.lines:
            self.notes.append("No line says the board or the firmware's version.")
            return
        self._note("; ".join(self.identity.reasons))
        self._say("[identity]", f"lines = {tomlwrite.value(list(self.identity.lines))}")
        if self.identity.full:
            self._say(f"full = {tomlwrite.text(self.identity.full)}")
        if self.identity.changes:
            self._say(f"changes = {tomlwrite.text(self.identity.changes)}")
        self._say("")

    def _traits(self) -> None:
        self._note(
            "How the firmware behaves is in its maker's words, not in a dump. Until a line below "
            "is true, rules that need it are unknown:"
        )
        self._say(
            "# [traits]",
            '# range_ends = "half-open"     '
            '# or "closed": whether a range\'s high end belongs to it',
            '# inversion = "absolute"       '
            '# or "relative": the flag turns the link\'s usual sense',
            "# arm_needs_permit = false",
            "",
        )

    # -------------------------------------------------------------- settings

    def _settings(self) -> None:
        listed = [one for one in self.made.mapped if one.confidence >= WORTH]
        for one in self.made.mapped:
            self.guesses.append(
                Guess(
                    one.setting,
                    one.slot.name,
                    one.confidence,
                    one.sure and not one.opaque,
                    one.reason,
                    one.rival,
                )
            )
        by_form = [one for one in listed if self._needs_form(one)]
        plain = [one for one in listed if one not in by_form]
        if plain:
            self._say("[settings]")
        for one in plain:
            self._entry(one)
        for one in self.made.mapped:
            if one.confidence < WORTH:
                self._note(
                    f"{one.setting}: perhaps `{one.slot.name}` ({one.confidence:.2f}: {one.reason})"
                )
        self._say("")
        self.by_form = by_form

    def _why(self, one: Mapped) -> None:
        rival = f". Runner-up: {one.rival}" if one.rival else ""
        self._note(f"{one.confidence:.2f}: {one.reason}{rival}")

    def _entry(self, one: Mapped) -> None:
        self._why(one)
        row = self._keys(one)
        self._say(f"{tomlwrite.text(one.setting)} = {tomlwrite.value(row)}")

    def _keys(self, one: Mapped) -> dict[str, Any]:
        row: dict[str, Any] = {"name": one.slot.name}
        if one.slot.within:
            row["within"] = one.slot.within
        if one.slot.flag:
            row["flag"] = True
        row.update(self._codec(one))
        if one.slot.numbers and self._counts_from_0(one):
            row["number_base"] = 0
        if not one.sure:
            row["sure"] = False
        elif one.unsure:
            row["unsure"] = list(one.unsure)
        return row

    def _counts_from_0(self, one: Mapped) -> bool:
        group = "port" if one.setting.startswith("port.") else "channel"
        return min(one.slot.numbers) == 0 or self.made.bases.get(group) == 0

    def _codec(self, one: Mapped) -> dict[str, Any]:
        from cfglint.craft.settings import setting

        codec = dict(one.codec)
        kind = setting(one.setting).kind
        if (
            one.opaque
            and kind in ("word", "words")
            and not codec.get("values")
            and not codec.get("mask")
        ):
            # A word of its own that means nothing yet must not be read as a neutral one.
            codec["values"] = {}
        return codec

    def _needs_form(self, one: Mapped) -> bool:
        """Whether a flag's line would be read as an assignment, so that only a form can read it."""
        if one.slot.form:
            return True
        return one.slot.flag and any(form == "{name} {value}" for form in self.made.shape.assign)

    # -------------------------------------------------------------- modes and forms

    def _modes(self) -> None:
        if not self.made.modes and not self.made.mode_codes:
            if not any(form.makes == "range" for form in self.made.forms):
                self.notes.append("No line was recognised as the range of a mode.")
            return
        self._say("[modes]")
        used = {text for form in self.made.forms for text in _mode_words(form)}
        for word, text in self.made.modes.items():
            mark = "" if text in used else "   # spelled as the others; no sample has it"
            self._say(f"{word} = {tomlwrite.text(text)}{mark}")
        for code in self.made.mode_codes:
            self._note(f"not known: {code}")
        if self.made.unsure_modes:
            self._say(f"unsure = {tomlwrite.value(list(self.made.unsure_modes))}")
        self._say("")

    def _forms(self) -> None:
        for number, form in enumerate(self.made.forms, 1):
            self._form(form, number)
        for one in self.by_form:
            if one.slot.form:
                self._line_form(one)
                continue
            on = next(f for f in self.made.shape.flag_on).replace("{name}", one.slot.name)
            off = next(f for f in self.made.shape.flag_off).replace("{name}", one.slot.name)
            yes, no = on.split(" ")[0], off.split(" ")[0]
            line = on.replace(yes, "{state}", 1)
            self._why(one)
            self._say("[[forms]]", f"line = {tomlwrite.text(line)}")
            if one.slot.within:
                self._say(f"within = {tomlwrite.text(one.slot.within)}")
            self._say(f'sets = {{ state = "{one.setting}" }}')
            fields: dict[str, Any] = {"state": {"yes": yes, "no": no}}
            if one.slot.numbers and self._counts_from_0(one):
                fields["N"] = {"base": 0}
            self._say(f"fields = {tomlwrite.value(fields)}")
            if not one.sure:
                self._say("sure = false")
            self._say("")

    def _line_form(self, one: Mapped) -> None:
        """A form for one setting whose line is read whole."""
        self._why(one)
        self._say("[[forms]]", f"line = {tomlwrite.text(one.slot.form)}")
        if one.slot.within:
            self._say(f"within = {tomlwrite.text(one.slot.within)}")
        self._say(f'sets = {{ value = "{one.setting}" }}')
        codec = self._codec(one)
        if one.sure and one.unsure:
            codec["unsure"] = list(one.unsure)
        if codec:
            self._say(f"fields = {tomlwrite.value({'value': codec})}")
        if not one.sure:
            self._say("sure = false")
        self._say("")

    def _form(self, form: FormGuess, number: int) -> None:
        sure = form.confidence >= 0.8
        fields = {name: dict(codec) for name, codec in form.fields.items()}
        sure = sure and "mode" not in form.doubts
        for field in form.doubts:
            if field == "mode":
                continue  # a field of its own would hide the table of modes
            for each in ("low", "high") if field == "low" else (field,):
                if each in form.roles:
                    fields.setdefault(each, {})["sure"] = False
        for field in form.codes:
            if (
                field != "mode"
                and field in form.roles
                and "values" not in fields.get(field, {})
                and "mask" not in fields.get(field, {})
            ):
                fields.setdefault(field, {})["values"] = {}
        subject = {"range": "range", "link": "link"}.get(
            form.makes, ", ".join(sorted(set(form.sets.values())))
        )
        doubts = "; ".join(form.doubts.values())
        self.guesses.append(
            Guess(
                subject,
                form.line,
                form.confidence,
                sure and not form.doubts,
                form.reason + (f"; {doubts}" if doubts else ""),
            )
        )
        self._note(f"{form.confidence:.2f}: {form.reason}" + (f"; {doubts}" if doubts else ""))
        self._say(
            "[[forms]]",
            f"id = {tomlwrite.text(f'{form.makes}-{number}')}",
            f"line = {tomlwrite.text(form.line)}",
        )
        if form.within:
            self._say(f"within = {tomlwrite.text(form.within)}")
        if form.makes != "settings":
            self._say(f"makes = {tomlwrite.text(form.makes)}")
        if form.sets:
            self._say(f"sets = {tomlwrite.value(form.sets)}")
        if form.join:
            self._say(f"join = {tomlwrite.text(form.join)}")
        if form.skip_empty:
            self._say("skip_empty = true")
        if not sure:
            self._say("sure = false")
        if fields:
            self._say("", "[forms.fields]", *tomlwrite.lines(fields))
        self._say("")

    # -------------------------------------------------------------- the rest

    def _rest(self) -> None:
        profiles = sorted(
            {
                one.slot.within
                for one in self.made.mapped
                if one.slot.profiled and one.confidence >= WORTH
            }
        )
        if profiles:
            self._say("[profiles]", f"within = {tomlwrite.text(profiles[0])}")
            chosen = self._in_use()
            if chosen:
                self._say(f"in_use = {tomlwrite.text(chosen)}")
            first = min(
                (
                    _number(row)
                    for slot in self.made.slots
                    if slot.within == profiles[0]
                    for row in slot.rows
                ),
                default=0,
            )
            self._say(f"first = {first}", "")
        kept, ignored, save = self._leftover(self._in_use() if profiles else "")
        if kept:
            self._note(
                "Names that stand for nothing a rule asks about, as far as could be told; their "
                "lines are carried as they are."
            )
            self._say("[kept]", "names = [")
            self._say(*(f"  {tomlwrite.text(name)}," for name in kept))
            self._say("]", "")
        if ignored or save:
            self._say("[ignored]", f"lines = {tomlwrite.value(ignored)}")
            if save:
                self._say(f"save = {tomlwrite.text(save)}")
            self._say("")

    def _in_use(self) -> str:
        from cfglint.teach.words import ideas, split

        for slot in self.made.slots:
            kinds = {idea for word in split(slot.name) for idea, w in ideas(word) if w >= 0.8}
            if (
                "profile" in kinds
                and not slot.within
                and not slot.family
                and all(v.strip('"').isdigit() for v in slot.written)
            ):
                return slot.name
        return ""

    def _leftover(self, in_use: str) -> tuple[list[str], list[str], str]:
        """Names to keep, lines to pass over, and the line that saves."""
        formed = {
            (row.file, row.number)
            for one in self.made.mapped
            if one.confidence >= WORTH
            for row in one.slot.rows
        }
        names: list[str] = []
        ignored: list[str] = []
        for slot in self.made.slots:
            if slot.form or slot.name == in_use:
                continue
            for row in slot.rows:
                if (row.file, row.number) in formed:
                    continue
                # A name that lines of a form begin with: those are passed over one by one.
                reads = any(form.line.split(" ")[0] == row.name for form in self.made.forms)
                (ignored if reads else names).append(row.text if reads else row.name)
        formed |= {(row.file, row.number) for form in self.made.forms for row in form.record.rows}
        save = ""
        for row in self.rows:
            if row.kind == "removal":
                names.append(row.name)
            if row.kind != "command" or (row.file, row.number) in formed:
                continue
            word = row.text.split()[0].lower().strip(";.!")
            if word in _SAVES and len(row.text.split()) <= 2:
                save = save or row.text
                ignored.append(row.text)
            elif len(row.text.split()) == 1 or not re.match(r"[A-Za-z0-9_-]+", row.text):
                ignored.append(row.text)
            else:
                match = re.match(r"[A-Za-z0-9_-]+", row.text)
                assert match is not None
                # What forms begin with as well is passed over line by line.
                reads = any(form.line.startswith(match.group()) for form in self.made.forms)
                (ignored if reads else names).append(row.text if reads else match.group())
        mapped = {
            row.name
            for one in self.made.mapped
            if one.confidence >= WORTH and not one.slot.within
            for row in one.slot.rows
        }
        kept = [name for name in dict.fromkeys(names) if name not in mapped]
        return kept, list(dict.fromkeys(ignored)), save


_SAVES = frozenset("save store write commit keep persist burn apply remember flash wr".split())


def _mode_words(form: FormGuess) -> Iterable[str]:
    from cfglint.teach.ranges import titled

    for field in ("mode", "follows"):
        if field in form.roles:
            yield from form.record.column(form.roles[field])
    if "{mode}" in form.within:
        for row in form.record.rows:
            yield titled(row, form.within)


def _number(row: Row) -> int:
    match = re.search(r"\d+", row.sections[-1]) if row.sections else None
    return int(match.group()) if match else 0
