"""A zone's problem as it would be in a wider limb, at another place across it, or filled."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from limbfe.defect.plate.body import PlateBody
from limbfe.defect.plate.wood import Left, Softening
from limbfe.defect.strip import Ellipse, Strip
from limbfe.failure.problem import DepthLayer, LocalProblem
from limbfe.frames import Array
from limbfe.stave.decay import Decay
from limbfe.stave.knot_wood import EPOXY, FILLER_POISSON
from limbfe.stave.stave import with_columns


def widened(problem: LocalProblem, scale: float) -> LocalProblem:
    """Return the problem of a limb so many times as wide under the same load.

    Knots and patches keep their size and their distance from the middle; one that shows on a side
    goes with it.  A crushed belly is as soft as it was, on the careful side.
    """
    body = problem.body
    wood, side = body.wood, body.wood.plane == "side"
    stave = with_columns(wood.stave, width=scale * wood.stave.width)
    softening = wood.softening
    if softening is not None:
        softening = _Narrower(softening=softening, scale=scale, across=not side)
    decays = wood.decays
    if side:
        half = 0.5 * float(np.interp(0.5 * sum(body.strip.x[[0, -1]]), stave.x, wood.stave.width))
        decays = tuple(_shifted(d, np.sign(d.center[1]) * (scale - 1.0) * half) for d in decays)
    wood = replace(wood, stave=stave, softening=softening, decays=decays)

    def wider(strip: Strip) -> Strip:
        return strip if side else _wider(strip, scale)

    def layer(piece: DepthLayer) -> DepthLayer:
        strain = piece.strain
        return replace(
            piece,
            strip=wider(piece.strip),
            strain=replace(
                strain,
                axial=strain.axial / scale,
                axial_slope=strain.axial_slope / scale,
                bending=strain.bending / scale**3,
                bending_slope=strain.bending_slope / scale**3,
                shear=strain.shear / scale,
            ),
        )

    limb = problem.limb
    if limb is not None:
        problem = replace(problem, limb=replace(limb, back=limb.back / scale))
    return _with(problem, replace(body, strip=wider(body.strip), wood=wood), layer)


def _wider(strip: Strip, scale: float) -> Strip:
    middle, half = 0.5 * (strip.left + strip.right), 0.5 * scale * (strip.left - strip.right)
    return Strip(x=strip.x, right=middle - half, left=middle + half)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Narrower:
    """The softening of a limb looked up in one that is `scale` times as wide."""

    softening: Softening
    scale: float
    across: bool

    def __call__(self, points: Array, z: Array, modulus: Array) -> Left:
        if not self.across:
            return self.softening(points, z / self.scale, modulus)
        return self.softening(points / [1.0, self.scale], z, modulus)


def moved(problem: LocalProblem, shift: float) -> LocalProblem:
    """Return the problem with every zone moved across the limb (m), as by another centre line."""
    body = problem.body
    wood = body.wood
    knots = tuple(
        replace(k, traces=k.traces + np.array([0.0, shift, 0.0, 0.0, 0.0])[:, None])
        for k in wood.knots
    )
    decays = tuple(_shifted(decay, shift) for decay in wood.decays)

    def there(ellipse: Ellipse) -> Ellipse:
        return replace(ellipse, y=ellipse.y + shift)

    def layer(piece: DepthLayer) -> DepthLayer:
        return replace(
            piece,
            knots=tuple(replace(k, ellipse=there(k.ellipse)) for k in piece.knots),
            decays=tuple(replace(d, ellipse=there(d.ellipse)) for d in piece.decays),
            focus=None if piece.focus is None else there(piece.focus),
        )

    return _with(problem, replace(body, wood=replace(wood, knots=knots, decays=decays)), layer)


def _shifted(decay: Decay, shift: float) -> Decay:
    return replace(decay, center=decay.center + np.array([0.0, shift, 0.0]))


def filled(problem: LocalProblem) -> LocalProblem:
    """Return the problem with the judged knot's hole filled with epoxy; cut fibres stay cut."""
    body, own = problem.body, str(problem.zone)
    knots = tuple(
        replace(k, state="filled", modulus=EPOXY.E, poisson=FILLER_POISSON)
        if str(k.name) == own
        else k
        for k in body.wood.knots
    )

    def layer(piece: DepthLayer) -> DepthLayer:
        return replace(
            piece,
            knots=tuple(
                replace(
                    knot,
                    state="filled",
                    modulus=EPOXY.E,
                    poisson=FILLER_POISSON,
                    bond_tension=EPOXY.tension,
                    bond_shear=EPOXY.shear,
                )
                if str(knot.name) == own
                else knot
                for knot in piece.knots
            ),
        )

    return _with(problem, replace(body, wood=replace(body.wood, knots=knots)), layer)


def _with(
    problem: LocalProblem, body: PlateBody, layer: Callable[[DepthLayer], DepthLayer]
) -> LocalProblem:
    return replace(problem, body=body, layers=tuple(layer(piece) for piece in problem.layers))
