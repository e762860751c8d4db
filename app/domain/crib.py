"""The crib's tools as a gate asks for them: by tag, with what speaks against each, and which others would do. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.domain.dates import date_words
from app.domain.packet import Choice

# No tag begins with it: the answer for a tool that is not in the crib's list.
NOT_LISTED = "-"


@dataclass(frozen=True, slots=True)
class CribTool:
    """A tool that bears something. `bears` is what one of them is good for, in the small unit of its kind.

    rating_words: the rating as its label says it. due_on, due_end_ms: the last day it is in date and when that day
    ends by the shop's clock; "" and None where nobody wrote one down. needs_date: its kind has to be inspected.
    """

    tag: str
    kind: str
    name: str
    bears: int
    rating_words: str
    due_on: str
    due_end_ms: int | None
    needs_date: bool
    fault: str


def tool_choices(tools: Sequence[CribTool], load: int | None) -> tuple[tuple[Choice, ...], str]:
    """A choice for each tool, those that would do first, and a sentence naming these.

    load: what it has to bear; None while that is not known: then the gate is shut by the check that asks for it.
    A date that passes later is not in `passes`: it is ruled on when the gate is answered.
    """
    against = {tool.tag: why_not(tool, load) for tool in tools}
    fit = [tool for tool in tools if not against[tool.tag]]
    unfit = [tool for tool in tools if against[tool.tag]]
    choices = (
        *(Choice(one.tag, _fit_words(one), True, one.due_end_ms) for one in fit),
        *(Choice(one.tag, f"{one.tag}, {one.name}: {against[one.tag]}", False) for one in unfit),
        Choice(NOT_LISTED, "Another one, or no tag I can read", False),
    )
    named = ", ".join(f"{one.tag} (until {date_words(one.due_on)})" if one.due_on else one.tag for one in fit)
    return choices, f"In the crib these would do: {named}." if fit else "None in the crib would do: ask the foreman."


def why_not(tool: CribTool, load: int | None) -> str:
    """What speaks against a tool whatever the day, in words; "" when nothing does."""
    if tool.fault:
        return f"tagged out: {tool.fault}"
    if tool.needs_date and not tool.due_on:
        return "nobody has written down an inspection"
    if load is not None and tool.bears < load:
        return f"too weak, its label says {tool.rating_words}"
    return ""


def _fit_words(tool: CribTool) -> str:
    dated = f", in date until {date_words(tool.due_on)}" if tool.due_on else ""
    return f"{tool.tag}, {tool.name}: {tool.rating_words}{dated}"
