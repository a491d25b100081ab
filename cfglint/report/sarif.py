"""The report for other programs: SARIF 2.1.0 (OASIS, with errata 01).

What our words become:

==========================  ================================================================
grade ground, fix, advise   kind ``fail``, level ``error``, ``warning``, ``note``
holds                       kind ``pass``
unknown                     kind ``open``, the message names the missing fact
broken, and facts missing   the findings, and one ``open`` result for the rest
not for this craft          kind ``notApplicable``
accepted                    ``suppressions`` with the reason as justification
rests on what is unsure     the result's property ``unconfirmed``, and for each craft a tool
                            execution notification that also names what holds
a file that is not read     a result of the rule ``cfglint/file-not-read``, level ``error``
a rule that crashed         a tool execution notification with the rule it is about
a wrong configuration       a tool configuration notification
==========================  ================================================================

Only ``fail`` has a level.  ``executionSuccessful`` is false whenever something was not checked
that should have been (exit codes from 2 up).  Columns count code points, and lines end at CR
too, as everywhere in cfglint; both are declared.

The ``full`` profile tells everything.  The ``hosted`` one is for viewers that show every result
as an open alert, whatever its kind: only what is broken and not accepted, and a notification
with the number of the rest.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from cfglint.prints import LineHashes, fingerprint
from cfglint.report.plain import visible
from cfglint.report.sarif_parts import (
    Json,
    clean,
    escaped,
    hash_of,
    lines_of,
    link_text,
    message,
    one_line,
    own_print,
    percent_encoded,
    region,
    sentence,
    snippet_of,
)
from cfglint.report.sarif_rules import (
    LEVELS,
    NOT_READ,
    bare_descriptor,
    descriptor,
    own_descriptor,
)
from cfglint.span import Span

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from cfglint.cure import Cure
    from cfglint.results import Accepted, Found, Run, Trouble, Verdict
    from cfglint.rule import Edit
    from cfglint.span import Excerpt

Profile = Literal["full", "hosted"]

SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
#: What file names are relative to, by the name that readers know for it; where that lies on
#: their machine is for them to say.
BASE = "%SRCROOT%"
#: A well-known viewer takes no more results than this.
MOST_RESULTS = 25_000

#: The kinds of notification: id, what it says, what follows from it.
NOTICES = {
    "crash": (
        "cfglint/rule-crashed",
        "A rule crashed.",
        "What it would have said of the craft is not known. Tell the rule's author.",
    ),
    "config": (
        "cfglint/wrong-configuration",
        "The configuration or the use is wrong.",
        "Until it is put right, less may have been checked than was meant.",
    ),
    "nothing": (
        "cfglint/nothing-to-check",
        "There was nothing to check.",
        "An empty list of results means here that no dump was looked at.",
    ),
    "many": (
        "cfglint/many-results",
        "There are more results than some viewers take.",
        "The log holds them all; a viewer with a limit refuses it or shows a part.",
    ),
    "unsure": (
        "cfglint/unconfirmed-mappings",
        "Outcomes rest on unconfirmed mappings.",
        "The dialect file marks what it guesses. If a guess is wrong, so may be what rests on it, "
        "what holds as well as what is broken.",
    ),
    "aside": (
        "cfglint/set-aside",
        "Something was left out, or is taken less seriously, as was asked.",
        "What it would have said is not among the results, or does not make the run fail.",
    ),
    "left-out": (
        "cfglint/left-out",
        "This profile leaves results out.",
        "Write the log with the full profile to have them all.",
    ),
}
EXITS = {
    0: "all clear",
    1: "findings at or above the chosen grade",
    2: "wrong use or wrong configuration",
    3: "something could not be read, or a rule crashed",
    4: "nothing to check",
}


def cure_of(cure: Cure) -> Json:
    """How a finding is cured: lines with their places, the same in neutral words, or by what."""
    out: Json = {}
    if cure.by:
        out["by"] = cure.by
    if cure.steps:
        out["lines"] = [
            {"text": visible(step.text), "where": visible(step.where())} for step in cure.steps
        ]
    if cure.asks:
        out["sets"] = [visible(one) for one in cure.asks]
    if cure.unwritten:
        out["unwritten"] = visible(cure.unwritten)
    return out


def write_sarif(run: Run, *, profile: Profile = "full", prefix: str = "") -> str:
    """The run as one SARIF log: ASCII JSON, one line, ending in a line feed.

    ``prefix`` is where the hangar lies in its repository (``fleet/hangar``), for readers that
    take file names to start from the repository's root; it goes before every file name.
    """
    import json

    log = {"$schema": SCHEMA, "version": "2.1.0", "runs": [_Log(run, profile, prefix).whole()]}
    return json.dumps(log, separators=(",", ":"), allow_nan=False) + "\n"


class _Log:
    """One run on its way to SARIF: remembers which rule stands where."""

    def __init__(self, run: Run, profile: Profile, prefix: str) -> None:
        from collections import Counter

        self.run = run
        self.prefix = prefix.strip("/")
        self.notices: list[str] = []
        self.hosted = profile == "hosted"
        self.held = run.held_back()
        homes = Counter(one.home for one in run.crafts)
        self.homes = {one.file: one.home for one in run.crafts if homes[one.home] == 1}
        self.rules: list[Json] = []
        self.index: dict[str, int] = {}
        for item in run.rules:
            if item.id not in self.index:
                self.index[item.id] = len(self.rules)
                self.rules.append(descriptor(item))

    def whole(self) -> Json:
        from cfglint import __version__

        results = list(self.results())
        invocation = self.invocation(len(results))
        return {
            "tool": {
                "driver": {
                    "name": "cfglint",
                    "fullName": "cfglint, a linter for the dumps of flight controllers",
                    "version": __version__,
                    "semanticVersion": __version__,
                    "rules": self.rules,
                    "notifications": [bare_descriptor(*NOTICES[kind]) for kind in self.notices],
                }
            },
            "columnKind": "unicodeCodePoints",
            "newlineSequences": ["\r\n", "\n", "\r"],
            "originalUriBaseIds": {
                BASE: {"description": message("The folder that file names start from.")}
            },
            "invocations": [invocation],
            "artifacts": self.artifacts(),
            "results": results,
            "properties": self.counts(),
        }

    # ------------------------------------------------------------ results

    def results(self) -> Iterator[Json]:
        for trouble in self.run.troubles:
            if trouble.kind == "file":
                yield self.not_read(trouble)
        for verdict in self.run.verdicts:
            for found in verdict.found:
                if self.hosted and (found.accepted is not None or found.cause in self.held):
                    continue
                yield self.found(found)
            if not self.hosted and (verdict.state != "broken" or verdict.lacks):
                yield self.verdict(verdict)

    def result(self, rule: str, kind: str, text: Json) -> Json:
        out: Json = {
            "ruleId": rule,
            "ruleIndex": self.rule_index(rule),
            "kind": kind,
            "message": text,
        }
        if not self.hosted:
            out["suppressions"] = []
        return out

    def found(self, found: Found) -> Json:
        text = sentence(found.message)
        if found.instead:
            text += f" Instead: {sentence(found.instead)}"
        text = escaped(text)
        held = self.held.get(found.print, ())
        if held:
            say = "follows" if len(held) == 1 else "follow"
            text += f" {len(held)} more {say} from this."
        for number, beside in enumerate(found.beside, 1):
            text += f" See [{link_text(beside.message) or link_text(str(beside.span))}]({number})."
        out = self.result(found.rule, "fail", {"text": text})
        out["level"] = LEVELS[found.grade]
        out["locations"] = [self.location(found.span, found.excerpt, found.craft)]
        if found.beside:
            out["relatedLocations"] = [
                {
                    "id": number,
                    **self.location(beside.span, beside.excerpt),
                    "message": message(one_line(beside.message) or "also spoken of"),
                }
                for number, beside in enumerate(found.beside, 1)
            ]
        out["partialFingerprints"] = {
            "cfglint/v1": found.print or own_print(found),
            "primaryLocationLineHash": found.line_hash or hash_of(found.excerpt, found.span),
        }
        if found.accepted is not None:
            out["suppressions"] = [self.suppression(found.accepted, found.span.file)]
        if found.fix and (fix := self.fix(found.fix, found.instead or found.message)):
            out["fixes"] = [fix]
        out["properties"] = {"grade": found.grade, "craft": visible(found.craft)}
        if found.rests:
            out["properties"]["unconfirmed"] = [visible(name) for name in found.rests]
        if held:
            out["properties"]["more"] = [
                {"ruleId": one.rule, "fingerprint": one.print} for one in held
            ]
        if found.cause in self.held:
            out["properties"]["followsFrom"] = found.cause
        if found.cure is not None:
            out["properties"]["cure"] = cure_of(found.cure)
        if found.picture:
            out["properties"]["picture"] = [visible(row) for row in found.picture.split("\n")]
        return out

    def verdict(self, verdict: Verdict) -> Json:
        craft = verdict.craft or verdict.file
        if verdict.lacks or verdict.state == "unknown":
            kind = "open"
            facts = ", ".join(lack.text for lack in verdict.lacks) or "a fact that it does not name"
            part = "Part of " if verdict.state == "broken" else ""
            text = f"{part}`{verdict.rule}` cannot be told for {craft}: it needs {facts}"
        elif verdict.state == "holds":
            kind, text = "pass", f"`{verdict.rule}` holds for {craft}"
        else:
            kind = "notApplicable"
            reason = f": {verdict.reason}" if verdict.reason else ""
            text = f"`{verdict.rule}` is not for {craft}{reason}"
        out = self.result(verdict.rule, kind, message(sentence(text)))
        if verdict.whole is not None:
            out["locations"] = [self.location(verdict.whole, None, verdict.craft)]
        else:
            out["locations"] = [self.file_location(verdict.file, verdict.craft)]
        out["partialFingerprints"] = {
            "cfglint/v1": fingerprint(
                verdict.rule, self.homes.get(verdict.file) or verdict.file, f"{craft}: {kind}", 0
            ),
            "primaryLocationLineHash": verdict.line_hash or LineHashes("").of(1),
        }
        out["properties"] = {"craft": visible(verdict.craft)}
        if verdict.lacks:
            out["properties"]["missing"] = [
                {"fact": visible(lack.fact), "where": lack.where} for lack in verdict.lacks
            ]
        if verdict.rests:
            out["properties"]["unconfirmed"] = [visible(name) for name in verdict.rests]
        return out

    def not_read(self, trouble: Trouble) -> Json:
        text = sentence(trouble.message)
        if trouble.instead:
            text += f" Instead: {sentence(trouble.instead)}"
        out = self.result(NOT_READ, "fail", message(text))
        out["level"] = "error"
        if trouble.span is not None:
            out["locations"] = [self.location(trouble.span, None)]
        else:
            out["locations"] = [self.file_location(trouble.file)]
        # Nothing of the file was read, so its hash is that of an empty text.
        out["partialFingerprints"] = {
            "cfglint/v1": fingerprint(NOT_READ, trouble.file, "", 0),
            "primaryLocationLineHash": LineHashes("").of(1),
        }
        return out

    def rule_index(self, rule: str) -> int:
        place = self.index.get(rule)
        if place is None:
            place = self.index[rule] = len(self.rules)
            self.rules.append(own_descriptor(rule))
        return place

    # ------------------------------------------------------------ places

    def artifact(self, file: str) -> Json:
        """Where a file is: relative to the hangar, or absolute when it lies outside."""
        from posixpath import join, normpath

        root = normpath(self.run.root or "/").rstrip("/") + "/"
        path = normpath(join(root, file))
        if not path.startswith(root):
            return {"uri": "file://" + percent_encoded(path)}
        inside = join(self.prefix, path[len(root) :])
        return {"uri": percent_encoded(inside), "uriBaseId": BASE}

    def file_location(self, file: str, craft: str = "") -> Json:
        """A file as a whole: the place before its first character, which every file has."""
        out: Json = {
            "physicalLocation": {
                "artifactLocation": self.artifact(file),
                "region": region(Span(file, 1, 1, 1, 1)),
            }
        }
        if craft:
            out["logicalLocations"] = [{"name": visible(craft), "kind": "resource"}]
        return out

    def location(self, span: Span, excerpt: Excerpt | None, craft: str = "") -> Json:
        out = self.file_location(span.file, craft)
        physical = out["physicalLocation"]
        physical["region"] = region(span)
        if excerpt is not None and (snippet := snippet_of(excerpt, span)) is not None:
            physical["region"]["snippet"] = {"text": snippet}
            lines = lines_of(excerpt, span)
            around: Json = {
                "startLine": span.line,
                "startColumn": 1,
                "endLine": span.end_line,
                "endColumn": len(lines[-1]) + 1,
                "snippet": {"text": clean("\n".join(lines))},
            }
            # The lines that the region is on, unless it covers them whole.
            if around["snippet"]["text"] != snippet:
                physical["contextRegion"] = around
        return out

    def fix(self, edits: Iterable[Edit], about: str) -> Json | None:
        by_file: dict[str, list[Json]] = {}
        for edit in edits:
            if clean(edit.text) != edit.text:
                return None  # bytes that are no text cannot be written as SARIF text
            change: Json = {"deletedRegion": region(edit.span)}
            if edit.text:
                change["insertedContent"] = {"text": edit.text}
            by_file.setdefault(edit.span.file, []).append(change)
        return {
            "description": message(sentence(about)),
            "artifactChanges": [
                {"artifactLocation": self.artifact(file), "replacements": changes}
                for file, changes in by_file.items()
            ],
        }

    def suppression(self, accepted: Accepted, file: str) -> Json:
        inside = accepted.span is not None and accepted.span.file == file
        out: Json = {
            "kind": "inSource" if inside else "external",
            "status": "accepted",
            "justification": visible(accepted.reason),
        }
        if accepted.span is not None:
            out["location"] = self.location(accepted.span, None)
        out["properties"] = {
            name: visible(text)
            for name, text in (("by", accepted.by), ("until", accepted.until))
            if text
        }
        return out

    def artifacts(self) -> list[Json]:
        out: dict[str, Json] = {}
        for craft in self.run.crafts:
            out[craft.file] = {
                "location": self.artifact(craft.file),
                "roles": ["analysisTarget"],
                "properties": {
                    "craft": visible(craft.name),
                    "dialect": visible(craft.dialect),
                    "firmware": visible(craft.firmware),
                },
            }
            if craft.card:
                out.setdefault(craft.card, {"location": self.artifact(craft.card)})
        return list(out.values())

    # ------------------------------------------------------------ the run as a whole

    def invocation(self, results: int) -> Json:
        code = self.run.exit_code()
        execution: list[Json] = []
        configuration: list[Json] = []
        for trouble in self.run.troubles:
            if trouble.kind == "crash":
                execution.append(self.notification(trouble))
            elif trouble.kind != "file":
                configuration.append(self.notification(trouble))
        for one in self.run.aside:
            notice = self.notice("aside", "note", sentence(one.text))
            if one.rule in self.index:
                notice["associatedRule"] = {"id": one.rule, "index": self.index[one.rule]}
            if one.span is not None:
                notice["locations"] = [self.location(one.span, None)]
            configuration.append(notice)
        if results > MOST_RESULTS:
            execution.append(
                self.notice(
                    "many",
                    "warning",
                    f"There are {results} results; some viewers take {MOST_RESULTS} and no more. "
                    "Check parts of the hangar in runs of their own.",
                )
            )
        if any(verdict.rests for verdict in self.run.verdicts):
            execution += self.unconfirmed()
        if self.hosted and (left_out := self.left_out()):
            execution.append(self.notice("left-out", "note", left_out))
        out: Json = {
            "executionSuccessful": code < 2,
            "exitCode": code,
            "exitCodeDescription": EXITS.get(code, "see the notifications"),
        }
        if execution:
            out["toolExecutionNotifications"] = execution
        if configuration:
            out["toolConfigurationNotifications"] = configuration
        return out

    def notification(self, trouble: Trouble) -> Json:
        text = sentence(trouble.message)
        if trouble.instead:
            text += f" Instead: {sentence(trouble.instead)}"
        out = self.notice(trouble.kind, "error" if trouble.exit >= 2 else "warning", text)
        if trouble.rule in self.index:
            out["associatedRule"] = {"id": trouble.rule, "index": self.index[trouble.rule]}
        if trouble.span is not None:
            out["locations"] = [self.location(trouble.span, None)]
        elif trouble.file:
            out["locations"] = [self.file_location(trouble.file)]
        if trouble.detail:
            out["exception"] = {
                "message": "\n".join(visible(row) for row in trouble.detail.rstrip().split("\n"))
            }
        return out

    def notice(self, kind: str, level: str, text: str) -> Json:
        if kind not in self.notices:
            self.notices.append(kind)
        return {
            "descriptor": {"id": NOTICES[kind][0], "index": self.notices.index(kind)},
            "level": level,
            "message": message(text),
        }

    def unconfirmed(self) -> Iterator[Json]:
        """For each craft, what rests on unconfirmed mappings; by name, what holds among it."""
        from cfglint.report.unsure import INSTEAD, by_craft

        for craft, rows in by_craft(self.run):
            told = "; ".join(
                f"{one.text}, marked in {one.mark}: {one.counts()}"
                if one.mark
                else f"{one.text}: {one.counts()}"
                for one in rows
            )
            text = f"{craft.name or craft.file} rests on unconfirmed mappings: {told}"
            out = self.notice("unsure", "warning", f"{sentence(text)} Instead: {sentence(INSTEAD)}")
            out["locations"] = [self.file_location(craft.file, craft.name)]
            out["properties"] = {
                "craft": visible(craft.name),
                "holdsUnconfirmed": {
                    visible(one.name): [v.rule for v in one.verdicts if v.state == "holds"]
                    for one in rows
                },
            }
            yield out

    def left_out(self) -> str:
        """What the hosted profile does not show, in words; empty when nothing."""
        counts = self.counts()
        parts = [
            f"{counts[key]} {words}"
            for key, words in (
                ("accepted", "accepted"),
                ("follow", "that follow from others"),
                ("unknown", "unknown for want of a fact"),
                ("holds", "that hold"),
                ("notForThisCraft", "not for the craft"),
            )
            if counts.get(key)
        ]
        if not parts:
            return ""
        return f"Left out by this profile: {', '.join(parts)}."

    def counts(self) -> Json:
        states = {"holds": 0, "broken": 0, "unknown": 0, "not for this craft": 0}
        for verdict in self.run.verdicts:
            states[verdict.state] += 1
        return {
            "crafts": len(self.run.crafts),
            "rules": len(self.run.rules),
            "holds": states["holds"],
            "broken": states["broken"],
            "unknown": states["unknown"],
            "notForThisCraft": states["not for this craft"],
            "accepted": sum(found.accepted is not None for found in self.run.found),
            **({"follow": sum(map(len, self.held.values()))} if self.held else {}),
            **self.resting(),
        }

    def resting(self) -> Json:
        if not any(verdict.rests for verdict in self.run.verdicts):
            return {}
        from cfglint.report.unsure import resting

        return {"unconfirmed": len(resting(self.run))}
