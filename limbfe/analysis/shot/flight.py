"""How far does the arrow fly, and how far does it drop on the way?

The arrow is a point that flies along its own path: gravity, and drag with the square of the speed,

    dv/dt = -k |v| v - g,        k = rho C_d A / (2 m),

A the shaft's cross-section, by which the drag coefficients of arrows are stated.  No wind, no lift.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np

from limbfe.frames import Array

GRAVITY = 9.80665
AIR = 1.225
"""Density of air, kg/m3: the ISO 2533 standard atmosphere at sea level, 15 C (from memory)."""
ANGLES = np.radians([10.0, 20.0, 30.0, 40.0, 45.0])
DISTANCES = (10.0, 20.0, 30.0, 50.0)
STEPS, DROP_STEPS, FAN = 300, 60, 14
"""Steps of a flight and of a drop, and angles that are tried at a time: 1e-9 of the range.  SciPy's
integrators would take half a second to load."""
Rates: TypeAlias = "Callable[[Array], Array]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaft:
    """What of an arrow the air feels.

    Attributes
    ----------
    diameter : float, m
    drag : float
        Coefficient of drag on the shaft's cross-section; 0 for none.
    """

    diameter: float
    drag: float

    def decay(self, mass: float) -> float:
        """Return k, 1/m: speed falls by a factor e over 1/k."""
        return AIR * self.drag * math.pi * self.diameter**2 / (8.0 * mass)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flight:
    """One flight over level ground, from the ground to the ground.

    Attributes
    ----------
    angle : float, rad
        Above the ground, at the start.
    distance, height : float, m
        Where it comes down; its highest point.
    time : float, s
    end_speed : float, m/s
    end_angle : float, rad
        Below the ground's level, as it comes down.
    """

    angle: float
    distance: float
    height: float
    time: float
    end_speed: float
    end_angle: float

    def to_dict(self) -> dict[str, float]:
        """Return the contract's part."""
        return {
            "angle_deg": math.degrees(self.angle),
            "range_m": self.distance,
            "height_m": self.height,
            "time_s": self.time,
            "end_speed_m_per_s": self.end_speed,
            "end_angle_deg": math.degrees(self.end_angle),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Drop:
    """What an arrow shot level has lost at a distance.

    Attributes
    ----------
    distance, drop : float, m
    time : float, s
    speed : float, m/s
    """

    distance: float
    drop: float
    time: float
    speed: float

    def to_dict(self) -> dict[str, float]:
        """Return the contract's part."""
        return {
            "distance_m": self.distance,
            "drop_m": self.drop,
            "time_s": self.time,
            "speed_m_per_s": self.speed,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Flights:
    """The flights of one arrow.

    Attributes
    ----------
    by_angle : tuple of Flight
        At `ANGLES`.
    farthest : Flight
    drops : tuple of Drop
        Shot level, at `DISTANCES`.
    """

    by_angle: tuple[Flight, ...]
    farthest: Flight
    drops: tuple[Drop, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return the contract's part."""
        return {
            "by_angle": [one.to_dict() for one in self.by_angle],
            "farthest": self.farthest.to_dict(),
            "drops_shot_level": [one.to_dict() for one in self.drops],
        }


def flights(speed: float, mass: float, shaft: Shaft) -> Flights:
    """Return the flights of an arrow (m/s, kg)."""
    decay = shaft.decay(mass)
    return Flights(
        by_angle=fly(speed, ANGLES, decay),
        farthest=farthest(speed, decay),
        drops=tuple(drop_at(speed, distance, decay) for distance in DISTANCES),
    )


def fly(
    speed: float, angles: Array, decay: float, *, gravity: float = GRAVITY
) -> tuple[Flight, ...]:
    """Follow arrows until they are as low as they started, one for each angle.

    Parameters
    ----------
    speed : float, m/s
    angles : ndarray, rad
        Above level, between 0 and a right angle.
    decay : float, 1/m
        See `Shaft.decay`.
    gravity : float, m/s2
    """

    def rates(y: Array) -> Array:
        drag = decay * np.hypot(y[2], y[3])
        return np.stack([y[2], y[3], -drag * y[2], -gravity - drag * y[3]])

    # without drag it would come down after 2 v sin(angle) / g, with drag sooner
    step = 2.1 * speed * np.sin(angles) / gravity / STEPS
    nothing = np.zeros(len(angles))
    now = np.stack([nothing, nothing, speed * np.cos(angles), speed * np.sin(angles)])
    top, fallen, time = now.copy(), now.copy(), nothing.copy()
    for k in range(STEPS):
        after = _runge_kutta(rates, now, step)
        rises, above = after[3] > 0.0, after[1] > 0.0
        top[:, rises] = after[:, rises]
        fallen[:, above], time[above] = after[:, above], (k + 1) * step[above]
        now = after
    top = _until(rates, top, step, 3)[0]
    fallen, rest = _until(rates, fallen, step, 1)
    return tuple(
        Flight(
            angle=float(angles[k]),
            distance=float(fallen[0, k]),
            height=float(top[1, k]),
            time=float(time[k] + rest[k]),
            end_speed=float(np.hypot(fallen[2, k], fallen[3, k])),
            end_angle=float(np.arctan2(-fallen[3, k], fallen[2, k])),
        )
        for k in range(len(angles))
    )


def _runge_kutta(rates: Rates, y: Array, step: Array) -> Array:
    """Return the state a step later, of the classical rule of fourth order."""
    first = rates(y)
    second = rates(y + 0.5 * step * first)
    third = rates(y + 0.5 * step * second)
    fourth = rates(y + step * third)
    after: Array = y + step / 6.0 * (first + 2.0 * second + 2.0 * third + fourth)
    return after


def _until(rates: Rates, y: Array, step: Array, row: int) -> tuple[Array, Array]:
    """Return the states in which a row is zero, within a step of `y`, and the steps to them."""
    part = 0.5 * step
    for _ in range(8):
        there = _runge_kutta(rates, y, part)
        part = part - there[row] / rates(there)[row]
    return _runge_kutta(rates, y, part), part


def farthest(speed: float, decay: float, *, gravity: float = GRAVITY) -> Flight:
    """Return the flight that reaches farthest, by finer and finer fans of angles."""
    low, high = math.radians(20.0), math.radians(46.0)
    for _ in range(5):
        angles = np.linspace(low, high, FAN)
        reached = fly(speed, angles, decay, gravity=gravity)
        best = max(range(FAN), key=lambda k: reached[k].distance)
        low, high = angles[max(best - 1, 0)], angles[min(best + 1, FAN - 1)]
    return reached[best]


def drop_at(speed: float, distance: float, decay: float, *, gravity: float = GRAVITY) -> Drop:
    """Return what an arrow shot level has lost after a distance (m)."""

    def rates(y: Array) -> Array:
        # over the distance in place of the time: y = (time, drop, speed along, speed down)
        drag = decay * np.hypot(y[2], y[3])
        return np.array([1.0 / y[2], y[3] / y[2], -drag, (gravity - drag * y[3]) / y[2]])

    end, step = np.array([0.0, 0.0, speed, 0.0]), np.array(distance / DROP_STEPS)
    for _ in range(DROP_STEPS):
        end = _runge_kutta(rates, end, step)
    return Drop(
        distance=distance,
        drop=float(end[1]),
        time=float(end[0]),
        speed=float(np.hypot(end[2], end[3])),
    )
