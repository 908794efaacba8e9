"""How far does the arrow fly, and how far does it drop on the way?

The arrow is a point that flies along its own path: gravity, and drag with the square of the speed,

    dv/dt = -k |v| v - g,        k = rho C_d A / (2 m),

A the shaft's cross-section, by which the drag coefficients of arrows are stated.  No wind, no lift.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar

from limbfe.frames import Array

GRAVITY = 9.80665
AIR = 1.225
"""Density of air, kg/m3: the ISO 2533 standard atmosphere at sea level, 15 C (from memory)."""
ANGLES = np.radians([10.0, 20.0, 30.0, 40.0, 45.0])
DISTANCES = (10.0, 20.0, 30.0, 50.0)
_CLOSE: dict[str, Any] = {"rtol": 1e-9, "atol": 1e-9}


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
        by_angle=tuple(fly(speed, float(angle), decay) for angle in ANGLES),
        farthest=farthest(speed, decay),
        drops=tuple(drop_at(speed, distance, decay) for distance in DISTANCES),
    )


def fly(speed: float, angle: float, decay: float, *, gravity: float = GRAVITY) -> Flight:
    """Follow an arrow until it is as low as it started.

    Parameters
    ----------
    speed : float, m/s
    angle : float, rad
        Above level, between 0 and a right angle.
    decay : float, 1/m
        See `Shaft.decay`.
    gravity : float, m/s2
    """

    def motion(_: float, y: Array) -> list[float]:
        drag = decay * math.hypot(y[2], y[3])
        return [y[2], y[3], -drag * y[2], -gravity - drag * y[3]]

    def down(_: float, y: Array) -> float:
        return float(y[1])

    def top(_: float, y: Array) -> float:
        return float(y[3])

    down.terminal, down.direction = True, -1.0  # type: ignore[attr-defined]
    start = [0.0, 0.0, speed * math.cos(angle), speed * math.sin(angle)]
    # without drag it would come down after 2 v sin(angle) / g, with drag sooner
    longest = 2.1 * speed * math.sin(angle) / gravity
    found: Any = solve_ivp(
        motion, (0.0, longest), start, events=(down, top), method="DOP853", **_CLOSE
    )
    x, _, along, up = found.y_events[0][-1]
    return Flight(
        angle=angle,
        distance=float(x),
        height=float(found.y_events[1][0][1]),
        time=float(found.t_events[0][-1]),
        end_speed=math.hypot(along, up),
        end_angle=math.atan2(-up, along),
    )


def farthest(speed: float, decay: float, *, gravity: float = GRAVITY) -> Flight:
    """Return the flight that reaches farthest."""
    found = minimize_scalar(
        lambda angle: -fly(speed, angle, decay, gravity=gravity).distance,
        bounds=(math.radians(20.0), math.radians(46.0)),
        method="bounded",
        options={"xatol": 1e-4},
    )
    return fly(speed, float(found.x), decay, gravity=gravity)


def drop_at(speed: float, distance: float, decay: float, *, gravity: float = GRAVITY) -> Drop:
    """Return what an arrow shot level has lost after a distance (m)."""

    def motion(_: float, y: Array) -> list[float]:
        # over the distance in place of the time: y = (time, drop, speed along, speed down)
        drag = decay * math.hypot(y[2], y[3])
        return [1.0 / y[2], y[3] / y[2], -drag, (gravity - drag * y[3]) / y[2]]

    end = solve_ivp(motion, (0.0, distance), [0.0, 0.0, speed, 0.0], method="DOP853", **_CLOSE).y[
        :, -1
    ]
    return Drop(
        distance=distance,
        drop=float(end[1]),
        time=float(end[0]),
        speed=float(np.hypot(end[2], end[3])),
    )
