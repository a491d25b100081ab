"""What a SARIF log must keep to that its schema does not say.

Written from the standard's text (SARIF 2.1.0 with errata 01, OASIS; section numbers below), not
from cfglint.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

# A JSON object read back.
Json = dict[str, Any]

LINK = re.compile(r"(?<!\\)\[(?:\\.|[^\[\]\\])+\]\((\d+)\)")


def walk(node: Any, path: str = "") -> Iterator[tuple[str, Json]]:
    """Every object of a log with the path to it."""
    if isinstance(node, dict):
        yield path, node
        for key, value in node.items():
            yield from walk(value, f"{path}/{key}")
    elif isinstance(node, list):
        for number, value in enumerate(node):
            yield from walk(value, f"{path}/{number}")


def trouble(log: Json, files: Mapping[str, str] | None = None) -> list[str]:
    """What is wrong with a log; ``files`` are the texts that its regions speak of."""
    out: list[str] = []
    for run in log["runs"]:
        out += _rules(run)
        out += _results(run)
        out += _places(run, files or {})
        out += _notifications(run)
    return out


def _rules(run: Json) -> Iterator[str]:
    driver = run["tool"]["driver"]
    for kind in ("rules", "notifications"):
        ids = [row["id"] for row in driver.get(kind, [])]
        if len(set(ids)) != len(ids):
            yield f"{kind} with one id (3.19.23, 3.19.24)"
        for row in driver.get(kind, []):
            for part in ("shortDescription", "fullDescription", "help"):
                if not row.get(part, {}).get("text"):
                    yield f"{row['id']} has no {part}"
            if not row.get("help", {}).get("markdown"):
                yield f"{row['id']} has no help in Markdown"
            if not row["shortDescription"]["text"].endswith((".", "!", "?")):
                yield f"{row['id']}: a description is no sentence"
            tags = row.get("properties", {}).get("tags", [])
            if len(tags) > 10 or len(set(tags)) != len(tags):
                yield f"{row['id']}: too many tags, or one twice"
    for row in driver["rules"]:
        if row["defaultConfiguration"]["level"] not in ("error", "warning", "note"):
            yield f"{row['id']}: no level"


def _results(run: Json) -> Iterator[str]:
    results = run["results"]
    rules = run["tool"]["driver"]["rules"]
    marks: list[tuple[str, str]] = []
    for number, result in enumerate(results):
        name = f"result {number}"
        if rules[result["ruleIndex"]]["id"] != result["ruleId"]:
            yield f"{name}: ruleIndex is not that of ruleId (3.27.6)"
        if (result["kind"] == "fail") != ("level" in result):
            yield f"{name}: a level, and kind {result['kind']} (3.27.10)"
        if not result["message"]["text"].strip():
            yield f"{name}: no message"
        if len(result["locations"]) != 1:
            yield f"{name}: not one location"
        prints = result.get("partialFingerprints", {})
        if set(prints) != {"cfglint/v1", "primaryLocationLineHash"}:
            yield f"{name}: fingerprints {sorted(prints)}"
        if not re.fullmatch(r"[0-9a-f]+:[1-9][0-9]*", prints["primaryLocationLineHash"]):
            yield f"{name}: {prints['primaryLocationLineHash']} is no line hash"
        marks.append((result["ruleId"], prints["cfglint/v1"]))
        related = {row["id"] for row in result.get("relatedLocations", [])}
        linked = {int(found) for found in LINK.findall(result["message"]["text"])}
        if linked != related:
            yield f"{name}: links to {linked}, related locations {related} (3.11.6)"
        for row in result.get("suppressions", []):
            if not row.get("justification"):
                yield f"{name}: suppressed without a reason"
    if len(set(marks)) != len(marks):
        yield "two results with one fingerprint (3.27.17)"
    for key in ("suppressions", "baselineState"):
        if len({key in result for result in results}) > 1:
            yield f"{key} on some results only (3.27.23, 3.27.24)"


def split(text: str) -> list[str]:
    return re.split(r"\r\n|\n|\r", text)


def cut(text: str, region: Json) -> str | None:
    """The text of a region counted in code points, or None where it passes the end."""
    lines = split(text)
    first, last = region["startLine"], region["endLine"]
    if not 1 <= first <= last <= len(lines):
        return None
    start, end = region["startColumn"], region["endColumn"]
    if not 1 <= start <= len(lines[first - 1]) + 1 or not 1 <= end <= len(lines[last - 1]) + 1:
        return None
    if first == last:
        return lines[first - 1][start - 1 : end - 1] if start <= end else None
    return "\n".join(
        [lines[first - 1][start - 1 :], *lines[first : last - 1], lines[last - 1][: end - 1]]
    )


def _places(run: Json, files: Mapping[str, str]) -> Iterator[str]:
    if run.get("columnKind") != "unicodeCodePoints":
        yield "no columnKind (3.14.17)"
    bases = run.get("originalUriBaseIds", {})
    for path, node in walk(run):
        if "uri" in node:
            parts = urlsplit(node["uri"])
            if ".." in parts.path.split("/") or not re.fullmatch(r"[!-~]*", node["uri"]):
                yield f"{path}: {node['uri']} is no URI reference without dots (3.10.2)"
            if parts.scheme and "uriBaseId" in node:
                yield f"{path}: absolute, yet with a base (3.4.4)"
            if not parts.scheme and node.get("uriBaseId") not in bases:
                yield f"{path}: base {node.get('uriBaseId')} is not declared (3.14.14)"
        if "region" in node and "artifactLocation" in node:
            yield from _regions(path, node, files)


def _regions(path: str, node: Json, files: Mapping[str, str]) -> Iterator[str]:
    text = files.get(unquote(node["artifactLocation"]["uri"]))
    region, around = node["region"], node.get("contextRegion")
    for kind, item in (("region", region), ("contextRegion", around)):
        if item is None:
            continue
        if set(item) - {"snippet"} != {"startLine", "startColumn", "endLine", "endColumn"}:
            yield f"{path}: {kind} is not full"
        if text is None:
            continue
        found = cut(text, item)
        if found is None:
            yield f"{path}: {kind} passes the end of the file (3.30)"
        elif "snippet" in item and item["snippet"]["text"] != found:
            yield f"{path}: {kind} says {item['snippet']['text']!r}, the file {found!r} (3.30.13)"
    if around is not None:
        inner = (region["startLine"], region["startColumn"], region["endLine"], region["endColumn"])
        outer = (around["startLine"], around["startColumn"], around["endLine"], around["endColumn"])
        if not (outer[:2] <= inner[:2] and inner[2:] <= outer[2:] and inner != outer):
            yield f"{path}: contextRegion is no proper superset (3.29.5)"


def _notifications(run: Json) -> Iterator[str]:
    driver = run["tool"]["driver"]
    (invocation,) = run["invocations"]
    for kind in ("toolExecutionNotifications", "toolConfigurationNotifications"):
        for row in invocation.get(kind, []):
            about = driver["notifications"][row["descriptor"]["index"]]
            if about["id"] != row["descriptor"]["id"]:
                yield f"{kind}: the descriptor's index is not that of its id (3.52.4)"
            rule = row.get("associatedRule")
            if rule is not None and driver["rules"][rule["index"]]["id"] != rule["id"]:
                yield f"{kind}: the rule's index is not that of its id (3.52.4)"
            if row["level"] == "error" and invocation["executionSuccessful"]:
                yield f"{kind}: an error, yet successful"
