"""Random bows with a knot and a patch as plain numbers, and what comes of their case files."""

from __future__ import annotations

import copy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from limbfe.analysis.bow.solve import solve_bow
from limbfe.analysis.wood.limb_load import limb_load
from limbfe.analysis.zones.verdicts import local_problem
from limbfe.case.build import build_setup
from limbfe.case.load import case_of
from limbfe.failure.local import judge_zone
from limbfe.stave.named_zones import zones_of

LENGTHS = {"station", "width", "thickness", "sapwood", "reflex", "sideways"}
ACROSS_ODD = {"lean", "sideways", "twist", "sideways_grain", "spiral"}
"""What changes sign when left and right are exchanged."""
TURNED_ODD = {"lean", "sideways", "twist", "run_out"}
"""What changes sign when the bow is turned by half a turn about the arrow."""
INCH = 0.0254

Plan = dict[str, Any]


def random_plan(rng: np.random.Generator) -> Plan:
    """Return a wooden bow of 1.5 to 1.85 m drawn to 0.56 to 0.68 m: SI, angles in degrees."""
    wide, narrow = rng.uniform(0.036, 0.054), rng.uniform(0.012, 0.018)
    thick, left = rng.uniform(0.0115, 0.0145), rng.uniform(0.7, 0.9)
    power, reflex = rng.uniform(1.0, 2.2), rng.uniform(0.0, 0.03)
    sapwood = rng.choice([0.0, 0.003])

    def limb(length: float) -> dict[str, list[float]]:
        outer = np.linspace(0.17, length, int(rng.integers(5, 8)))
        share = (outer - 0.17) / (length - 0.17)
        bent = rng.uniform(-1.0, 1.0, 4)
        columns = {
            "station": np.concatenate([[0.0, 0.06, 0.12], outer]),
            "width": np.concatenate([[0.03, 0.03, 0.033], wide - (wide - narrow) * share**power]),
            "thickness": np.concatenate([[0.03, 0.028, 0.018], thick * (1 - (1 - left) * share)]),
            "reflex": np.concatenate([np.zeros(3), reflex * share**2]),
            "sideways": np.concatenate([np.zeros(3), 0.003 * bent[0] * np.sin(np.pi * share)]),
            "twist": np.concatenate([np.zeros(3), 2.0 * bent[1] * share]),
            "lean": np.concatenate([np.zeros(3), 3.0 * bent[2] * share]),
            "run_out": np.concatenate([np.zeros(3), 2.0 * bent[3] * share]),
        }
        return {name: values.tolist() for name, values in columns.items()}

    longer = rng.uniform(0.76, 0.92)
    limbs = {"upper": limb(longer), "lower": limb(longer - rng.uniform(0.0, 0.03))}
    for columns in limbs.values():
        columns["sapwood"] = [float(sapwood)] * len(columns["station"])
    return {
        "species": str(rng.choice(["European ash", "rock elm", "yew", "black locust"])),
        "limbs": limbs,
        "draw": float(longer * rng.uniform(0.72, 0.76)),
        "brace": 0.15,
        "string": 30e3,
        "hand_at": float(rng.uniform(-0.02, 0.0)),
        "arrow_at": float(rng.uniform(0.02, 0.04)),
        "steps": 8,
        "elements": 8,
        "zones": [
            {
                "kind": "knot",
                "name": "K",
                "limb": "upper",
                "at": float(rng.uniform(0.25, 0.55)),
                "face": str(rng.choice(["back", "belly"])),
                "across": float(rng.uniform(-0.25, 0.25) * wide),
                "diameter": float(rng.uniform(0.004, 0.009)),
                "state": str(rng.choice(["live", "dead"])),
            },
            {
                "kind": "decay",
                "name": "P",
                "limb": "lower",
                "at": float(rng.uniform(0.25, 0.5)),
                "face": "belly",
                "across": float(rng.uniform(-0.2, 0.2) * wide),
                "length": float(rng.uniform(0.03, 0.06)),
                "width": float(rng.uniform(0.006, 0.012)),
                "depth": float(rng.uniform(0.002, 0.004)),
                "stage": "incipient",
                "rot": "white",
            },
        ],
    }


def text_of(plan: Plan, unit: str = "m") -> str:
    """Return the case file, its lengths in metres, millimetres or inches."""
    per_metre = {"m": 1.0, "mm": 1e3, "in": 1.0 / INCH}[unit]

    def said(length: float) -> str:
        return f'"{length * per_metre!r} {unit}"'

    lines = [
        'title = "A random bow"',
        f'[wood.heartwood]\nspecies = "{plan["species"]}"\nmoisture = 10',
        '[section]\nback = "flat"\nbelly = "flat"',
        f'[grip]\nstiff_length = {said(plan.get("stiff", 0.1))}\nhold = "hand"',
        f"hand_at = {said(plan['hand_at'])}\narrow_at = {said(plan['arrow_at'])}",
        f'[string]\nbrace_height = {said(plan["brace"])}\nstiffness = "{plan["string"]!r} N"',
        'mass = "6 g"',
        f"[draw]\nlength = {said(plan['draw'])}\nsteps = {plan['steps']}",
        f"[analysis]\nelements_per_limb = {plan['elements']}\nfineness = 0.5",
    ]
    if max(plan["limbs"]["upper"]["sapwood"]) > 0.0:
        lines.append(f'[wood.sapwood]\nspecies = "{plan["species"]}"')
    for side, columns in plan["limbs"].items():
        lines.append(f'[limb.{side}]\nunit = "{unit}"')
        for name, values in columns.items():
            scaled = [v * per_metre if name in LENGTHS else v for v in values]
            lines.append(f"{name} = {[float(v) for v in scaled]!r}")
    for zone in plan["zones"]:
        lines.append(f"[[{zone['kind']}]]")
        for name, value in zone.items():
            if name != "kind":
                lines.append(
                    f'{name} = "{value}"' if isinstance(value, str) else f"{name} = {said(value)}"
                )
    return "\n".join(lines) + "\n"


@dataclass(frozen=True)
class Outcome:
    """Of a bow at full draw; what its knot and patch use of their strength, in three modes."""

    force: float
    tension: float
    used: dict[str, np.ndarray]


def outcome(plan: Plan, unit: str = "m", judged: str = "") -> Outcome:
    """Draw a bow; `judged` has the letters of the zones that are judged, K and P."""
    setup = build_setup(case_of(text_of(plan, unit).encode(), Path("random.toml")))
    drawn = solve_bow(setup, beyond=False)
    used = {}
    if judged:
        load = limb_load(drawn)
        for zone in zones_of(setup.stave):
            if zone.name in tuple(judged):
                found = judge_zone(local_problem(drawn.model, load, zone)[0]).modes
                modes = [found[mode] for mode in ("fibre", "split", "yield")]
                used[zone.name] = np.array([mode.typical for mode in modes])
    full = drawn.full_draw
    return Outcome(
        force=float(full.draw_force), tension=float(np.mean(full.string_tension)), used=used
    )


def changed(plan: Plan, **values: Any) -> Plan:
    return {**copy.deepcopy(plan), **values}


def mirrored(plan: Plan) -> Plan:
    """Return the bow with left and right exchanged."""
    return _signed(plan, ACROSS_ODD)


def upside_down(plan: Plan) -> Plan:
    """Return the bow turned by half a turn about the arrow."""
    turned = _signed(plan, TURNED_ODD)
    turned["limbs"] = {"upper": turned["limbs"]["lower"], "lower": turned["limbs"]["upper"]}
    for zone in turned["zones"]:
        zone["limb"] = {"upper": "lower", "lower": "upper"}[zone["limb"]]
    turned["hand_at"], turned["arrow_at"] = -plan["hand_at"], -plan["arrow_at"]
    return turned


def _signed(plan: Plan, odd: set[str]) -> Plan:
    other = changed(plan)
    for columns in other["limbs"].values():
        for name in odd & columns.keys():
            columns[name] = [-value for value in columns[name]]
    for zone in other["zones"]:
        zone["across"] = -zone["across"]
    return other


def similar(plan: Plan, scale: float) -> Plan:
    """Return the bow with every length multiplied, its string as strong for its size."""
    other = changed(plan, string=plan["string"] * scale**2, stiff=0.1 * scale)
    for name in ("draw", "brace", "hand_at", "arrow_at"):
        other[name] *= scale
    for columns in other["limbs"].values():
        for name in LENGTHS & columns.keys():
            columns[name] = [value * scale for value in columns[name]]
    for zone in other["zones"]:
        for name, value in zone.items():
            if not isinstance(value, str):
                zone[name] = value * scale
    return other
