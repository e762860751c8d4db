"""A letter's HTML as blocks that can be set on paper: what is mailed and what is printed are one text.

It reads the few elements that our letters are made of and knows no other: one that it does not know is a mistake in
the template, told by its name, and never a line that is missing on paper.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from app.domain.problems import OursToMend

Run = dict[str, Any]  # {"text": …, "bold": …} or {"break": True}
Block = dict[str, Any]

_HEADINGS = {"h1": 1, "h2": 2, "h3": 3}
_WITHIN = ("b", "strong", "span", "small")  # what runs are made of
_AROUND = ("html", "body", "div")  # what says nothing by itself
_SILENT = ("head", "title", "style")
_EMPTY = ("meta", "br", "img")
_KNOWN = {
    *_HEADINGS, *_WITHIN, *_AROUND, *_SILENT, *_EMPTY, "p", "ul", "li", "blockquote", "table", "thead", "tbody", "tr",
    "th", "td",
}  # fmt: skip


@dataclass
class _Node:
    tag: str
    attrs: Mapping[str, str]
    inside: list[_Node | str] = field(default_factory=list)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = _Node("", {})
        self._open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in _KNOWN:
            raise OursToMend(f"<{tag}> in a letter: app/print/blocks.py does not know how to print it")
        node = _Node(tag, {name: value or "" for name, value in attrs})
        self._open[-1].inside.append(node)
        if tag not in _EMPTY:
            self._open.append(node)

    def handle_endtag(self, tag: str) -> None:
        if self._open[-1].tag != tag:
            raise OursToMend(f"</{tag}> in a letter closes <{self._open[-1].tag}>")
        self._open.pop()

    def handle_data(self, data: str) -> None:
        self._open[-1].inside.append(data)


def blocks_of(html: str) -> list[Block]:
    """The blocks of a letter in order.

    heading {level, runs} · paragraph {runs} · quote {runs} · list {items: [runs]} · picture {name, words} · photos
    {items: [{name, words, instead}]} · table {columns, head: [cell], rows: [[cell]]}, a cell {runs, head, right}.
    Raises: OursToMend for an element that no letter of ours has.
    """
    reader = _Reader()
    reader.feed(html)
    reader.close()
    if reader._open[-1] is not reader.root:
        raise OursToMend(f"<{reader._open[-1].tag}> in a letter is never closed")
    return _photos_together(_blocks(reader.root))


def _blocks(node: _Node) -> list[Block]:
    found: list[Block] = []
    for one in node.inside:
        if isinstance(one, str):
            if one.strip():
                raise OursToMend(f"words outside of any paragraph in a letter: {one.strip()[:40]!r}")
        elif one.tag in _AROUND:
            found += _blocks(one)
        elif one.tag not in _SILENT and one.tag != "meta":
            found.append(_block(one))
    return found


def _block(node: _Node) -> Block:
    if node.tag in _HEADINGS:
        return {"kind": "heading", "level": _HEADINGS[node.tag], "runs": _runs(node)}
    match node.tag:
        case "p":
            return {"kind": "paragraph", "runs": _runs(node)}
        case "blockquote":
            return {"kind": "quote", "runs": _runs(node)}
        case "ul":
            return {"kind": "list", "items": [_runs(one) for one in _elements(node, "li")]}
        case "table":
            return _table(node)
        case "img":
            scheme, _, name = node.attrs.get("src", "").partition(":")
            if scheme not in ("cid", "photo") or not name:
                raise OursToMend(f"a picture in a letter is cid:NAME or photo:HASH, not {node.attrs.get('src')!r}")
            words, instead = node.attrs.get("alt", ""), node.attrs.get("title", "")
            return {"kind": "picture" if scheme == "cid" else "photo", "name": name, "words": words, "instead": instead}
        case _:
            raise OursToMend(f"<{node.tag}> in a letter stands where a paragraph should")


def _table(node: _Node) -> Block:
    head = [_cell(cell) for part in _elements(node, "thead") for row in _elements(part, "tr") for cell in _cells(row)]
    rows = [[_cell(cell) for cell in _cells(row)] for part in _elements(node, "tbody") for row in _elements(part, "tr")]
    columns = len(head) or (len(rows[0]) if rows else 0)
    if any(len(row) != columns for row in rows):
        raise OursToMend("a table in a letter has rows of unequal length")
    return {"kind": "table", "columns": columns, "head": head, "rows": rows}


def _cell(node: _Node) -> Block:
    style = node.attrs.get("style", "").replace(" ", "")
    return {"runs": _runs(node), "head": node.tag == "th", "right": "text-align:right" in style}


def _cells(row: _Node) -> list[_Node]:
    return [one for one in row.inside if isinstance(one, _Node) and one.tag in ("th", "td")]


def _elements(node: _Node, tag: str) -> list[_Node]:
    return [one for one in node.inside if isinstance(one, _Node) and one.tag == tag]


def _runs(node: _Node) -> list[Run]:
    """The words within, white space as a browser shows it."""
    runs: list[Run] = []
    _collect(node, False, runs)
    return _trimmed(runs)


def _collect(node: _Node, bold: bool, runs: list[Run]) -> None:
    for one in node.inside:
        if isinstance(one, str):
            runs.append({"text": one, "bold": bold})
        elif one.tag == "br":
            runs.append({"break": True})
        elif one.tag in _WITHIN:
            plain = "font-weight:normal" in one.attrs.get("style", "").replace(" ", "")
            _collect(one, (bold or one.tag in ("b", "strong")) and not plain, runs)
        else:
            raise OursToMend(f"<{one.tag}> in a letter stands among words")


def _trimmed(runs: list[Run]) -> list[Run]:
    found: list[Run] = []
    at_edge = True  # a blank here would not be seen
    for one in runs:
        if "break" in one:
            _cut_blank(found)
            found.append(one)
            at_edge = True
            continue
        text = " ".join(one["text"].split())
        before = " " if one["text"][:1].isspace() and not at_edge else ""
        after = " " if text and one["text"][-1:].isspace() else ""
        if text:
            found.append({**one, "text": before + text + after})
            at_edge = bool(after)
        elif before:
            found.append({**one, "text": " "})
            at_edge = True
    _cut_blank(found)
    while found and "break" in found[-1]:
        found.pop()
        _cut_blank(found)
    return found


def _cut_blank(runs: list[Run]) -> None:
    while runs and "text" in runs[-1]:
        text = runs[-1]["text"].rstrip(" ")
        if text:
            runs[-1] = {**runs[-1], "text": text}
            return
        runs.pop()


def _photos_together(blocks: list[Block]) -> list[Block]:
    found: list[Block] = []
    for one in blocks:
        if one["kind"] != "photo":
            found.append(one)
            continue
        photo = {"name": one["name"], "words": one["words"], "instead": one["instead"]}
        if found and found[-1]["kind"] == "photos":
            found[-1]["items"].append(photo)
        else:
            found.append({"kind": "photos", "items": [photo]})
    return found
