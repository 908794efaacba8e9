"""Three made-up bows of a comparison, no two figures alike, for tests of what is said of them."""

from __future__ import annotations

import numpy as np

from limbfe.studies.compare.compare import Comparison
from limbfe.studies.compare.compared import ComparedBow, LeftOut, Target
from limbfe.studies.compare.measures import BowMeasures
from limbfe.studies.compare.ranking import best_bows, summary
from limbfe.studies.compare.slip import Slip

X = np.linspace(0.0, 0.9, 7)


def bow(number: int, title: str, mass: float, strain: float, energy: float) -> ComparedBow:
    return ComparedBow(
        number=number,
        name=f"bow_{number}",
        title=title,
        factor=1.0 + 0.01 * number,
        measures=BowMeasures(
            draw_weight=178.0,
            draw_length=0.7112,
            mass=mass,
            mass_outer_third=0.17 * mass,
            peak_strain=strain,
            mean_strain=0.7 * strain,
            evenness=0.7,
            energy=energy,
            energy_per_mass=energy / mass,
            energy_per_strain=0.01 * energy / strain,
            early_force=0.36,
            string_angle=1.2 + 0.1 * number,
            set_depth=0.05,
            strength_used=80.0 * strain,
        ),
        stored=0.9 * energy,
        speed=46.0,
        slip=Slip(at=0.5, strain_change=0.2 - 0.03 * number, weight_change=-0.001 * number),
        x=X,
        width=0.04 - 0.03 * X,
        thickness=0.015 - 0.007 * X,
    )


def comparison(figure: str | None = "draw_weight") -> Comparison:
    bows = (
        bow(1, "Wide", 0.61, 0.0080, 52.0),
        bow(2, "Narrow", 0.55, 0.0095, 52.1),
        bow(4, "Thick", 0.66, 0.0112, 52.2),
    )
    target = Target(figure=figure, value=178.0)  # type: ignore[arg-type]
    best = best_bows(bows, target)
    return Comparison(
        target=target,
        bows=bows,
        left_out=(LeftOut(number=3, name="bow_3", title="Weak", reason="it breaks"),),
        best=best,
        summary=tuple(summary(bows, best)),
        notes=("the bows are not of the same wood",),
    )
