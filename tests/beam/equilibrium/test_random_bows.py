"""2,000 random but buildable bows: every one is solved, or refused for a reason that holds.

Wooden bows of 1.2 to 2.1 m, width and thickness falling by several laws, reflex up to 80 mm (all
along the limb or near its tip), uneven limbs, soft spots off the middle line that couple bending
with twist and sideways bending, braced 100 to 200 mm high and drawn up to 0.8 m, held in all ways.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from limbfe.beam import (
    Bow,
    BowState,
    BowString,
    Chain,
    Hold,
    StringBed,
    brace,
    draw,
    gauss_positions,
)
from limbfe.beam.equilibrium.state import path_of
from limbfe.beam.limbs.element import assemble
from limbfe.beam.model import BORDER, DRAW, POINT, PULL, TENSION, Task, new_work
from limbfe.beam.string.course import deepened
from limbfe.beam.string.equations import string_equations
from limbfe.beam.string.hold import line_of_pull
from limbfe.beam.strung.bracing import bend, brace_on, way_from_rest
from limbfe.errors import ConvergenceError
from limbfe.frames import Array
from tests.many import many

from ..make import rectangle
from ..strung.recurved import limb_nodes

ELEMENTS = 14


@dataclass(frozen=True)
class Order:
    """A bow and what is asked of it."""

    bow: Bow
    height: float
    draw_length: float
    reflex: float
    thickness: Array


def taper(rng: np.random.Generator, share: np.ndarray, root: float, tip: float) -> np.ndarray:
    """Share 0 at the grip to 1 at the tip: straight, convex, hollow, or parallel first."""
    law = rng.integers(4)
    if law == 3:
        share = np.clip((share - 0.5) / 0.5, 0.0, 1.0)
    power = (1.0, rng.uniform(1.2, 3.0), rng.uniform(0.5, 0.9), 1.0)[law]
    return root - (root - tip) * share**power


def soft_spot(rng: np.random.Generator, stiffness: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Take a strip of wood at a random side of some section away."""
    place, reach = rng.uniform(-0.7, 0.7), rng.uniform(0.01, 0.05)
    hit = np.exp(-(((at - place) / reach) ** 2)) * rng.uniform(0.05, 0.35)
    width = np.sqrt(12.0 * stiffness[..., 5, 5] / stiffness[..., 0, 0])
    depth = np.sqrt(12.0 * stiffness[..., 4, 4] / stiffness[..., 0, 0])
    y, z = rng.uniform(-0.4, 0.4) * width, rng.uniform(-0.4, 0.4) * depth
    axial = np.zeros((*at.shape, 6))
    axial[..., 0], axial[..., 4], axial[..., 5] = 1.0, z, -y
    shear = np.zeros((*at.shape, 6))
    shear[..., 1], shear[..., 3] = 1.0, -z
    for rows, modulus in ((axial, stiffness[..., 0, 0]), (shear, stiffness[..., 1, 1])):
        lost = (hit * modulus)[..., None, None] * rows[..., :, None] * rows[..., None, :]
        stiffness = stiffness - 0.5 * lost
    # grain that runs out: bending turns the limb
    out = np.sqrt(stiffness[..., 3, 3] * stiffness[..., 4, 4]) * rng.uniform(-0.3, 0.3) * hit
    stiffness[..., 3, 4] += out
    stiffness[..., 4, 3] += out
    return stiffness


def random_order(rng: np.random.Generator) -> Order:
    length = rng.uniform(1.2, 2.1)
    uneven = rng.uniform(-0.04, 0.04) * length
    grip = rng.choice([0.0, rng.uniform(0.03, 0.12)])
    edge = 0.5 * grip
    lower = np.linspace(-0.5 * length + uneven, -edge, ELEMENTS + 1)
    upper = np.linspace(edge, 0.5 * length + uneven, ELEMENTS + 1)
    x = np.concatenate([lower, upper if grip > 0.0 else upper[1:]])
    at = gauss_positions(x)
    reach = np.where(at < 0.0, 0.5 * length - uneven, 0.5 * length + uneven) - edge
    share = np.clip((np.abs(at) - edge) / reach, 0.0, 1.0)
    width = taper(rng, share, rng.uniform(0.028, 0.055), rng.uniform(0.010, 0.016))
    # as a bowyer would: thicker for a longer bow
    root = rng.uniform(0.008, 0.014) * length + 0.003
    thickness = taper(rng, share, root, root * rng.uniform(0.5, 0.85))
    thickness = np.minimum(thickness, 0.9 * width) * np.where(
        at < 0.0, rng.uniform(0.95, 1.05), 1.0
    )
    E = rng.uniform(7e9, 16e9)
    stiffness = rectangle(width, thickness, E, E / rng.uniform(12.0, 20.0))
    for _ in range(rng.integers(4)):
        stiffness = soft_spot(rng, stiffness, at)
    reflex = rng.choice([0.0, rng.uniform(0.0, 0.08), rng.uniform(-0.02, 0.0)])
    bend, side = rng.uniform(1.5, 4.0), rng.normal(scale=0.003)
    s = np.clip(np.abs(x) - edge, 0.0, None) / (0.5 * length)
    slope = -reflex * bend * s ** (bend - 1.0) / (0.5 * length) * np.sign(x)
    positions = np.column_stack([-reflex * s**bend, side * np.sin(3.0 * s), x])
    c, d = np.cos(np.arctan(slope)), np.sin(np.arctan(slope))
    o = np.zeros_like(c)
    rotations = np.stack(
        [np.column_stack([d, o, c]), np.column_stack([o, o + 1, o]), np.column_stack([-c, o, d])], 2
    )
    hand = rng.uniform(-0.03, 0.0) if grip > 0.0 else 0.0
    half = 0.5 * root
    kind = str(rng.choice(["hand", "clamp", "tiller"]))
    height = rng.uniform(0.10, 0.20)
    bow = Bow(
        chain=Chain(positions=positions, rotations=rotations, stiffness=stiffness, mass=stiffness),
        clamped=(ELEMENTS, ELEMENTS + 1) if grip > 0.0 else ELEMENTS,
        string=BowString(
            stiffness=rng.uniform(20e3, 100e3),
            mass=6e-3,
            nock_lower=np.array([0.0, 0.0, rng.uniform(-0.004, 0.004)]),
            nock_upper=np.array([0.0, rng.uniform(-0.001, 0.001), rng.uniform(-0.004, 0.004)]),
        ),
        hold=Hold(kind=kind, point=np.array([half, 0.0, hand]), half_length=edge),
        grip_belly=np.array([half, 0.0, 0.0]),
        grip_back=np.array([-half, 0.0, 0.0]),
        arrow_z=rng.uniform(0.0, 0.05),
    )
    draw_length = min(0.8, 0.45 * length) * rng.uniform(0.75, 1.0)
    deep = np.interp(x, at.ravel(), thickness.ravel())
    return Order(bow, height, max(draw_length, height + 0.12), reflex, deep)


def recurved_order(rng: np.random.Generator) -> Order:
    """Bend the outer limbs of a random bow to the back, by 10 to 60 degrees, from somewhere between
    the grip and 0.85 of the limb on, and let the string, tied there, lie on the belly.
    """
    order = random_order(rng)
    bow, edge = order.bow, order.bow.hold.half_length
    chain, x = bow.chain, np.array(bow.chain.positions[:, 2])
    start, turn, power = rng.uniform(0.0, 0.85), rng.uniform(0.17, 1.05), rng.uniform(1.0, 2.0)
    positions, rotations = np.array(chain.positions), np.array(chain.rotations)
    for sign in (-1.0, 1.0):
        mine = np.flatnonzero(sign * x >= edge - 1e-12)[:: int(sign)]
        out = sign * x[mine]
        share = (out - edge) / (out[-1] - edge)
        bent = turn * np.clip((share - start) / (1.0 - start), 0.0, None) ** power
        places, angle = limb_nodes(out[0], np.diff(bent), np.diff(out))
        for node, place, a in zip(mine, places, angle, strict=True):
            positions[node, [0, 2]] = place[0], sign * place[1]
            along, y = np.array([-sign * np.sin(a), 0.0, np.cos(a)]), np.array([0.0, 1.0, 0.0])
            rotations[node] = np.column_stack([along, y, np.cross(along, y)])
    arm, slope = np.zeros((len(x), 3)), np.zeros((len(x), 2))
    arm[:, 2] = -0.5 * order.thickness
    slope[:, 1] = np.gradient(arm[:, 2], x)
    # beside a stiff grip or none the belly counts as level: no string comes near it
    slope[np.abs(x) <= edge + 1e-9] = 0.0
    bent_bow = replace(
        bow,
        chain=Chain(
            positions=positions, rotations=rotations, stiffness=chain.stiffness, mass=chain.mass
        ),
        string=replace(bow.string, nock_lower=arm[0], nock_upper=arm[-1]),
        bed=StringBed(arm=arm, slope=slope),
    )
    return replace(order, bow=bent_bow)


def in_plane(order: Order) -> Order:
    """Return a bow that nothing bends, turns or pulls sideways."""
    bow, chain = order.bow, order.bow.chain
    positions, stiffness = np.array(chain.positions), np.array(chain.stiffness)
    positions[:, 1] = 0.0
    own, aside = np.array([0, 2, 4]), np.array([1, 3, 5])
    stiffness[..., own[:, None], aside] = stiffness[..., aside[:, None], own] = 0.0
    flat = Chain(
        positions=positions, rotations=chain.rotations, stiffness=stiffness, mass=stiffness
    )
    return replace(order, bow=replace(bow, chain=flat))


def work_error(order: Order, steps: int) -> tuple[float, float]:
    """Largest residual and energy balance of a draw (work: spline of force over travel)."""
    bow = order.bow
    braced = brace(bow, height=order.height)
    lengths = np.linspace(braced.draw_length + 0.06, order.draw_length, steps + 1)
    history = draw(bow, braced, lengths)
    states = history.states
    travel = np.array([s.travel for s in states])
    work = float(CubicSpline(travel, history.force).integrate(travel[0], travel[-1]))
    change = history.energy[-1] - history.energy[0]
    residual = max(s.residuals[-1] for s in (braced, *states))
    return residual, abs(work / change - 1.0)


def lowest_eigenvalue(bow: Bow, state: BowState) -> float:
    """Second method for stability: the dense Hessian with the string's stretch, g kept.

    The travel is eliminated by projection; no use is made of the solver's factorisation or of its
    count of pivots.
    """
    matrix = dense_hessian(bow, state)
    if state.draw_force != 0.0:
        path = path_of(bow, state)[0]
        direction = np.zeros(len(matrix))
        direction[-3:] = line_of_pull(bow.model, path.border)[1]
        project = np.eye(len(matrix)) - np.outer(direction, direction)
        matrix = project @ matrix @ project + 1e6 * np.outer(direction, direction)
    return float(np.linalg.eigvalsh(matrix)[0])


def dense_hessian(bow: Bow, state: BowState) -> Array:
    """Second derivatives of the energy by all free nodes' increments and the nocking point.

    The tensions are eliminated: they follow the stretch.
    """
    path, n = path_of(bow, state)[0], len(bow.chain.positions)
    model = deepened(bow.model, path)
    diag, off, force = np.zeros((n, 6, 6)), np.zeros((n - 1, 6, 6)), np.zeros((n, 6))
    law = (model.stiffness, model.offset, model.length)
    assemble(path.rotations, path.positions, *law, 0, model.lower, diag, off, force)
    assemble(path.rotations, path.positions, *law, model.upper, n - 1, diag, off, force)
    work = new_work(model)
    string_equations(model, path, Task(DRAW, state.draw_length, 1.0), work)
    a = work.symmetric
    full = np.zeros((6 * n + 3, 6 * n + 3))
    blocks = full[: 6 * n, : 6 * n].reshape(n, 6, n, 6)
    nodes = np.arange(n)
    blocks[nodes, :, nodes, :] = 0.5 * (diag + np.swapaxes(diag, 1, 2))
    blocks[nodes[:-1], :, nodes[1:], :] = off
    blocks[nodes[1:], :, nodes[:-1], :] = np.swapaxes(off, 1, 2)
    depth = np.arange(model.kept)
    ends = np.concatenate([depth, n - 1 - depth])
    at = np.concatenate([6 * n + np.arange(3), (6 * ends[:, None] + np.arange(6)).ravel()])
    moving, tensions = [*range(POINT, TENSION), *range(BORDER, len(a))], slice(TENSION, PULL)
    spring = bow.string.stiffness / state.string_lengths
    full[np.ix_(at, at)] += a[np.ix_(moving, moving)]
    full[np.ix_(at, at)] += a[moving, tensions] @ np.diag(spring) @ a[tensions, moving]
    free = [i for i in range(6 * n + 3) if not 6 * model.lower <= i < 6 * (model.upper + 1)]
    return full[np.ix_(free, free)]


def confirmed(order: Order, error: ConvergenceError) -> bool:
    """Whether a second look agrees that the bow cannot be used so."""
    bow, text = order.bow, str(error)
    if "bracing" in text:
        # from a higher, easier brace downwards the bow must have kicked over before
        for height in np.arange(order.height + 0.12, order.height + 0.005, -0.01):
            try:
                state = brace(bow, height=height)
            except ConvergenceError:
                continue
            if lowest_eigenvalue(bow, state) < 0.0 or leans(bow, state):
                return True
        return folds(order)
    braced = brace(bow, height=order.height)
    if not braced.stable:
        return lowest_eigenvalue(bow, braced) < 0.0
    assert error.draw_length is not None
    if "stability" in text:
        lengths = error.draw_length + np.array([-1e-3, 1e-3])
        if lengths[0] < braced.draw_length + 1e-3:
            lengths = lengths[1:]
        states = draw(bow, braced, lengths, unstable="follow").states
        signs = [lowest_eigenvalue(bow, state) > 0.0 for state in states]
        return signs[-1] is False and (len(signs) == 1 or signs[0])
    # the path ends in a fold: the bow leans over just before
    return leans(bow, error.last_state)


def folds(order: Order) -> bool:
    """Whether braced lower and lower a bow comes to an end at which nothing holds it any more.

    Its least stiffness there falls as the root of what is left of the way: to a tenth of that of
    20 mm before in the last 0.2 mm.
    """
    bow, seen, step = order.bow, {}, 0.004
    state = brace(bow, height=order.height + 0.12)
    while step > 5e-6:
        height = max(state.brace_height - step, order.height)
        try:
            state = brace_on(bow, state, height=height)
        except ConvergenceError:
            step *= 0.5
            continue
        if height == order.height:
            return False
        seen[state.brace_height] = lowest_eigenvalue(bow, state)
        if seen[state.brace_height] < 0.0:
            return True
    before = min(value for height, value in seen.items() if height > state.brace_height + 0.02)
    return seen[state.brace_height] < 0.1 * before


def leans(bow: Bow, state: BowState) -> bool:
    """Whether a bow has turned well out of its plane."""
    return bool(np.ptp(state.positions[:, 1]) > 0.03 * bow.model.size)


def outcome(order: Order) -> str:
    # on the cradle the force has a kink where the bow begins to rock: more and shorter steps
    tiller = order.bow.hold.kind == "tiller"
    allowed = 5e-6 if tiller else 1e-6
    try:
        residual, balance = work_error(order, 240 if tiller else 60)
        if balance > allowed and not tiller:
            # its slope has one where the string lifts off
            residual, balance = work_error(order, 240)
    except ConvergenceError as error:
        kind = "brace refused" if "bracing" in str(error) else "draw refused"
        kind = "unstable" if "stab" in str(error) else kind
        return kind if confirmed(order, error) else f"{kind}, not confirmed: {error}"
    if not residual < 1e-9:
        return f"residual {residual:.1e}"
    return "solved" if balance < allowed else f"energy {order.bow.hold.kind} {balance:.1e}"


FINE = {"solved", "unstable", "brace refused", "draw refused"}
"""Solved to 1e-9 with balanced energy, or refused and the refusal confirmed another way."""


def test_forty_random_bows():
    rng = np.random.default_rng(11)
    counts = Counter(outcome(random_order(rng)) for _ in range(40))
    assert counts.keys() <= FINE, counts
    assert counts["solved"] >= 36


@pytest.mark.slow
def test_hundreds_of_random_bows():
    rng, count = np.random.default_rng(2024), many(300)
    counts = Counter(outcome(random_order(rng)) for _ in range(count))
    print(dict(counts))
    assert counts.keys() <= FINE, counts
    # reflexed and narrow bows turn over; of 2,000 it were 59, and 4 were refused otherwise
    assert counts["solved"] > 0.94 * count


@pytest.mark.slow
def test_random_recurves_in_their_plane():
    """Half of them turn over: limbs are bent back by up to 60 degrees whatever they are made of."""
    rng, count = np.random.default_rng(8), many(12)
    counts = Counter(outcome(in_plane(recurved_order(rng))) for _ in range(count))
    print(dict(counts))
    assert counts.keys() <= FINE, counts
    assert counts["solved"] > 0.25 * count


@pytest.mark.slow
def test_random_recurves_bent_aside():
    """Soft spots off the middle and uneven limbs take the string 2 to 7 mm out of the plane."""
    rng, count = np.random.default_rng(8), many(12)
    counts = Counter(outcome(recurved_order(rng)) for _ in range(count))
    print(dict(counts))
    assert counts.keys() <= FINE, counts
    assert counts["solved"] > 0.25 * count


@pytest.mark.slow
def test_braced_in_one_step_or_in_twelve_a_bow_is_the_same():
    """A step that jumped would end in another balance, kicked over and stable there (420 bows)."""
    rng, met = np.random.default_rng(7), 0
    for _ in range(many(30)):
        order = recurved_order(rng)
        bow = order.bow
        try:
            state = brace(bow, height=order.height)
        except ConvergenceError:
            continue
        if state.stable:
            point = bend(way_from_rest(bow, bow.model), bow.model.bed, order.height, 12)
            assert point is not None
            assert point.path.positions == pytest.approx(state.positions, abs=1e-9)
            met += 1
    assert met > 15
