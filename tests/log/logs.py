"""Invented logs, turned and mirrored."""

from dataclasses import replace
from typing import Any

import numpy as np

from limbfe.log.layout.costs import Rules, Task
from limbfe.log.line import Line
from limbfe.log.log import COLUMNS, Log, Mark


def clear_log(*, x, left, right, depth, **columns: Any) -> Log:
    """A log of which only the edges and what is named is known; the rest is straight."""
    plain: dict[str, Any] = {name: np.zeros(x.shape) for name in COLUMNS}
    plain.update(left=left, right=right, depth=depth, left_below=left, right_below=right)
    plain.update(pith=np.full(x.shape, np.inf), spiral=0.0, marks=(), patches=(), cracks=())
    return Log(x=x, **{**plain, **columns})


def half_log(**changes):
    x = np.linspace(0.0, 2.0, 9)
    columns = {
        "x": x,
        "left": np.full(9, 0.04),
        "right": np.full(9, 0.04),
        "depth": np.full(9, 0.06),
        "pith": np.full(9, 0.11),
    }
    return clear_log(**{**columns, **changes})


def knot(name="k", x=0.7, across=0.01, face="back", diameter=0.01, lean=0.4, state="live"):
    return Mark(name=name, x=x, across=across, face=face, diameter=diameter, lean=lean, state=state)


def line_at(offset, end="top", grip=0.95):
    x = np.linspace(grip - 0.8, grip + 0.85, 9)
    if end == "butt":
        x = np.linspace(grip - 0.85, grip + 0.8, 9)
    return Line(
        grip=grip, upper_end=end, lower=0.8, upper=0.85, x=x, offset=np.full(9, float(offset))
    )


def task_for(log, wanted, strength, **rules):
    return Task(log=log, wanted=wanted, rules=Rules(**rules), strength=strength)


def mirrored(log):
    """Return the log seen in a mirror: left is right."""
    swap = {"left": "right", "right": "left"}
    marks = tuple(
        replace(m, face=swap.get(m.face, m.face), across=m.across * (1 if m.face in swap else -1))
        for m in log.marks
    )
    return replace(
        log,
        left=log.right,
        right=log.left,
        left_below=log.right_below,
        right_below=log.left_below,
        fibre=-log.fibre,
        twist=-log.twist,
        pith_across=-log.pith_across,
        spiral=-log.spiral,
        marks=marks,
    )


def turned(log):
    """Return the log lying the other way round on the bench: its top end where the butt was."""
    swap = {"left": "right", "right": "left"}
    marks = tuple(
        replace(
            m,
            x=log.length - m.x,
            face=swap.get(m.face, m.face),
            across=m.across * (1 if m.face in swap else -1),
            lean=-m.lean,
        )
        for m in log.marks
    )
    back = {name: getattr(log, name)[::-1] for name in ("depth", "rise", "sapwood", "pith")}
    return replace(
        log,
        x=log.length - log.x[::-1],
        left=log.right[::-1],
        right=log.left[::-1],
        left_below=log.right_below[::-1],
        right_below=log.left_below[::-1],
        fibre=log.fibre[-1] - log.fibre[::-1] if np.any(log.fibre) else log.fibre,
        fibre_depth=log.fibre_depth[::-1] - log.fibre_depth[-1],
        twist=log.twist[-1] - log.twist[::-1],
        pith_across=-log.pith_across[::-1],
        marks=marks,
        **back,
    )
