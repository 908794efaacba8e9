"""The invented sweep that tables and pictures are tested with."""

from __future__ import annotations

from limbfe.studies.sweep.zone import Axis, Sweep, SweepPoint


def point(values: tuple[float, ...], breaking: float, verdict: str | None) -> SweepPoint:
    if verdict is None:
        return SweepPoint(values=values, result=None, failure="no wood is left beside it")
    result = {
        "verdict": verdict,
        "mode": "fibres break",
        "strength_used": breaking,
        "strength_used_low": 0.8 * breaking,
        "strength_used_high": 1.3 * breaking,
        "wrinkling_used": 0.5,
        "strength_ratio": 0.7,
        "failure_probability": 0.25,
    }
    return SweepPoint(values=values, result=result, failure="")


def make_sweep() -> Sweep:
    values = (0.004, 0.008, 0.012)
    found = ((0.5, "sound"), (0.9, "watch"), (1.2, "expect rupture"))
    return Sweep(
        title="stave",
        name="A",
        kind="knot",
        limb="upper",
        at=0.298,
        axes=(Axis(name="diameter", values=values),),
        own=(0.008,),
        points=tuple(point((v,), *f) for v, f in zip(values, found, strict=True)),
    )
