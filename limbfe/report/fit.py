"""Tables of a fit for the terminal, and what its picture shows."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.report.tables import listing
from limbfe.studies.fit.results import Fit, limb
from limbfe.units import UnitSystem
from limbfe.view.fit import FitPicture

_STYLE = {"stiffer": "bold", "softer": "bold red", "not known": "dim"}


def fit_tables(fit: Fit, units: UnitSystem) -> RenderableType:
    """Return moduli, stations, readings, warnings and what was assumed."""
    parts: list[RenderableType] = [
        Text(fit.setup.title, style="bold"),
        Text(f"{len(fit.readings.rows)} readings from {fit.readings.file}"),
        *listing("Mind", fit.warnings, units),
        Text(""),
        modulus_table(fit, units),
        *_stations(fit, units),
        reading_table(fit, units),
        *listing("Assumed", fit.assumptions, units),
    ]
    return Group(*parts)


def _stations(fit: Fit, units: UnitSystem) -> Iterator[RenderableType]:
    if any(station.finding != "not known" for station in fit.stations):
        yield station_table(fit, units)
        return
    yield Text("")
    yield Text("The readings do not say where the limbs are stiffer or softer than measured.")


def modulus_table(fit: Fit, units: UnitSystem) -> Table:
    """Return the stiffness along the grain of every wood."""
    table = Table(title="The wood: E_L, stiffness along the grain", title_justify="left")
    for heading in ("wood", "fitted", "95 in 100 between", "case", "told by the readings"):
        table.add_column(heading, justify="left" if heading == "wood" else "right")
    for m in fit.moduli:
        table.add_row(
            m.wood,
            units.modulus(m.value),
            f"{units.modulus(m.low)} and {units.modulus(m.high)}",
            f"{units.modulus(m.case)} to {m.case_scatter:.0%}",
            f"{m.learned:.0%}",
        )
    if fit.crushing.told:
        c = fit.crushing
        table.add_row(
            "crushing strength",
            f"{c.ratio:.2f} of case",
            f"{c.low:.2f} and {c.high:.2f}",
            f"1 to {c.case_scatter:.0%}",
            f"{c.learned:.0%}",
        )
    return table


def station_table(fit: Fit, units: UnitSystem) -> Table:
    """Return which stations are stiffer or softer than their dimensions say."""
    table = Table(
        title="Stiffness of the limb beside its measured dimensions", title_justify="left"
    )
    table.add_column("limb")
    for heading in ("station", "thickness", "stiffness", "95 in 100 between", "as if thicker by"):
        table.add_column(heading, justify="right")
    table.add_column("")
    for s in fit.stations:
        table.add_row(
            limb(s.x),
            units.length(abs(s.x)),
            units.length(s.thickness),
            f"{s.ratio:.3f}",
            f"{s.low:.3f} and {s.high:.3f}",
            f"{'+' if s.thicker >= 0.0 else ''}{units.fine_length(s.thicker)}",
            s.finding,
            style=_STYLE.get(s.finding),
        )
    return table


def reading_table(fit: Fit, units: UnitSystem) -> Table:
    """Return every reading beside what the fitted bow gives."""
    table = Table(title="Readings", title_justify="left")
    table.add_column("line", justify="right")
    table.add_column("what")
    for heading in ("draw length", "read", "computed", "off by"):
        table.add_column(heading, justify="right")
    table.add_column("")
    for row, computed, off, bad in zip(
        fit.readings.rows, fit.computed, fit.off, fit.suspect, strict=True
    ):
        show = units.force if row.what == "force" else units.length
        place = "force"
        if row.what == "position":
            place = f"{limb(row.x)} limb at {units.length(abs(row.x))}"
        table.add_row(
            str(row.line),
            place,
            "braced" if row.draw_length is None else units.length(row.draw_length),
            show(row.value),
            show(float(computed)),
            f"{off:+.1f} sd",
            "suspect" if bad else "",
            style="bold red" if bad else None,
        )
    table.caption = "sd: standard deviations of the difference"
    return table


def fit_picture(fit: Fit) -> FitPicture:
    """Return what the picture of a fit shows."""
    rows = zip(fit.readings.rows, fit.suspect, strict=True)
    forces = [(r.draw_length, r.value, r.scatter, bad) for r, bad in rows if r.what == "force"]
    stave = fit.setup.stave
    return FitPicture(
        title=fit.setup.title,
        moduli=tuple((m.wood, m.value, m.low, m.high) for m in fit.moduli),
        curve=np.stack([fit.curve_length, fit.curve_force, fit.curve_scatter], axis=1),
        forces=np.array(forces, dtype=np.float64),
        stations=np.array([(s.x, s.ratio, s.low, s.high) for s in fit.stations]),
        findings=tuple(s.finding for s in fit.stations),
        grip=0.5 * stave.stiff_length,
        lower=float(stave.x[0]),
        upper=float(stave.x[-1]),
    )
