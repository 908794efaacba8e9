"""Strategies of a limb against statics and geometry worked out apart from them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid
from scipy.optimize import brentq

from limbfe.stave.drawn_line import Reach, drawn_line
from limbfe.stave.taper import (
    Taper,
    ellipse_curvature,
    lawful_thickness,
    taper_stations,
    thickness_at,
    tip_reflex,
    width_at,
)

PYRAMID = Taper(
    length=0.87,
    half_grip=0.06,
    fade=0.05,
    grip_width=0.028,
    grip_thickness=0.034,
    width=0.047,
    tip_width=0.011,
    outline="straight",
    parallel_to=0.0,
    thickness=0.015,
    tip_thickness=0.004,
    law="circular bend",
    ellipse_ratio=0.7,
    tips="plain",
    tip_length=0.0,
    brace=0.16,
    string=None,
    draw=0.69,
)


def arc_levers(along: np.ndarray, rigid: float, limb: float, brace: float, draw: float):
    """Lever arms on a limb bent to a circular arc, by chords (closed form, statics)."""

    def tip(turn: float) -> np.ndarray:
        return np.array([1.0 - np.cos(turn), np.sin(turn)]) * limb / turn + [0.0, rigid]

    half_string = tip(brentq(lambda turn: tip(turn)[0] - brace, 1e-6, 2.5))[1]

    def left(turn: float) -> float:
        return float(np.hypot(draw - tip(turn)[0], tip(turn)[1])) - half_string

    turn = brentq(left, 1e-6, 2.5)
    nock = tip(turn)
    pull = (np.array([draw, 0.0]) - nock) / half_string
    near, far = 0.5 * turn * (1.0 - along), 0.5 * turn * (1.0 + along)
    chord = 2.0 * limb / turn * np.sin(near) * np.array([np.sin(far), np.cos(far)])
    lever = np.abs(chord[0] * pull[1] - chord[1] * pull[0])
    return lever / lever[0]


def test_lever_arms_of_a_circular_limb() -> None:
    along = np.linspace(0.0, 1.0, 401)
    reach = Reach(rigid=0.11, bending=0.76, brace=0.16, string=None, draw=0.69)
    np.testing.assert_allclose(
        drawn_line(along, np.full(401, 3.0), reach).lever,
        arc_levers(along, 0.11, 0.76, 0.16, 0.69),
        atol=2e-5,
    )


def test_lever_arms_when_the_string_is_given() -> None:
    """The string that the brace height asks for gives the same limb."""
    along = np.linspace(0.0, 1.0, 201)
    bend = 1.0 + along
    braced = Reach(rigid=0.09, bending=0.75, brace=0.15, string=None, draw=0.7)
    turned = np.linspace(0.0, 1.0, 20001)
    angle = 2.0 * (turned + 0.5 * turned**2) / 3.0

    def tip(scale: float) -> tuple[float, float]:
        x, z = trapezoid([np.sin(scale * angle), np.cos(scale * angle)], 0.75 * turned, axis=1)
        return float(x), 0.09 + float(z)

    scale = brentq(lambda scale: tip(scale)[0] - 0.15, 0.01, 2.0)
    strung = replace(braced, brace=None, string=tip(scale)[1])
    np.testing.assert_allclose(
        drawn_line(along, bend, braced).lever, drawn_line(along, bend, strung).lever, atol=1e-4
    )


def test_circular_law_bends_a_limb_to_a_circle() -> None:
    """Curvature M / (w t^3) by the closed-form moment, where no floor holds the thickness up."""
    x = np.linspace(PYRAMID.start, 0.95 * PYRAMID.length, 40)
    along = (x - PYRAMID.start) / (PYRAMID.length - PYRAMID.start)
    moment = arc_levers(along, PYRAMID.start, PYRAMID.length - PYRAMID.start, 0.16, 0.69)
    bend = moment / (width_at(PYRAMID, x) * thickness_at(PYRAMID, x) ** 3)
    np.testing.assert_allclose(bend / bend[0], 1.0, atol=3e-3)


def test_even_strain_law_strains_a_limb_evenly() -> None:
    """M t / (w t^3) is the same everywhere, with the moment of the bend the thickness makes."""
    taper = replace(PYRAMID, law="even strain", outline="convex")
    grid = np.linspace(0.0, 1.0, 801)
    x = taper.start + grid * (taper.length - taper.start)
    width, thickness = width_at(taper, x), thickness_at(taper, x)
    reach = Reach(rigid=taper.start, bending=x[-1] - x[0], brace=0.16, string=None, draw=0.69)
    moment = np.ones_like(grid)
    for _ in range(40):
        moment = drawn_line(grid, moment / (width * thickness**3), reach).lever
    strain = moment / (width * thickness**2)
    free = thickness > 1.001 * taper.tip_thickness
    assert free.sum() > 700
    np.testing.assert_allclose(strain[free] / strain[0], 1.0, atol=3e-3)


def test_elliptical_bend_lies_on_an_ellipse() -> None:
    """Integrate the curvature and look whether the points fulfil the ellipse's equation."""
    ratio, turn = 0.6, 0.9
    s = np.linspace(0.0, 1.0, 40001)
    curvature = ellipse_curvature(s, ratio, turn)
    angle = np.concatenate([[0.0], np.cumsum(0.5 * (curvature[1:] + curvature[:-1]))]) * s[1]
    angle *= turn / angle[-1]
    sink, run = (
        np.concatenate([[0.0], np.cumsum(0.5 * (f[1:] + f[:-1]))]) for f in
        (np.sin(angle), np.cos(angle))
    )  # fmt: skip
    # at the end tan(turn) = (b / a) tan(theta), so that run = a sin(theta)
    theta = np.arctan(np.tan(turn) / ratio)
    a = run[-1] / np.sin(theta)
    b = ratio * a
    np.testing.assert_allclose((run / a) ** 2 + (1.0 - sink / b) ** 2, 1.0, atol=2e-3)
    assert curvature[-1] > 1.5 * curvature[0]


def test_laws_of_width_and_thickness() -> None:
    taper = replace(PYRAMID, law="linear", outline="parallel", parallel_to=0.4)
    x = np.array([0.0, 0.06, 0.085, 0.11, 0.3, 0.4, 0.635, 0.87])
    blend = 0.5
    expected = [0.028, 0.028, 0.028 + blend * 0.019, 0.047, 0.047, 0.047, 0.029, 0.011]
    np.testing.assert_allclose(width_at(taper, x), expected)
    limb = 0.015 - 0.011 * (x - 0.11) / 0.76
    expected = [0.034, 0.034, 0.034 + blend * (0.015 - 0.034), *limb[3:]]
    np.testing.assert_allclose(thickness_at(taper, x), expected)
    convex = replace(taper, outline="convex")
    np.testing.assert_allclose(width_at(convex, [0.49]), [0.047 - 0.036 / 4.0])
    np.testing.assert_allclose(
        tip_reflex(taper, [0.0, 0.06, 0.465, 0.87], 0.02), [0, 0, 0.005, 0.02]
    )


@pytest.mark.parametrize(("tips", "end"), [("whip", 0.006), ("stiff", 0.018)])
def test_tips_leave_the_law_in_a_straight_line(tips: str, end: float) -> None:
    taper = replace(PYRAMID, tips=tips, tip_length=0.2, tip_thickness=end)
    begin = float(lawful_thickness(taper, 0.67))
    np.testing.assert_allclose(
        thickness_at(taper, [0.67, 0.72, 0.87]), [begin, begin + (end - begin) / 4.0, end]
    )
    np.testing.assert_allclose(thickness_at(taper, [0.6]), lawful_thickness(taper, [0.6]))


def test_stations_hold_every_change_of_law() -> None:
    taper = replace(PYRAMID, outline="parallel", parallel_to=0.41, tips="stiff", tip_length=0.13)
    x = taper_stations(taper)
    assert x[0] == 0.0
    assert x[-1] == taper.length
    assert np.all(np.diff(x) > 1e-3)
    assert np.all(np.diff(x) <= 0.0451)
    for mark in (0.06, 0.11, 0.41, 0.74):
        assert np.abs(x - mark).min() < 1e-12
