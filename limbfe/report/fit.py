"""Tables of a fit for the terminal, and what its picture shows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from limbfe.report.tables import add_number, first_words, listing, plain_table
from limbfe.studies.fit.logged import SessionLog
from limbfe.studies.fit.results import Fit, limb
from limbfe.units import UnitSystem
from limbfe.view.study.fit import FitPicture

_STYLE = {"stiffer": "bold", "softer": "bold red", "not known": "dim"}


def fit_tables(fit: Fit, units: UnitSystem) -> RenderableType:
    """Return readings, what was assumed, stations, warnings, and the moduli last."""
    parts: list[RenderableType] = [
        *first_words(fit.when_braced, units),
        Text(fit.setup.title, style="bold"),
        Text(f"{len(fit.readings.rows)} readings from {fit.readings.file}"),
        Text(""),
        reading_table(fit, units),
        *listing("Assumed", fit.assumptions, units),
        Text(""),
        *_stations(fit, units),
        *listing("Mind", fit.warnings[len(fit.when_braced) :], units),
        Text(""),
        modulus_table(fit, units),
        *(log_tables(fit.log, units) if fit.log is not None else ()),
    ]
    return Group(*parts)


def log_tables(log: SessionLog, units: UnitSystem) -> Iterator[RenderableType]:
    """Yield the sessions of a tillering log, and what changed from one to the next."""
    unit = units.scale("length")[1]
    common = units.length(log.common)
    table = plain_table("The log, session by session")
    table.add_column("date", no_wrap=True)
    add_number(table, f"read to, {unit}", "force there", f"weight at {common}")
    add_number(table, f"set, {unit}", "moist", "upper limb", "lower limb")
    for one in log.sessions:
        lower, upper = one.stiffness or (None, None)
        table.add_row(
            one.date.isoformat(),
            _shown(one.furthest, partial(units.number, "length")),
            _shown(one.force, units.force),
            _shown(one.weight, units.force),
            _shown(one.set, partial(units.number, "length")),
            _shown(one.moisture, "{:.3g} %".format, 100.0),
            _shown(upper, "{:.2f}".format),
            _shown(lower, "{:.2f}".format),
        )
    table.caption = (
        "limbs: stiffness over that of the case. The tables above are of the last session"
    )
    yield Text("")
    yield table
    for date, said in log.changes:
        yield from listing(f"Changed by {date.isoformat()}", said, units)


def _shown(value: float | None, show: Callable[[float], str], scale: float = 1.0) -> str:
    return "-" if value is None else show(scale * value)


def _stations(fit: Fit, units: UnitSystem) -> Iterator[RenderableType]:
    if any(station.finding != "not known" for station in fit.stations):
        yield station_table(fit, units)
        return
    yield Text("")
    yield Text("The readings do not say where the limbs are stiffer or softer than measured.")


def modulus_table(fit: Fit, units: UnitSystem) -> Table:
    """Return the stiffness along the grain of every wood."""
    table = plain_table("The wood: E_L, stiffness along the grain")
    table.add_column("wood")
    add_number(table, "fitted", "95 in 100 between", "case", "told by the readings")
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
    table = plain_table("Stiffness of the limb beside its measured dimensions")
    table.add_column("limb")
    for heading in ("station", "thickness", "stiffness", "95 in 100 between", "as if thicker by"):
        add_number(table, heading)
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
    table = plain_table("Readings")
    add_number(table, "line")
    table.add_column("what")
    for heading in ("draw length", "read", "computed", "off by"):
        add_number(table, heading)
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
        grip=stave.half_grip,
        lower=float(stave.x[0]),
        upper=float(stave.x[-1]),
    )
