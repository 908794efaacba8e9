"""The results contract: an assessment as plain numbers, with the unit in every key."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from limbfe.frames import Array
from limbfe.units import IMPERIAL
from limbfe.version import __version__

if TYPE_CHECKING:
    from limbfe.analysis.results import Assessment, DefectResult, DrawnBow, HotSpot, Tiller, Tip
    from limbfe.analysis.upper_limb import UpperLimb


def _list(values: Array, scale: float = 1.0) -> list[float]:
    return [float(v) for v in np.asarray(values) * scale]


def _maybe_mm(value: float | None) -> float | None:
    return None if value is None else value * 1e3


def draw_to_dict(bow: DrawnBow) -> dict[str, Any]:
    """Return the part of the contract that needs no stress: brace, draw and tips."""
    curve = bow.curve
    weight = float(curve.force[-1])
    pound_force, _ = IMPERIAL.scale("force")
    return {
        "case": bow.setup.title,
        "question": bow.setup.question,
        "version": __version__,
        "brace": {
            "brace_height_mm": bow.brace_height * 1e3,
            "string_length_mm": bow.string_length * 1e3,
            "string_tension_N": bow.brace_tension,
            "energy_J": bow.brace_energy,
        },
        "draw": {
            "draw_length_mm": _list(curve.draw_length, 1e3),
            "draw_force_N": _list(curve.force),
            "string_tension_N": _list(curve.tension.mean(axis=1)),
            "energy_J": _list(curve.energy),
            "draw_weight_N": weight,
            "draw_weight_lbf": weight / pound_force,
            "draw_energy_J": float(curve.energy[-1]),
        },
        "after_first_draw": _after(bow),
        "tips": {"upper": _tip(bow.upper_tip), "lower": _tip(bow.lower_tip)},
        "tiller": {"braced": _tiller(bow.tiller_braced), "drawn": _tiller(bow.tiller_drawn)},
        "upper_limb": _upper_limb(bow.upper_limb),
        "cautions": list(bow.cautions),
        "assumptions": list(bow.assumptions),
    }


def assessment_to_dict(assessment: Assessment) -> dict[str, Any]:
    """Return the whole contract: JSON-ready lists, numbers and text, units in the keys."""
    limb = assessment.limb
    return {
        **draw_to_dict(assessment),
        "limb": {
            "station_mm": _list(limb.x, 1e3),
            "curvature_1_per_m": _list(limb.curvature),
            "moment_Nm": _list(limb.moment),
            "back_strain": _list(limb.back_strain),
            "belly_strain": _list(limb.belly_strain),
            "strength_used": _outside(assessment, limb.strength_used),
            "residual_curvature_1_per_m": _list(limb.residual_curvature),
            "yielded_depth_mm": _list(limb.yielded_depth, 1e3),
        },
        "set_mm": assessment.set_depth * 1e3,
        "brace_strength_used": assessment.brace_strength_used,
        "clear_limb": None if assessment.clear_limb is None else assessment.clear_limb.to_dict(),
        "hot_spots": [_hot_spot(spot) for spot in assessment.hot_spots],
        "defects": [defect_to_dict(defect) for defect in assessment.defects],
    }


def _outside(assessment: Assessment, values: Array) -> list[float | None]:
    """Return values along the limb, None in the stiff grip, whose wood is not judged."""
    grip = np.abs(assessment.limb.x) < assessment.setup.stave.stiff_length / 2.0
    return [None if held else float(value) for held, value in zip(grip, values, strict=True)]


def _tip(tip: Tip) -> dict[str, float]:
    x, y, z = _list(tip.position, 1e3)
    return {"x_mm": x, "y_mm": y, "z_mm": z, "twist_deg": math.degrees(tip.twist)}


def _after(bow: DrawnBow) -> dict[str, Any] | None:
    """Return the bow let down and drawn again on the same string."""
    after = bow.after
    if after is None:
        return None
    lower, upper = _list(after.set_at_tips, 1e3)
    return {
        "set_mm": {"upper": upper, "lower": lower},
        "brace_height_mm": after.brace_height * 1e3,
        "string_tension_N": after.brace_tension,
        "energy_lost_J": after.energy_lost,
        "energy_lost_again_J": after.energy_lost_again,
        "draw_length_mm": _list(after.curve.draw_length, 1e3),
        "draw_force_N": _list(after.curve.force),
        "draw_weight_N": float(after.curve.force[-1]),
        "draw_energy_J": float(after.curve.energy[-1]),
    }


def _tiller(tiller: Tiller | None) -> dict[str, Any] | None:
    if tiller is None:
        return None
    lower, upper = (float(np.degrees(v)) for v in tiller.tip_twist)
    left, right = _list(tiller.tip_shift, 1e3)
    return {
        "tiller_mm": tiller.tiller * 1e3,
        "tip_twist_deg": {"lower": lower, "upper": upper},
        "tip_shift_mm": {"lower": left, "upper": right},
        "string_track_mm": tiller.track * 1e3,
        "balance_mm": _maybe_mm(tiller.balance),
    }


def _upper_limb(found: UpperLimb | None) -> dict[str, Any] | None:
    if found is None:
        return None
    lower, upper = _list(found.stiffness, 1e-3)
    return {
        "favoured": found.favoured,
        "tip_stiffness_N_per_mm": {"lower": lower, "upper": upper},
        "grip_moment_Nm": {"lower": float(found.moment[0]), "upper": float(found.moment[1])},
        "reason": found.reason,
    }


def _hot_spot(spot: HotSpot) -> dict[str, Any]:
    return {
        "limb": spot.limb,
        "at_mm": spot.at * 1e3,
        "across_mm": spot.across * 1e3,
        "depth_mm": spot.depth * 1e3,
        "face": spot.face,
        "stress_MPa": spot.stress / 1e6,
        "strain": spot.strain,
        "mode": spot.mode,
        "strength_used": spot.strength_used,
    }


def defect_to_dict(defect: DefectResult) -> dict[str, Any]:
    """Return one verdict of the contract's ``defects``."""
    return {
        "name": defect.name,
        "kind": defect.kind,
        "limb": defect.limb,
        "at_mm": defect.at * 1e3,
        "verdict": defect.verdict,
        "mode": defect.mode,
        "strength_used": defect.strength_used,
        "strength_used_low": defect.strength_used_low,
        "strength_used_high": defect.strength_used_high,
        "draw_length_at_split_mm": _maybe_mm(defect.draw_length_at_split),
        "draw_length_at_rupture_mm": _maybe_mm(defect.draw_length_at_rupture),
        "strength_ratio": defect.strength_ratio,
        "failure_probability": defect.failure_probability,
        "advice": defect.advice,
    }
