"""Chains in motion under loads, and small bows to let go."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from limbfe.beam import Bow, BowString, Chain, Hold, brace, draw
from limbfe.beam.shot.energy import energies
from limbfe.beam.shot.lumps import node_masses
from limbfe.beam.shot.parts import Load, Motion, ShotModel, new_scratch
from limbfe.beam.shot.run import Record, copy_motion, keep, new_record
from limbfe.beam.shot.step import accept, predict, take_step
from limbfe.frames import SECTION_IN_GLOBAL


def straight_chain(
    elements: int,
    *,
    length: float = 1.0,
    axial: float = 1e6,
    shear: float = 1e6,
    bending: float = 1.0,
    mass: float = 1.0,
    inertia: float = 1e-9,
    start: tuple = (0.0, 0.0),
    direction: float = 0.0,
) -> Chain:
    """A uniform chain in the X-Y plane, bending about z."""
    s = np.linspace(0.0, length, elements + 1)
    c, d = np.cos(direction), np.sin(direction)
    stiffness, masses = np.zeros((elements, 2, 6, 6)), np.zeros((elements, 2, 6, 6))
    for i, value in enumerate([axial, shear, shear, bending, bending, bending]):
        stiffness[..., i, i] = value
    for i, value in enumerate([mass] * 3 + [inertia] * 3):
        masses[..., i, i] = value
    turn = np.array([[c, -d, 0.0], [d, c, 0.0], [0.0, 0.0, 1.0]])
    return Chain(
        positions=np.column_stack([start[0] + c * s, start[1] + d * s, 0.0 * s]),
        rotations=np.broadcast_to(turn, (elements + 1, 3, 3)),
        stiffness=stiffness,
        mass=masses,
    )


def march(
    model: ShotModel,
    motion: Motion,
    steps: int,
    h: float,
    *,
    wrench: Callable[[float, np.ndarray], None] | None = None,
    turn: Callable[[float], float] | None = None,
) -> tuple[Record, int]:
    """Steps of a chain; `wrench` fills the loads half-way, `turn` is the grip's angle about z.

    Returns the record and the most iterations that a step took.
    """
    work, now = new_scratch(model), motion.copy()
    new, record, most = now.copy(), new_record(model, steps + 1), 0
    load = Load(np.zeros((len(model.mass), 6)), np.zeros(6))
    keep(0.0, now, work, record, 0)
    for k in range(steps):
        if wrench is not None:
            wrench((k + 0.5) * h, load.wrench)
        if turn is not None:
            load.grip_step[5] = turn((k + 1) * h) - turn(k * h)
        predict(model, load, now, new, work, 1.0)
        found = take_step(model, 0.0, load, now, new, work, h)
        assert found >= 0, f"step {k} did not converge"
        most = max(most, found)
        accept(now, new, work)
        copy_motion(new, now)
        keep((k + 1) * h, now, work, record, k + 1)
    return record, most


def total_energy(model: ShotModel, record: Record) -> np.ndarray:
    return energies(model, record, np.zeros(len(record.time))).total


def small_bow(
    elements: int = 6,
    *,
    density: float = 700.0,
    modulus: float = 12e9,
    stiffness: float = 40e3,
    string_mass: float = 6e-3,
    uneven: float = 0.0,
    sideways: float = 0.0,
    kind: str = "clamp",
    shear_ratio: float = 15.0,
) -> Bow:
    """A flat bow of 1.6 m, tapering from 36 by 15 mm to 14 by 10 mm; its own invention."""
    half, grip = 0.8, 0.05
    z = np.concatenate(
        [np.linspace(-half, -grip, elements + 1), np.linspace(grip, half, elements + 1)]
    )
    n = len(z)
    middle = 0.5 * (z[1:] + z[:-1])
    points = middle[:, None] + np.diff(z)[:, None] * np.array([-0.5, 0.5]) / np.sqrt(3.0)
    share = np.clip((np.abs(points) - grip) / (half - grip), 0.0, 1.0)
    width = 0.036 - 0.022 * share
    depth = (0.015 - 0.005 * share) * (1.0 + uneven * np.sign(points))
    area = width * depth
    k, m = np.zeros((n - 1, 2, 6, 6)), np.zeros((n - 1, 2, 6, 6))
    shear = modulus / shear_ratio
    i_y, i_z = width * depth**3 / 12.0, depth * width**3 / 12.0
    terms = [modulus * area, shear * area * 5 / 6, shear * area * 5 / 6]
    terms += [shear * 0.3 * width * depth**3, modulus * i_y, modulus * i_z]
    for i, value in enumerate(terms):
        k[..., i, i] = value
    for i, value in enumerate([area, area, area, i_y + i_z, i_y, i_z]):
        m[..., i, i] = density * value
    chain = Chain(
        positions=np.column_stack([0.0 * z, sideways * (np.abs(z) - grip).clip(0.0), z]),
        rotations=np.broadcast_to(SECTION_IN_GLOBAL, (n, 3, 3)),
        stiffness=k,
        mass=m,
    )
    return Bow(
        chain=chain,
        clamped=[elements, elements + 1],
        string=BowString(
            stiffness=stiffness, mass=string_mass, nock_lower=np.zeros(3), nock_upper=np.zeros(3)
        ),
        hold=Hold(kind=kind, point=np.zeros(3)),
        grip_belly=np.zeros(3),
        grip_back=np.zeros(3),
        arrow_z=0.0,
    )


def full_draw(bow: Bow, length: float = 0.6, height: float = 0.15):
    """Braced and fully drawn state."""
    braced = brace(bow, height=height)
    return braced, draw(bow, braced, np.linspace(braced.draw_length, length, 13)[1:]).states[-1]


def rigid_limbs(string_stiffness: float, *, string_mass: float = 0.0, root: float = 2e-4) -> Bow:
    """Rigid limbs of 0.75 m hinged at 0.1 m above and below the middle: 400 N m/rad, 0.02 kg m2.

    A hinge is an element of length `root`, what is rigid has 1e11 N and N m2.
    """
    g, length, spring, inertia = 0.10, 0.75, 400.0, 0.02
    up = np.array([g - root / 2, g + root / 2, g + length])
    z = np.concatenate([-up[::-1], up])
    k, m = np.zeros((5, 2, 6, 6)), np.zeros((5, 2, 6, 6))
    for i in range(6):
        k[:, :, i, i] = 1e11
        # a short element need not be as stiff, and its forces would be lost in rounding
        k[[1, 3], :, i, i] = 2e8
    k[[1, 3], :, 4, 4] = spring * root
    for i in range(6):
        m[[0, 4], :, i, i] = 1.0 if i < 3 else 1e-6

    def chain(mass: np.ndarray) -> Chain:
        return Chain(
            positions=np.column_stack([0.0 * z, 0.0 * z, z]),
            rotations=np.broadcast_to(SECTION_IN_GLOBAL, (6, 3, 3)),
            stiffness=k,
            mass=mass,
        )

    found = 0.0
    for node, body in enumerate(node_masses(chain(m))[4:], start=4):
        # unit turn about the hinge: section z is -X
        speed = np.array([0.0, 0.0, -(z[node] - g), 0.0, 1.0, 0.0])
        found += speed @ body @ speed
    return Bow(
        chain=chain(m * inertia / found),
        clamped=[2, 3],
        string=BowString(
            stiffness=string_stiffness, mass=string_mass,
            nock_lower=np.zeros(3), nock_upper=np.zeros(3),
        ),
        hold=Hold(kind="clamp", point=np.zeros(3)),
        grip_belly=np.zeros(3),
        grip_back=np.zeros(3),
        arrow_z=0.0,
    )  # fmt: skip
