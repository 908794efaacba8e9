"""Judgement of one zone: invariants, states, bands, bad input."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from limbfe.defect.limb_state import LimbStrain
from limbfe.defect.plane import fibre_stress
from limbfe.defect.strip import Ellipse, Strip
from limbfe.defect.zone import Grain
from limbfe.errors import GeometryError, MaterialError
from limbfe.failure import plate_judge
from limbfe.failure.layer_windows import diving_fibre_stress
from limbfe.failure.local import judge_zone
from limbfe.failure.probability import Demand, Scatter, failure_probability
from limbfe.failure.verdict import judge, sound_factor, sound_limits
from limbfe.wood.weakest_link import SHAPE

MODES = ("fibre", "opening", "sliding", "split", "yield")


def typical(outcome):
    return np.array([outcome.modes[m].typical for m in MODES])


@pytest.fixture(scope="module")
def slanted(zones):
    """An off-centre turned knot, sloping grain, tapering edges, bending and a gradient."""
    knot = replace(
        zones.knot(y=3e-3), ellipse=Ellipse(x=1e-3, y=3e-3, a=5e-3, b=3.5e-3, angle=0.15)
    )
    return replace(
        zones.piece(
            knots=(knot,),
            grain=Grain(angle=0.03, run_out=0.02),
            strain=LimbStrain(
                x0=0.0, axial=3e-3, axial_slope=-0.01, bending=0.05, bending_slope=0.2, shear=2e-4
            ),
        ),
        strip=Strip(x=[-0.07, 0.08], right=[-0.017, -0.014], left=[0.018, 0.016]),
    )


@pytest.fixture(scope="module")
def judged(zones, slanted):
    return judge_zone(zones.problem(slanted))


def test_twice_the_load_uses_twice_the_strength(zones, slanted, judged):
    s = slanted.strain
    double = LimbStrain(
        x0=s.x0,
        axial=2 * s.axial,
        axial_slope=2 * s.axial_slope,
        bending=2 * s.bending,
        bending_slope=2 * s.bending_slope,
        shear=2 * s.shear,
    )
    twice = judge_zone(zones.problem(replace(slanted, strain=double)))
    assert typical(twice) == pytest.approx(2.0 * typical(judged), rel=1e-9)
    assert twice.rupture == pytest.approx([0.5 * f for f in judged.rupture], rel=1e-9)
    assert twice.strength_ratio == pytest.approx(judged.strength_ratio, rel=1e-9)


def mirrored(piece):
    """The same layer seen from the other side: y turns round, and with it bend and slope."""
    knot = piece.knots[0]
    ellipse = replace(knot.ellipse, y=-knot.ellipse.y, angle=-knot.ellipse.angle)
    return replace(
        piece,
        strip=Strip(x=piece.strip.x, right=-piece.strip.left, left=-piece.strip.right),
        knots=(replace(knot, ellipse=ellipse),),
        grain=replace(piece.grain, angle=-piece.grain.angle),
        strain=replace(
            piece.strain,
            bending=-piece.strain.bending,
            bending_slope=-piece.strain.bending_slope,
            shear=-piece.strain.shear,
        ),
    )


def test_mirror_image(zones, slanted, judged):
    """Equal but for the mesh, which is not symmetric: 1 %."""
    other = judge_zone(zones.problem(mirrored(slanted)))
    assert typical(other) == pytest.approx(typical(judged), rel=1e-2, abs=1e-3)
    fibre, image = judged.modes["fibre"], other.modes["fibre"]
    assert image.y == pytest.approx(-fibre.y, abs=0.6e-3)


@pytest.mark.slow
def test_longer_strip_changes_nothing(zones):
    """Half a length of 1.5 widths is enough: 1 % against 3.5 widths."""
    short, long = (
        judge_zone(zones.problem(zones.piece(half_length=h, knots=(zones.knot(),))))
        for h in (60e-3, 140e-3)
    )
    assert typical(short) == pytest.approx(typical(long), rel=1e-2, abs=1e-3)


def test_band_holds_the_typical_value(zones):
    outcome = judge_zone(zones.problem(zones.piece(knots=(zones.knot(9e-3, -4e-3),))))
    for one in outcome.modes.values():
        assert one.low <= one.typical <= one.high
    assert outcome.modes["opening"].high > 1.2 * outcome.modes["opening"].low
    assert outcome.rupture[0] <= outcome.rupture[1] <= outcome.rupture[2]


def test_softer_states_rupture_earlier(zones):
    """Fibre rupture: clear, live, hole; all of one size and place."""
    used = {
        state: judge_zone(
            zones.problem(zones.piece(knots=(zones.knot(10e-3, 2e-3, state=state),)))
        ).modes["fibre"]
        for state in ("live", "missing", "dead")
    }
    clear = 4e-3 * zones.WOOD.E_L / zones.STRENGTH.tension
    assert clear < used["live"].peak < used["missing"].peak
    assert used["live"].typical < used["missing"].typical
    # A loose knot presses on the fibres that straighten on it: a hole at worst.
    assert used["live"].typical < used["dead"].typical <= 1.03 * used["missing"].typical
    assert used["dead"].low < used["missing"].low


def test_knot_carved_away_leaves_its_swirl(zones):
    """A knot just outside the edge, and the same one far outside."""
    near = judge_zone(zones.problem(zones.piece(knots=(zones.knot(12e-3, 27e-3),))))
    far = judge_zone(zones.problem(zones.piece(knots=(zones.knot(12e-3, 90e-3),))))
    assert len(np.unique(near.fields[0].part)) == 1
    assert near.strength_ratio < far.strength_ratio
    assert near.modes["fibre"].peak > 1.05 * far.modes["fibre"].peak
    assert far.strength_ratio == pytest.approx(1.0, abs=0.02)
    assert near.modes["sliding"].typical > 5.0 * far.modes["sliding"].typical


def test_stress_in_the_axes_of_a_diving_fibre():
    """L, T, LT, R and LR components against the rotation of the whole stress tensor."""
    rng = np.random.default_rng(6)
    stress, angle, dive = rng.normal(size=(40, 3)), rng.normal(size=40), rng.normal(size=40)
    got = diving_fibre_stress(fibre_stress(stress, angle).T, dive)
    for k in range(len(stress)):
        xx, yy, xy = stress[k]
        tensor = np.array([[xx, xy, 0.0], [xy, yy, 0.0], [0.0, 0.0, 0.0]])
        c, s = np.cos(angle[k]), np.sin(angle[k])
        p, q = np.cos(dive[k]), np.sin(dive[k])
        L, T = np.array([c * p, s * p, q]), np.array([-s, c, 0.0])
        R = np.cross(L, T)
        assert got.along[k] == pytest.approx(L @ tensor @ L)
        assert got.across[k] == pytest.approx(T @ tensor @ T)
        assert got.shear[k] == pytest.approx(L @ tensor @ T)
        assert got.through[k] == pytest.approx(R @ tensor @ R)
        assert abs(got.through_shear[k]) == pytest.approx(abs(L @ tensor @ R))


def test_belly_yields(zones):
    """In compression nothing ruptures; the zone is reported as yielding and splitting."""
    piece = zones.piece(knots=(zones.knot(),), strain=LimbStrain(x0=0.0, axial=-4.5e-3), z=-9e-3)
    outcome = judge_zone(zones.problem(piece))
    assert outcome.modes["yield"].typical > 0.9
    assert outcome.modes["yield"].typical == typical(outcome).max()
    assert outcome.modes["fibre"].typical < 0.2


def test_no_stress_no_failure(zones):
    piece = zones.piece(knots=(zones.knot(),), strain=LimbStrain(x0=0.0, axial=0.0))
    outcome = judge_zone(zones.problem(piece))
    assert typical(outcome) == pytest.approx(0.0)
    assert outcome.rupture == (np.inf, np.inf, np.inf)
    assert np.isnan(outcome.strength_ratio)


def test_patch_of_full_strength_is_no_patch(zones):
    """Laminate limit: a patch that lost nothing gives back the limb's own stress."""
    whole = dict.fromkeys(("E", "G", "tension", "compression", "shear", "across", "toughness"), 1.0)
    strain = LimbStrain(x0=0.0, axial=3e-3, axial_slope=0.01, bending=0.04, shear=1e-4)
    piece = zones.piece(decays=(zones.patch(9e-3, 4e-3, y=2e-3, **whole),), strain=strain)
    outcome = judge_zone(zones.problem(piece))
    # The best window cannot lie at the very edge of the searched length: 1 %.
    assert outcome.strength_ratio == pytest.approx(1.0, rel=1e-2)


def test_rot_is_judged_inside_and_beside(zones):
    """Where strength falls more than stiffness the inside governs."""
    piece = zones.piece(decays=(zones.patch(12e-3, 5e-3, y=2e-3),))
    fibre = judge_zone(zones.problem(piece)).modes["fibre"]
    assert abs(fibre.x) < 12e-3
    assert abs(fibre.y - 2e-3) < 5e-3
    stiff = replace(piece, decays=(zones.patch(12e-3, 5e-3, y=2e-3, E=0.2, tension=0.9),))
    beside = judge_zone(zones.problem(stiff)).modes["fibre"]
    assert abs(beside.y - 2e-3) > 4e-3


def test_all_that_windows_take_in_is_sampled(zones, monkeypatch):
    """Where wood splits easily across, windows are longer than what is searched: of a limb that
    narrows, the last of them leads, and it was cut off where the samples ended."""
    piece = zones.piece(
        knots=(zones.knot(2e-3),),
        grain=Grain(angle=0.06, run_out=0.0),
        strain=LimbStrain(x0=0.0, axial=3e-3, bending=0.02),
        strength=replace(zones.STRENGTH, tension_across=3.5e6),
    )
    narrowing = Strip(x=[-0.08, 0.08], right=[-0.022, -0.012], left=[0.022, 0.012])
    problem = zones.problem(replace(piece, strip=narrowing))
    modes, box = judge_zone(problem).modes, plate_judge._box

    def longer(*given):
        low, high = box(*given)
        return low - np.array([0.01, 0.0]), high + np.array([0.01, 0.0])

    monkeypatch.setattr(plate_judge, "_box", longer)
    for mode, one in judge_zone(problem).modes.items():
        for bound in ("low", "typical", "high"):
            there = getattr(modes[mode], bound)
            assert getattr(one, bound) == pytest.approx(there, rel=1e-9), (mode, bound)


def test_patch_through_the_whole_section(zones):
    """No wood beside it: the strip stays whole, carries the force, and is weaker by the loss."""
    patch = zones.patch(15e-3, 40e-3, grading=0.0)
    outcome = judge_zone(zones.problem(zones.piece(decays=(patch,))))
    # Stress is that of the limb, strength 0.37 of it; rims of the search are in sound wood.
    assert outcome.strength_ratio == pytest.approx(0.37, rel=0.08)


def filled(zones, **more):
    given = {"modulus": 3e9, "bond_tension": 60e6, "bond_shear": 40e6, **more}
    piece = zones.piece(knots=(zones.knot(10e-3, 2e-3, state="filled", **given),))
    return judge_zone(zones.problem(piece))


@pytest.mark.slow
def test_filling_holds_only_as_long_as_its_bond(zones):
    """A strong bond works like a live knot of that stiffness; a weak one like a loose knot."""
    strong, weak = filled(zones), filled(zones, bond_tension=1e6, bond_shear=1e6)
    assert strong.bond_used < 1.0 < weak.bond_used
    live = judge_zone(zones.problem(zones.piece(knots=(zones.knot(10e-3, 2e-3, modulus=3e9),))))
    dead = judge_zone(
        zones.problem(zones.piece(knots=(zones.knot(10e-3, 2e-3, state="dead", modulus=3e9),)))
    )
    assert weak.modes["fibre"].typical == pytest.approx(dead.modes["fibre"].typical, rel=1e-6)
    tied, free = live.modes["fibre"].typical, dead.modes["fibre"].typical
    # Rupture comes when the bond lets go, or later, but not before the glued filling's own.
    assert strong.modes["fibre"].typical == pytest.approx(
        max(tied, min(strong.bond_used, free)), rel=1e-6
    )


def test_deterministic(zones, slanted, judged):
    again = judge_zone(zones.problem(slanted))
    assert np.array_equal(typical(again), typical(judged))


SCATTER = Scatter(
    modulus=0.12,
    tension=0.2,
    tension_across=0.25,
    shear=0.14,
    model=0.08,
    volume_split=3e-5,
    within=0.6,
)


@pytest.fixture(scope="module")
def loaded(zones):
    """What judges a live knot off the middle, its chance of failure too, under an axial strain."""
    stages = {}

    def judged(axial, scatter=SCATTER):
        strain = LimbStrain(x0=0.0, axial=axial)
        piece = zones.piece(knots=(zones.knot(8e-3, 3e-3),), strain=strain)
        problem = zones.problem(replace(piece, scatter=scatter))
        return judge_zone(problem, np.random.default_rng(5), stages)

    return judged


def test_probability_grows_with_the_load(loaded):
    low, high = (loaded(axial).probability for axial in (5e-3, 1e-2))
    assert 0.0 <= low.rupture < high.rupture <= high.added
    assert low.split < high.split


def test_below_the_sound_factor_the_verdict_is_sound_and_above_it_is_not(loaded):
    """Judged again at the load itself, everything that bears on the verdict included."""
    outcome = loaded(7e-3)
    factor = sound_factor(outcome)
    assert judge(outcome) != "sound"
    assert sound_limits(outcome)[0].mark == "chance"
    assert judge(loaded(0.999 * factor * 7e-3)) == "sound"
    assert judge(loaded(1.001 * factor * 7e-3)) == "watch"


def test_opening_and_sliding_of_different_places_do_not_add_up(loaded):
    """The chance of a split is that of its likeliest place, not of a place that has the most of
    both: within sampling error that of what opens and slides there.
    """
    outcome = loaded(6e-3)
    opening, sliding, split = (outcome.modes[m] for m in ("opening", "sliding", "split"))
    assert 0.3 < sliding.typical / opening.typical < 1.0
    assert split.typical < 0.97 * np.hypot(opening.typical, sliding.typical)
    parts = {"opening": np.cos(split.mix), "sliding": np.sin(split.mix)}
    there = failure_probability(
        Demand(low=0.0, typical=0.0, high=0.0),
        (Demand(low=split.low, typical=split.typical, high=split.high, **parts),),
        SCATTER,
        np.random.default_rng(5),
    )
    assert 0.02 < there.split < 0.5
    assert outcome.probability.split == pytest.approx(there.split, rel=0.15)


def test_the_wood_of_the_layer_says_how_it_scatters(loaded):
    steady = replace(SCATTER, tension_across=0.05, shear=0.05, tension=0.05)
    assert loaded(5.4e-3, steady).probability.split < 0.6 * loaded(5.4e-3).probability.split


@pytest.mark.slow
def test_less_wood_behind_the_strength_is_as_much_as_a_higher_load(zones):
    """Ten times less is as much as a load 10^(1/9) times higher (Weibull)."""
    used = []
    for volume, load in ((2e-6, 1.0), (2e-7, 1.0), (2e-6, 10.0 ** (1.0 / SHAPE))):
        strength = replace(zones.STRENGTH, volume=volume)
        piece = zones.piece(
            knots=(zones.knot(),), strength=strength,
            strain=LimbStrain(x0=0.0, axial=load * 4e-3),
        )  # fmt: skip
        used.append(judge_zone(zones.problem(piece)).modes["fibre"].typical)
    assert used[1] == pytest.approx(used[2], rel=1e-9)
    assert used[1] > 1.25 * used[0]


def test_a_chance_needs_the_scatter_of_the_wood(zones):
    piece = zones.piece(knots=(zones.knot(),))
    with pytest.raises(ValueError, match="needs the scatter"):
        judge_zone(zones.problem(piece), np.random.default_rng(5))


def test_overlapping_knots_are_refused(zones):
    other = replace(zones.knot(y=9e-3), name="B")
    with pytest.raises(GeometryError, match="A and B overlap"):
        judge_zone(zones.problem(zones.piece(knots=(zones.knot(), other))))


def test_knot_wider_than_the_limb_is_refused(zones):
    with pytest.raises(GeometryError, match="as wide as the limb"):
        judge_zone(zones.problem(zones.piece(knots=(zones.knot(41e-3),))))


def test_zero_size_is_refused():
    with pytest.raises(GeometryError, match="must be positive"):
        Ellipse(x=0.0, y=0.0, a=0.0, b=1e-3)


def test_zone_that_no_layer_meets_is_refused(zones):
    with pytest.raises(GeometryError, match="meets none"):
        zones.problem(zones.piece(knots=(replace(zones.knot(), name="B"),)))


def test_filling_without_strength_is_refused(zones):
    with pytest.raises(MaterialError, match="filler's modulus"):
        zones.knot(state="filled", modulus=2e9)


def test_lost_wood_is_no_decay(zones):
    with pytest.raises(MaterialError, match="missing knot"):
        zones.patch(5e-3, 3e-3, E=0.0)
