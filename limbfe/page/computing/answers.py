"""What a computation says, in the words of tables and report, for the page."""

from __future__ import annotations

from typing import Any

import numpy as np

from limbfe.analysis.bow.cautions import STANDING_CAUTIONS
from limbfe.analysis.bow.drawn import DrawnBow
from limbfe.analysis.results.assessment import Assessment
from limbfe.analysis.wood.limb_field import LimbField
from limbfe.analysis.zones.zone_verdict import ZoneVerdict
from limbfe.report.answer import answer, next_step, zone_used_words
from limbfe.report.draw import SAFETY
from limbfe.report.tables import strain_words
from limbfe.report.take import end_words, line_words, tiller_words
from limbfe.studies.fit.logged import SessionLog
from limbfe.studies.fit.results import Fit, limb
from limbfe.studies.take.results import Taking
from limbfe.units import IMPERIAL, METRIC, UnitSystem, say


def drawn_answer(bow: DrawnBow, field: LimbField) -> dict[str, Any]:
    """Return what a draw without a look at knots tells.

    Returns
    -------
    dict
        ``"facts"``: rows of key, words, value in the reader's two systems, and a plain number to
        compare with that of another draw; ``"strip"``: strength used along the limb; ``"said"``:
        what is to be told of it.
    """
    curve = bow.curve
    weight, length = float(curve.force[-1]), float(curve.draw_length[-1])
    facts: list[dict[str, Any]] = [
        _fact("weight", "draw weight", weight, METRIC.force, IMPERIAL.force),
        _fact("draw", "at a draw of", length, METRIC.length, IMPERIAL.length),
        _fact("brace", "brace height", bow.brace_height, METRIC.length, IMPERIAL.length),
        _fact(
            "energy", "work of the draw", float(curve.energy[-1]), METRIC.energy, IMPERIAL.energy
        ),
    ]
    if bow.kept is not None:
        facts.append(
            _fact("set", "set it keeps", bow.kept.mean, METRIC.rough_length, IMPERIAL.rough_length)
        )
    facts += [
        _strain("back", "back stretched most", field, field.back_strain),
        _strain("belly", "belly pressed most", field, -field.belly_strain),
    ]
    k = int(np.argmax(field.strength_used))
    used = float(field.strength_used[k])
    facts.append(
        {
            "key": "used",
            "words": "strength used, clear wood",
            "metric": f"{used:.0%}, {_where(field.x[k], METRIC)}",
            "imperial": f"{used:.0%}, {_where(field.x[k], IMPERIAL)}",
            "value": used,
        }
    )
    told = [line for line in (*bow.when_braced, *bow.cautions) if line not in STANDING_CAUTIONS]
    return {
        "facts": facts,
        "strip": {
            "x": [round(1e3 * float(x), 1) for x in field.x],
            "used": [round(float(used), 3) for used in field.strength_used],
        },
        "said": {
            "metric": [say(line, METRIC) for line in told],
            "imperial": [say(line, IMPERIAL) for line in told],
        },
        "breaks": bool(bow.when_braced),
    }


def assessed_answer(assessment: Assessment, units: UnitSystem) -> dict[str, Any]:
    """Return the verdicts, beside what `drawn_answer` has of the same bow."""
    found = answer(assessment, units)
    return {
        **drawn_answer(assessment.drawn, assessment.limb),
        "verdict": found.verdict,
        "sentence": found.sentence,
        "next": next_step(assessment, units),
        "zones": [_zone(zone, units) for zone in assessment.zones],
        "safety": SAFETY,
    }


def _fact(key: str, words: str, value: float, metric: Any, imperial: Any) -> dict[str, Any]:
    return {
        "key": key,
        "words": words,
        "metric": metric(value),
        "imperial": imperial(value),
        "value": value,
    }


def _strain(key: str, words: str, field: LimbField, strain: Any) -> dict[str, Any]:
    k = int(np.argmax(strain))
    size = strain_words(float(strain[k])).lstrip("+")  # the words say which way
    return {
        "key": key,
        "words": words,
        "metric": f"{size}, {_where(field.x[k], METRIC)}",
        "imperial": f"{size}, {_where(field.x[k], IMPERIAL)}",
        "value": float(strain[k]),
    }


def _where(x: float, units: UnitSystem) -> str:
    limb = "upper" if x > 0.0 else "lower"
    return f"{limb} limb at {units.length(abs(float(x)))}"


def _zone(zone: ZoneVerdict, units: UnitSystem) -> dict[str, Any]:
    lengths = (
        ("draw_length_at_split", "a split runs from a draw of"),
        ("draw_length_at_rupture", "breaks at a draw of"),
    )
    ends = [
        f"{words} {units.length(length)}"
        for name, words in lengths
        if (length := getattr(zone, name)) is not None
    ]
    return {
        "kind": zone.kind,
        "name": zone.name,
        "verdict": zone.verdict,
        "used": zone.strength_used,
        "words": "; ".join([zone_used_words(zone), *ends]),
        "chance": zone.failure_probability,
        "advice": say(zone.advice, units),
    }


def fitted_answer(fit: Fit, units: UnitSystem) -> dict[str, Any]:
    """Return what readings say of the wood and of places along the limbs."""
    rows = zip(fit.readings.rows, fit.computed, fit.off, fit.suspect, strict=True)
    return {
        "count": len(fit.readings.rows),
        "mind": [say(line, units) for line in fit.warnings],
        "woods": [
            {
                "wood": m.wood,
                "value": units.modulus(m.value),
                "between": f"{units.modulus(m.low)} and {units.modulus(m.high)}",
                "case": units.modulus(m.case),
                "told": f"{m.learned:.0%}",
            }
            for m in fit.moduli
        ],
        "stations": [
            {
                "limb": limb(s.x),
                "at": units.length(abs(s.x)),
                "x": 1e3 * s.x,
                "ratio": s.ratio,
                "low": s.low,
                "high": s.high,
                "thicker": f"{'+' if s.thicker >= 0.0 else ''}{units.fine_length(s.thicker)}",
                "finding": s.finding,
            }
            for s in reversed(fit.stations)
        ],
        "suspects": [
            {
                "line": row.line,
                "read": show(row.value),
                "computed": show(float(computed)),
                "off": f"{off:+.1f}",
            }
            for row, computed, off, bad in rows
            if bad
            for show in (units.force if row.what == "force" else units.length,)
        ],
        "log": None if fit.log is None else _log(fit.log, units),
        "assumed": [say(line, units) for line in fit.assumptions],
    }


def _log(log: SessionLog, units: UnitSystem) -> dict[str, Any]:
    """Return the sessions of a tillering log, and what changed from one to the next."""

    def shown(value: float | None, show: Any) -> str:
        return "" if value is None else str(show(value))

    return {
        "common": units.length(log.common),
        "sessions": [
            {
                "date": one.date.isoformat(),
                "furthest": shown(one.furthest, units.length),
                "force": shown(one.force, units.force),
                "weight": shown(one.weight, units.force),
                "set": shown(one.set, units.length),
                "moisture": shown(one.moisture, lambda share: f"{100.0 * share:.3g} %"),
                "lower": "" if one.stiffness is None else f"{one.stiffness[0]:.2f}",
                "upper": "" if one.stiffness is None else f"{one.stiffness[1]:.2f}",
            }
            for one in log.sessions
        ],
        "changes": [
            {"date": date.isoformat(), "said": [say(line, units) for line in said]}
            for date, said in log.changes
        ],
    }


def taking_answer(taking: Taking, units: UnitSystem) -> dict[str, Any]:
    """Return the list to carry to the bench, and where its strokes lie along the limbs."""
    return {
        "now": units.force(taking.before.draw_weight),
        "tiller": tiller_words(taking.before.tiller, units),
        "wanted": units.force(taking.target),
        "at": units.length(taking.draw_length),
        "lines": [
            {
                "words": line_words(line, taking, units),
                "side": line.side,
                "from": 1e3 * line.start * (1.0 if line.limb == "upper" else -1.0),
                "to": 1e3 * line.end * (1.0 if line.limb == "upper" else -1.0),
            }
            for line in taking.lines
        ],
        "end": end_words(taking, units),
    }
