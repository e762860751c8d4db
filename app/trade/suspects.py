"""Which part may be at fault: a noisy-OR over parts and signs, exact, and what else would tell most.

A part is at fault or it is not, each by itself, with a chance to begin with. A sign (a test that speaks against a part,
a complaint) shows itself by its leak, or because a part at fault brings it out, each independently of the others:
P(sign) = 1 - (1 - leak) * product over the parts at fault of (1 - link). That is all the model knows; it ranks, and it
never decides. The weights come from a table that says whose judgement they are.

Source: Pearl, Probabilistic Reasoning in Intelligent Systems, 1988, section 4.3.2 (noisy-OR; from memory); the sum over
subsets of the positive signs: Heckerman, "A tractable inference algorithm for diagnosing multiple diseases", 1989 (from
memory). Checked against an independent exact library in the tests, not against these.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import combinations, product

from app.trade.problems import CannotTell, OutOfRange

# The sum over subsets loses a digit for each tenfold that the shared signs are unlikely, given everything else that was
# seen. Past this they contradict the whole table, and what is left of the digits is not told.
LEAST_CHANCE = 1e-10


@dataclass(frozen=True, slots=True)
class Part:
    """A part that may be at fault. prior: its chance before anything was seen."""

    key: str
    prior: float


@dataclass(frozen=True, slots=True)
class Sign:
    """Something that can be seen. links: how likely each part, at fault, brings it out by itself."""

    key: str
    leak: float
    links: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Weight:
    """What one sign does to one part. by: what the part's figure loses without it; never below 0 for a sign that
    speaks for the part, never above 0 for one that came out clean. yields: another part explains it, so that the exact
    figure would have gone the other way; the rank then leaves the part where it was."""

    sign: str
    speaks_for: bool
    by: float
    yields: bool = False


@dataclass(frozen=True, slots=True)
class Suspect:
    """A part with its figure for the rank, the exact chance, what it began with, and what moved it.

    by_others: what the figure owes to signs that have nothing to do with this part: others ruled out raise it, others
    found out lower it.
    """

    part: str
    figure: float
    exact: float
    prior: float
    weights: tuple[Weight, ...]
    by_others: float


@dataclass(frozen=True)
class Network:
    """Parts and signs. Raises: OutOfRange for a chance that is none, or a sign that names a part that is not here."""

    parts: tuple[Part, ...]
    signs: tuple[Sign, ...]
    _memo: dict[object, float] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        known = {one.key for one in self.parts}
        if len(known) != len(self.parts) or len({one.key for one in self.signs}) != len(self.signs):
            raise OutOfRange("names", "every part and every sign has one name of its own")
        for part in self.parts:
            if not 0 < part.prior < 1:
                raise OutOfRange("prior", f"{part.key}: a prior lies between 0 and 1, got {part.prior}")
        for sign in self.signs:
            if not 0 < sign.leak < 1 or not all(0 <= link < 1 for link in sign.links.values()):
                raise OutOfRange("links", f"{sign.key}: leak and links lie between 0 and 1, the leak above 0")
            if not sign.links.keys() <= known:
                raise OutOfRange("links", f"{sign.key}: names a part that is not here")

    @cached_property
    def priors(self) -> Mapping[str, float]:
        return {one.key: one.prior for one in self.parts}

    @cached_property
    def sign_by_key(self) -> Mapping[str, Sign]:
        return {one.key: one for one in self.signs}


Seen = Mapping[str, bool]


def chance(network: Network, seen: Seen, fixed: Mapping[str, bool] | None = None) -> float:
    """The chance of seeing exactly this (True: it showed itself; False: it was looked for and did not).

    fixed: parts taken to be at fault, or not. Their own prior counts in it.
    Raises: OutOfRange for a sign that is not in the network.
    """
    odds = {key: (1 - prior, prior) for key, prior in network.priors.items()}
    for key, at_fault in (fixed or {}).items():
        odds[key] = (0.0, odds[key][1]) if at_fault else (odds[key][0], 0.0)
    least, shown = 1.0, []
    for key, value in seen.items():
        sign = network.sign_by_key.get(key)
        if sign is None:
            raise OutOfRange("seen", f"{key} is no sign of this network")
        if value and len(sign.links) > 1:
            shown.append(sign)
            continue
        if value:
            # Of one part alone: no sum is needed, and a car on which much is worn loses no digits.
            least *= sign.leak if not sign.links else 1
            for part, link in sign.links.items():
                no, yes = odds[part]
                odds[part] = (no * sign.leak, yes * (1 - (1 - sign.leak) * (1 - link)))
            continue
        least *= 1 - sign.leak
        for part, link in sign.links.items():
            odds[part] = (odds[part][0], odds[part][1] * (1 - link))
    return least * _all_shown(network, odds, tuple(shown))


_Odds = Mapping[str, tuple[float, float]]


def _all_shown(network: Network, odds: _Odds, shown: tuple[Sign, ...]) -> float:
    """The chance that every one of these signs shows itself. Groups that share no part are reckoned apart."""
    total = 1.0
    free = dict(odds)
    for group in _groups(shown):
        parts = sorted({part for sign in group for part in sign.links})
        its = tuple((part, *free.pop(part)) for part in parts)
        key = its, tuple(sign.key for sign in group)
        if key not in network._memo:
            if len(network._memo) > 50_000:
                network._memo.clear()
            network._memo[key] = _group_shown(network, {part: (no, yes) for part, no, yes in its}, group)
        total *= network._memo[key]
    return total * math.prod(no + yes for no, yes in free.values())


def _group_shown(network: Network, odds: _Odds, group: tuple[Sign, ...]) -> float:
    """P(this and the rest) = P(the rest) - P(the rest, and this one does not show itself)."""
    widest = max(group, key=lambda sign: (len(sign.links), sign.key))
    rest = tuple(sign for sign in group if sign is not widest)
    without = {
        part: (no, yes * (1 - widest.links[part])) if part in widest.links else (no, yes)
        for part, (no, yes) in odds.items()
    }
    return _all_shown(network, odds, rest) - (1 - widest.leak) * _all_shown(network, without, rest)


def _groups(signs: tuple[Sign, ...]) -> list[tuple[Sign, ...]]:
    groups: list[tuple[set[str], list[Sign]]] = []
    for sign in signs:
        parts, members = set(sign.links), [sign]
        apart = []
        for others, theirs in groups:
            if others & parts:
                parts |= others
                members = [*theirs, *members]
            else:
                apart.append((others, theirs))
        groups = [*apart, (parts, members)]
    return [tuple(sorted(members, key=lambda sign: sign.key)) for _, members in groups]


def posterior(network: Network, seen: Seen, parts: Iterable[str] | None = None) -> dict[str, float]:
    """The exact chance of each part being at fault, given what was seen.

    Raises: CannotTell when what was seen is next to impossible by the table.
    """
    whole = _whole(network, seen)
    keys = network.priors if parts is None else parts
    return {key: _between(chance(network, seen, {key: True}) / whole) for key in keys}


def _whole(network: Network, seen: Seen) -> float:
    whole = chance(network, seen)
    apart = {key: value for key, value in seen.items() if not (value and len(network.sign_by_key[key].links) > 1)}
    if whole < LEAST_CHANCE * chance(network, apart):
        raise CannotTell("seen", "needs signs that the table can bring together")
    return whole


def _between(value: float) -> float:
    return min(1.0, max(0.0, value))


# --- The rank -------------------------------------------------------------------------------------------------------


def figure(network: Network, seen: Seen, part: str) -> float:
    """The part's figure for the rank: the exact chance, guarded.

    Exactly reckoned, a second sign that two parts share can take one of them down, because the other explains both; and
    a shared test that comes out clean can push one up. For somebody who looks for a fault that is the wrong way round:
    here what speaks for a part never lowers it, and a clean test of it never raises it. So the figure is the highest
    chance over what may be left out of the shared signs that speak for it, of the lowest over the clean ones.

    Where no sign is shared the figure is the exact chance. The work doubles with each shared sign of the part that was
    seen; a test of the table holds these to a handful.

    Source: house rule.
    """
    shared = [key for key in seen if len(network.sign_by_key[key].links) > 1 and _touches(network, key, part)]
    if not shared:
        return posterior(network, seen, (part,))[part]
    rest = {key: value for key, value in seen.items() if key not in shared}
    against = [key for key in shared if seen[key]]
    clean = [key for key in shared if not seen[key]]

    def exact(some: Sequence[str]) -> float:
        return posterior(network, {**rest, **{key: seen[key] for key in some}}, (part,))[part]

    return max(min(exact((*kept, *left)) for left in _subsets(clean)) for kept in _subsets(against))


def _touches(network: Network, sign: str, part: str) -> bool:
    return network.sign_by_key[sign].links.get(part, 0) > 0


def _subsets(keys: Sequence[str]) -> list[tuple[str, ...]]:
    return [some for size in range(len(keys) + 1) for some in combinations(keys, size)]


def rank(network: Network, seen: Seen, explained: int = 8) -> tuple[Suspect, ...]:
    """Every part, the most suspect first; the first few with what moved them.

    Raises: CannotTell as `posterior`.
    """
    exact = posterior(network, seen)
    figures = {part.key: figure(network, seen, part.key) for part in network.parts}
    order = sorted(network.parts, key=lambda one: (-round(figures[one.key], 9), one.key))
    return tuple(
        _suspect(network, seen, one, figures[one.key], exact[one.key], with_weights=place < explained)
        for place, one in enumerate(order)
    )


def _suspect(
    network: Network, seen: Seen, part: Part, its_figure: float, exact: float, *, with_weights: bool
) -> Suspect:
    if not with_weights:
        return Suspect(part.key, its_figure, exact, part.prior, (), 0.0)
    touching = [key for key in seen if _touches(network, key, part.key)]
    weights = [_weight(network, seen, part.key, key, its_figure, exact) for key in touching]
    alone = figure(network, {key: seen[key] for key in touching}, part.key)
    weights.sort(key=lambda one: (-abs(one.by), one.sign))
    return Suspect(part.key, its_figure, exact, part.prior, tuple(weights), its_figure - alone)


def _weight(network: Network, seen: Seen, part: str, sign: str, its_figure: float, exact: float) -> Weight:
    without = {key: value for key, value in seen.items() if key != sign}
    by = its_figure - figure(network, without, part)
    moved = exact - posterior(network, without, (part,))[part]
    return Weight(sign, seen[sign], by, (moved < -1e-9) if seen[sign] else (moved > 1e-9))


# --- The next most telling test -------------------------------------------------------------------------------------


def expected_gain(network: Network, seen: Seen, signs: Sequence[str]) -> float:
    """How much seeing these signs together is expected to tell about all parts at once, in bits.

    The mutual information of the signs and the parts, given what was seen: what the signs leave open now, less what
    they would leave open if every part were known. A test that has several signs gives them all.
    Raises: OutOfRange for a sign seen already; CannotTell as `posterior`.
    """
    if any(key in seen for key in signs):
        raise OutOfRange("signs", "needs signs that have not been seen yet")
    whole = _whole(network, seen)
    outcomes = (dict(zip(signs, values, strict=True)) for values in product((True, False), repeat=len(signs)))
    open_now = sum(_bits(chance(network, {**seen, **outcome}) / whole) for outcome in outcomes)
    return max(0.0, open_now - sum(_open_if_known(network, seen, whole, key) for key in signs))


def _open_if_known(network: Network, seen: Seen, whole: float, key: str) -> float:
    """What a sign would still leave open on average if it were known which of its parts are at fault."""
    sign = network.sign_by_key[key]
    parts = [part for part, link in sign.links.items() if link > 0]
    total = 0.0
    for values in product((True, False), repeat=len(parts)):
        fixed = dict(zip(parts, values, strict=True))
        silent = (1 - sign.leak) * math.prod(1 - sign.links[part] for part, bad in fixed.items() if bad)
        total += chance(network, seen, fixed) / whole * (_bits(silent) + _bits(1 - silent))
    return total


def _bits(share: float) -> float:
    return -share * math.log2(share) if share > 0 else 0.0


def with_prior(network: Network, part: str, prior: float) -> Network:
    """The same network with another chance to begin with for one part."""
    return replace(network, parts=tuple(replace(one, prior=prior) if one.key == part else one for one in network.parts))
