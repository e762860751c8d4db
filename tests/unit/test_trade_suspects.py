"""The noisy-OR of suspects: against an independent exact library on made-up truths, and by its laws.

The library is pyAgrum (LazyPropagation, exact; noisy-OR nodes of its own). pgmpy, which was looked at first, brings
PyTorch with it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise, product

import pyagrum
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from app.trade.problems import CannotTell, OutOfRange
from app.trade.suspects import (
    Network,
    Part,
    Sign,
    chance,
    expected_gain,
    figure,
    posterior,
    rank,
    with_prior,
)

CLOSE = 1e-9


# --- Made-up networks and truths -----------------------------------------------------------------------------------

chances = st.integers(10, 950).map(lambda thousandths: thousandths / 1_000)
leaks = st.integers(20, 300).map(lambda thousandths: thousandths / 1_000)


@st.composite
def networks(draw: st.DrawFn, most_parts: int = 6, most_signs: int = 7) -> Network:
    parts = [f"p{one}" for one in range(draw(st.integers(1, most_parts)))]
    signs = []
    for number in range(draw(st.integers(1, most_signs))):
        its = draw(st.lists(st.sampled_from(parts), min_size=1, max_size=4, unique=True))
        signs.append(Sign(f"s{number}", draw(leaks), {part: draw(chances) for part in its}))
    return Network(tuple(Part(part, draw(chances)) for part in parts), tuple(signs))


@st.composite
def cases(draw: st.DrawFn) -> tuple[Network, dict[str, bool]]:
    """A network and what was seen of a truth drawn from it: the parts at fault, and the signs that they bring out."""
    network = draw(networks())
    at_fault = {one.key: draw(st.floats(0, 1)) < one.prior for one in network.parts}
    seen = {}
    for sign in network.signs:
        silent = (1 - sign.leak) * math.prod(1 - link for part, link in sign.links.items() if at_fault[part])
        if draw(st.booleans()):
            seen[sign.key] = draw(st.floats(0, 1)) >= silent
    return network, seen


def the_library(network: Network, seen: Mapping[str, bool]) -> pyagrum.LazyPropagation:
    """The same network in the library's own terms. Net is the form whose arc weight leaves the leak out."""
    net = pyagrum.BayesNet()
    for part in network.parts:
        net.add(pyagrum.LabelizedVariable(part.key, part.key, 2))
        net.cpt(part.key).fillWith([1 - part.prior, part.prior])
    for sign in network.signs:
        net.addNoisyORNet(pyagrum.LabelizedVariable(sign.key, sign.key, 2), sign.leak)
        for part, link in sign.links.items():
            net.addWeightedArc(part, sign.key, link)
    engine = pyagrum.LazyPropagation(net)
    engine.setEvidence({key: int(value) for key, value in seen.items()})
    return engine


@given(cases())
@settings(max_examples=150, deadline=None)
def test_every_part_has_the_chance_that_the_library_gives(case: tuple[Network, dict[str, bool]]) -> None:
    network, seen = case
    engine = the_library(network, seen)
    engine.makeInference()

    assert chance(network, seen) == pytest.approx(engine.evidenceProbability(), rel=1e-7, abs=1e-12)
    for part, found in posterior(network, seen).items():
        assert found == pytest.approx(engine.posterior(part)[1], abs=CLOSE)


@given(cases(), st.data())
@settings(max_examples=80, deadline=None)
def test_what_a_test_is_expected_to_tell_is_what_the_library_gives(
    case: tuple[Network, dict[str, bool]], data: st.DataObject
) -> None:
    """Mutual information of one sign and its parts together, which is that of the sign and all parts."""
    network, seen = case
    left = [one for one in network.signs if one.key not in seen]
    assume(left)
    sign = data.draw(st.sampled_from(left))
    engine = the_library(network, seen)
    parts = sorted(sign.links)
    engine.addJointTarget({sign.key, *parts})
    engine.makeInference()
    joint = engine.jointPosterior({sign.key, *parts})

    told = 0.0
    for values in product((0, 1), repeat=len(parts)):
        where = dict(zip(parts, values, strict=True))
        both = [joint[{**where, sign.key: shows}] for shows in (0, 1)]
        for shows in (0, 1):
            if both[shows] > 0:
                told += both[shows] * math.log2(both[shows] / (sum(both) * engine.posterior(sign.key)[shows]))

    assert expected_gain(network, seen, (sign.key,)) == pytest.approx(max(0.0, told), abs=1e-8)


@given(cases(), st.data())
@settings(max_examples=60, deadline=None)
def test_two_signs_of_one_test_tell_together_what_the_library_gives(
    case: tuple[Network, dict[str, bool]], data: st.DataObject
) -> None:
    network, seen = case
    left = [one for one in network.signs if one.key not in seen]
    assume(len(left) >= 2)
    first, second = data.draw(st.permutations(left))[:2]
    parts = sorted({*first.links, *second.links})
    engine = the_library(network, seen)
    names = {first.key, second.key, *parts}
    engine.addJointTarget(names)
    engine.makeInference()
    joint = engine.jointPosterior(names)
    shown = joint.sumIn([first.key, second.key])
    whose = joint.sumIn(parts)

    told = 0.0
    for values in product((0, 1), repeat=len(parts) + 2):
        where = dict(zip((first.key, second.key, *parts), values, strict=True))
        if (at := joint[where]) > 0:
            its = {key: where[key] for key in (first.key, second.key)}
            told += at * math.log2(at / (shown[its] * whose[{part: where[part] for part in parts}]))

    assert expected_gain(network, seen, (first.key, second.key)) == pytest.approx(max(0.0, told), abs=1e-8)


# --- Laws ------------------------------------------------------------------------------------------------------------


@given(cases(), st.data())
@settings(max_examples=150, deadline=None)
def test_what_speaks_for_a_part_never_lowers_it_and_a_clean_test_never_raises_it(
    case: tuple[Network, dict[str, bool]], data: st.DataObject
) -> None:
    network, seen = case
    left = [one for one in network.signs if one.key not in seen]
    assume(left)
    sign = data.draw(st.sampled_from(left))

    for part in sign.links:
        before = figure(network, seen, part)
        assert figure(network, {**seen, sign.key: True}, part) >= before - CLOSE
        assert figure(network, {**seen, sign.key: False}, part) <= before + CLOSE


@given(cases(), st.data())
@settings(max_examples=100, deadline=None)
def test_a_sign_of_one_part_alone_moves_the_exact_chance_its_own_way(
    case: tuple[Network, dict[str, bool]], data: st.DataObject
) -> None:
    network, seen = case
    left = [one for one in network.signs if one.key not in seen and len(one.links) == 1]
    assume(left)
    sign = data.draw(st.sampled_from(left))
    (part,) = sign.links
    before = posterior(network, seen)[part]

    assert posterior(network, {**seen, sign.key: True})[part] >= before - CLOSE
    assert posterior(network, {**seen, sign.key: False})[part] <= before + CLOSE


@given(networks(), st.data())
@settings(max_examples=80, deadline=None)
def test_where_no_sign_is_shared_the_figure_is_the_exact_chance(network: Network, data: st.DataObject) -> None:
    own = tuple(one for one in network.signs if len(one.links) == 1)
    assume(own)
    alone = Network(network.parts, own)
    seen = {one.key: data.draw(st.booleans()) for one in own}

    exact = posterior(alone, seen)

    assert {one.part: one.figure for one in rank(alone, seen)} == pytest.approx(exact)


@given(cases())
@settings(max_examples=60, deadline=None)
def test_nothing_hangs_on_the_order_in_which_it_is_told(case: tuple[Network, dict[str, bool]]) -> None:
    network, seen = case
    turned = Network(network.parts[::-1], network.signs[::-1])
    backwards = dict(reversed(seen.items()))

    assert [one.part for one in rank(network, seen)] == [one.part for one in rank(turned, backwards)]
    assert posterior(turned, backwards) == pytest.approx(posterior(network, seen), abs=CLOSE)


@given(cases())
@settings(max_examples=60, deadline=None)
def test_each_sign_s_weight_goes_its_own_way_and_the_most_suspect_comes_first(
    case: tuple[Network, dict[str, bool]],
) -> None:
    network, seen = case
    ranked = rank(network, seen)

    assert sorted(one.part for one in ranked) == sorted(one.key for one in network.parts)
    assert all(0 <= one.figure <= 1 for one in ranked)
    assert all(a.figure >= b.figure - 1e-8 for a, b in pairwise(ranked))
    for suspect in ranked:
        touching = {key for key in seen if suspect.part in network.sign_by_key[key].links}
        assert {one.sign for one in suspect.weights} == touching
        for one in suspect.weights:
            assert one.by >= -CLOSE if one.speaks_for else one.by <= CLOSE


@given(cases(), st.data())
@settings(max_examples=60, deadline=None)
def test_a_test_never_tells_less_than_nothing_nor_more_than_it_can_show(
    case: tuple[Network, dict[str, bool]], data: st.DataObject
) -> None:
    network, seen = case
    left = [one.key for one in network.signs if one.key not in seen]
    assume(left)
    some = data.draw(st.lists(st.sampled_from(left), min_size=1, max_size=3, unique=True))

    assert 0 <= expected_gain(network, seen, some) <= len(some) + CLOSE


@given(cases(), st.integers(1, 40))
@settings(max_examples=40, deadline=None)
def test_a_part_more_likely_to_begin_with_never_ends_lower(case: tuple[Network, dict[str, bool]], more: int) -> None:
    network, seen = case
    part = network.parts[0]
    likelier = with_prior(network, part.key, min(0.99, part.prior + more / 1_000))

    assert posterior(likelier, seen)[part.key] >= posterior(network, seen)[part.key] - CLOSE


# --- By hand ----------------------------------------------------------------------------------------------------------


def test_two_parts_that_share_a_sign_by_hand() -> None:
    """Priors 0.1 and 0.2, links 0.8 and 0.5, leak 0.1. P(sign) = 1 - 0.9 x (1 - 0.1 x 0.8) x (1 - 0.2 x 0.5)
    = 1 - 0.9 x 0.92 x 0.9 = 0.2548. P(sign | a) = 1 - 0.9 x 0.2 x 0.9 = 0.838, so P(a | sign) = 0.0838 / 0.2548.
    """
    network = Network((Part("a", 0.1), Part("b", 0.2)), (Sign("s", 0.1, {"a": 0.8, "b": 0.5}),))

    assert chance(network, {"s": True}) == pytest.approx(0.2548)
    assert posterior(network, {"s": True})["a"] == pytest.approx(0.0838 / 0.2548)
    # Not shown: the odds of each are multiplied by what is left of its link.
    assert posterior(network, {"s": False})["b"] == pytest.approx(0.2 * 0.5 / (0.8 + 0.2 * 0.5))


def test_ruling_another_part_out_raises_the_one_that_is_left() -> None:
    network = Network(
        (Part("a", 0.1), Part("b", 0.3)),
        (Sign("noise", 0.05, {"a": 0.6, "b": 0.6}), Sign("play_b", 0.02, {"b": 0.9})),
    )

    before, after = (figure(network, seen, "a") for seen in ({"noise": True}, {"noise": True, "play_b": False}))

    assert after > before
    first = rank(network, {"noise": True, "play_b": False})[0]
    assert first.part == "a"
    assert first.by_others > 0


def test_a_shared_sign_that_another_part_explains_is_told_and_does_not_lower() -> None:
    """The second sign points at b above all. Exactly reckoned it takes a down, since b now explains the first."""
    network = Network(
        (Part("a", 0.2), Part("b", 0.2)),
        (Sign("first", 0.02, {"a": 0.6, "b": 0.6}), Sign("second", 0.02, {"a": 0.05, "b": 0.95})),
    )
    seen = {"first": True}
    both = {"first": True, "second": True}
    assert posterior(network, both)["a"] < posterior(network, seen)["a"]

    suspect = next(one for one in rank(network, both) if one.part == "a")

    assert suspect.figure == pytest.approx(posterior(network, seen)["a"])
    assert next(one for one in suspect.weights if one.sign == "second").yields
    assert suspect.exact == pytest.approx(posterior(network, both)["a"])


def test_a_car_on_which_everything_is_worn_is_told_all_the_same() -> None:
    """Forty parts, each with its own test gone against it, and one complaint they share: about 1 in 10 to the 40."""
    parts = tuple(Part(f"p{one}", 0.1) for one in range(40))
    own = tuple(Sign(f"s{one}", 0.02, {f"p{one}": 0.9}) for one in range(40))
    complaint = Sign("complaint", 0.1, {one.key: 0.3 for one in parts})
    network = Network(parts, (*own, complaint))

    exact = posterior(network, {one.key: True for one in network.signs})

    # With so many at fault the complaint says nothing more: each is as its own test leaves it, 0.0902 to 0.018.
    assert exact["p7"] == pytest.approx(0.1 * 0.902 / (0.1 * 0.902 + 0.9 * 0.02), abs=1e-4)


# --- Refusals ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "parts",
    [
        (Part("a", 0.0),),
        (Part("a", 1.0),),
        (Part("a", math.nan),),
        (Part("a", 0.1), Part("a", 0.2)),
    ],
)
def test_parts_that_cannot_be_are_refused(parts: tuple[Part, ...]) -> None:
    with pytest.raises(OutOfRange):
        Network(parts, ())


@pytest.mark.parametrize(
    "sign",
    [
        Sign("s", 0.0, {"a": 0.5}),
        Sign("s", 0.1, {"a": 1.0}),
        Sign("s", 0.1, {"a": -0.1}),
        Sign("s", 0.1, {"nobody": 0.5}),
        Sign("s", math.nan, {"a": 0.5}),
    ],
)
def test_signs_that_cannot_be_are_refused(sign: Sign) -> None:
    with pytest.raises(OutOfRange):
        Network((Part("a", 0.1),), (sign,))


def test_a_sign_nobody_knows_and_one_seen_already_are_refused() -> None:
    network = Network((Part("a", 0.1),), (Sign("s", 0.1, {"a": 0.5}),))

    with pytest.raises(OutOfRange):
        chance(network, {"other": True})
    with pytest.raises(OutOfRange):
        expected_gain(network, {"s": True}, ("s",))


def test_what_the_table_can_hardly_bring_together_is_said_and_not_reckoned() -> None:
    signs = tuple(Sign(f"s{one}", 0.001, {"a": 0.001, "b": 0.001}) for one in range(5))
    network = Network((Part("a", 0.001), Part("b", 0.001)), signs)

    with pytest.raises(CannotTell):
        posterior(network, {one.key: True for one in signs})
