"""Broken case files: each is refused with file, place, value, what is allowed and what to do.

Every entry replaces one passage of the complete case and names what the message must contain.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from limbfe.cli import main
from limbfe.errors import CaseError

A_KNOT = 'face = "back"\nacross = "-5 mm"\ndiameter = "9 mm"\nfar_diameter = "4 mm"\n'
BROKEN: dict[str, tuple[str, str, tuple[str, ...]]] = {
    # Keys and tables
    "misspelt key": ('length = "28 in"', 'lenght = "28 in"', ("[draw] lenght", '"length"?')),
    "misspelt table": ("[grip]", "[gripp]", ("[gripp]: unknown table", "mean [grip]?")),
    "key of another table": (
        'hold = "hand"',
        'brace_height = "150 mm"',
        ("[grip] brace_height", "belongs in [string]"),
    ),
    "unknown key without a likeness": (
        "steps = 24",
        "zebra = 24",
        ("[draw] zebra = 24", "unknown key", "known here: unit, length, steps, held"),
    ),
    "misspelt wood property": (
        'E_L = "10.4 GPa"',
        'EL = "10.4 GPa"',
        ("[wood.heartwood] EL", 'did you mean "E_L"?'),
    ),
    "misspelt scatter": (
        "cov = { E_L = 0.18 }",
        "cov = { E_l = 0.18 }",
        ("[wood.heartwood] cov.E_l", 'did you mean "E_L"?'),
    ),
    "modulus in the wrong unit": (
        'E_L = "10.4 GPa"',
        'E_L = "10.4 MPa"',
        ('[wood.heartwood] E_L = "10.4 MPa"', "0.3 GPa", "60 GPa", "was 10.4 GPa"),
    ),
    "modulus ten times too high": (
        'E_L = "9.3 GPa"',
        'E_L = "93 GPa"',
        ('[wood.sapwood] E_L = "93 GPa"', "check the number and its unit"),
    ),
    "density with a figure lost": (
        'E_L = "9.3 GPa"',
        'E_L = "9.3 GPa"\ndensity = "68 kg/m3"',
        ('density = "68 kg/m3"', "80 kg/m3", "check the number"),
    ),
    "toughness in the wrong unit": (
        'E_L = "9.3 GPa"',
        'E_L = "9.3 GPa"\ntoughness_opening = "350 kJ/m2"',
        ('toughness_opening = "350 kJ/m2"', "was 0.35 kJ/m2"),
    ),
    "tension strength of no clear wood": (
        'E_L = "9.3 GPa"',
        'E_L = "9.3 GPa"\ntension_strength = "20 MPa"',
        ('tension_strength = "20 MPa"', "25 MPa"),
    ),
    "strength in the wrong unit": (
        'E_L = "9.3 GPa"',
        'E_L = "9.3 GPa"\ncompression_strength = "53 GPa"',
        ('compression_strength = "53 GPa"', "was 53 MPa"),
    ),
    "stiffer across than along": (
        'E_L = "9.3 GPa"',
        'E_L = "9.3 GPa"\nE_R = "11 GPa"',
        ("[wood.sapwood] E_R = 11 GPa", "above E_L = 9.3 GPa", "exchanged"),
    ),
    "columns measured from the tip": (
        "width     = [31, 31, 35, 33, 28, 21, 13]\nthickness = [33, 30, 23, 21, 18.5, 15.5, 12]",
        "width     = [31, 31, 35, 33, 28, 21, 33]\nthickness = [33, 30, 23, 21, 18.5, 15.5, 34]",
        ("[limb.upper] width, value 7 = 33", "wider than the grip", "measured from the tip?"),
    ),
    "stations from the tip": (
        "station   = [0, 55, 130, 320, 510, 700, 880]",
        "station   = [880, 700, 510, 320, 130, 55, 0]",
        ("[limb.upper] station, value 1 = 880", "measured from the tip?"),
    ),
    "comma left out of a list": (
        "station   = [0, 55, 130",
        "station   = [0 55, 130",
        ("line 27: ", "a comma is missing"),
    ),
    "list that is not closed": (
        "sideways  = [0, 0, 1, 1, -1, -2, 0]",
        "sideways  = [0, 0, 1, 1, -1, -2, 0",
        ("twist     = [0, 0, 0, 1, 2, 4, 5]", "the list above this line is not closed"),
    ),
    "a section on its side": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        "twist     = [0, 0, 0, 1, 2, 4, 75]",
        ("[limb.upper] twist, value 7 = 75", "between -60 and 60 degrees"),
    ),
    "a twist in another unit": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        "twist     = [0, 0, 0, 1, 2, 4, '0.09 m']",
        ("[limb.upper] twist, value 7", "0.09 m"),
    ),
    "a limb wrung like a rope": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        "twist     = [0, 0, 50, 1, 2, 4, 5]",
        ("[limb.upper] twist, value 3 = 50", "turns by 50 degrees", "middle of the grip"),
    ),
    "a twist of every station but one": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        "twist     = [0, 0, 0, 1, 2, 4]",
        ("[limb.upper] twist", "6 values for 7 stations"),
    ),
    "limbs that differ in the twist of the grip": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        "twist     = [2, 2, 2, 2, 2, 2, 2]",
        ("twist, value 1", "both limbs share the middle of the grip"),
    ),
    "grain across the limb": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        "run_out   = [0, 0, 0, 1, 2, 4, 50]",
        ("[limb.upper] run_out, value 7 = 50", "steeper than 45 degrees", "are degrees"),
    ),
    "grain said twice": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        "sideways_grain = [-2, -2, 0, 1, 2, 4, 5]",
        ('[grain] sideways = "-2 deg"', "at the stations of [limb.upper] too", "keep one"),
    ),
    "a pith above the back": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        "ring_radius = [98, 90, 80, 70, -60, 70, 80]",
        ("[limb.upper] ring_radius, value 5 = -60", "must be above zero"),
    ),
    "a pith in the next field": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        "ring_radius = [98, 90, 80, 70, 60, 70, 98000]",
        ("[limb.upper] ring_radius, value 7 = 98000", "10000 mm", "unit"),
    ),
    "a pith at no distance": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        'ring_radius = [98, 90, 80, 70, "flat", 70, 80]',
        ('[limb.upper] ring_radius, value 5 = "flat"', "is not a number with a unit"),
    ),
    "a crown said twice": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        "crown     = [70, 70, 70, 80, 80, 80, 80]",
        ("[section] back", 'write back = "crowned"', "drop the column"),
    ),
    "a crown of nothing": (
        "twist     = [0, 0, 0, 1, 2, 4, 5]",
        'crown     = ["flat", 70, 70, 80, 0, 80, 80]',
        ("[limb.upper] crown, value 5 = 0", "above zero", 'write "flat"'),
    ),
    "a crown column left out": (
        'back = { crown = "70 mm" }',
        'back = "crowned"',
        ('[section] back = "crowned"', "needs a crown column in [limb.upper]"),
    ),
    "a branch along the limb": (
        'lean = "25 deg"',
        'lean = "75 deg"',
        ('knot "A": lean = "75 deg"', "between -60 and 60 degrees", "from square to the limb"),
    ),
    "a branch of a bare number": ('lean = "25 deg"', "lean = 25", ('"A": lean = 25', "no unit")),
    "a branch out of the nock": (
        f'at = "340 mm"\n{A_KNOT}lean = "25 deg"',
        f'at = "877 mm"\n{A_KNOT}lean = "-40 deg"',
        ('knot "A": lean = "-40 deg"', "at its nock"),
    ),
    "bound of a value": (
        'ring_radius = "98 mm"',
        "ring_radius = 0",
        ("[grain] ring_radius = 0: must be above 0; ring_radius: from the pith to the back",),
    ),
    "brace height the bow cannot be solved for": (
        'brace_height = "152 mm"',
        'brace_height = "15.2 mm"',
        ('[string] brace_height = "15.2 mm"', "must lie between 40 mm", "check the number"),
    ),
    "held for no time": (
        'held = "6 s"',
        'held = "1e-6 s"',
        ('[draw] held = "1e-6 s"', "must be 1 s or more"),
    ),
    "strung for no time": (
        'strung = "3 h"',
        'strung = "0.3 s"',
        ('[string] strung = "0.3 s"', "must be 1 s or more"),
    ),
    "one knot entered on both faces": (
        'at = "340 mm"',
        'at = "340 mm"\nface = "belly"\nacross = "-4 mm"\ndiameter = "4 mm"\nstate = "live"\n'
        '[[knot]]\nname = "A2"\nlimb = "upper"\nat = "340 mm"',
        ('stave.toml: knot "A2": at = "340 mm"', 'meets knot "A" inside the limb', "far_diameter"),
    ),
    "stage beside a full set of multipliers": (
        "multipliers = { E = 0.8 }",
        "multipliers = { E = 0.8, G = 0.8, density = 0.9, tension = 0.7, compression = 0.8, "
        "shear = 0.8, across = 0.7, toughness = 0.5 }",
        ('decay "B": stage = "moderate"', "says nothing beside a full set", 'decay "B": rot'),
    ),
    "a crown flatter than the earth": (
        'crown = "70 mm"',
        'crown = "1e155 m"',
        ('crown = "1e155 m"', "longer than a kilometre"),
    ),
    "a patch of nothing": (
        "multipliers = { E = 0.8 }",
        "multipliers = { tension = 1e-200 }",
        ("multipliers.tension = 1e-200", "must be 0.001 or more"),
    ),
    "patch past the tip": (
        'length = "45 mm"',
        'length = "600 mm"',
        ('decay "B": length = "600 mm"', "past the nock", "274 mm"),
    ),
    "patch through the grip": (
        'at = "590 mm"\nface = "belly"\nacross = "3 mm"\nlength = "45 mm"',
        'at = "190 mm"\nface = "belly"\nacross = "3 mm"\nlength = "600 mm"',
        ('decay "B": length = "600 mm"', "into the other limb", "482 mm"),
    ),
    "scatter of what no result depends on": (
        "cov = { E_L = 0.18 }",
        "cov = { E_L = 0.18, density = 0.1 }",
        ("[wood.heartwood] cov.density = 0.1", "acts on nothing", "E_L, tension_strength,"),
    ),
    "scatter of a crushing strength that is not the belly's": (
        'E_L = "9.3 GPa"',
        'E_L = "9.3 GPa"\ncov = { compression_strength = 0.2 }',
        ("[wood.sapwood] cov.compression_strength = 0.2", "acts on nothing"),
    ),
    "missing key": ('length = "28 in"\n', "", ("[draw] length", "is missing", 'length = "28 in"')),
    "missing table": (
        '[draw]\nlength = "28 in"\nsteps = 24\nheld = "6 s"\n',
        "",
        ("[draw]", "is missing", "how far the bow is drawn"),
    ),
    "missing title": ('title = "Practice stave, every key given"', "", ("title: is missing",)),
    "table instead of a list of tables": (
        '[[decay]]\nname = "B"',
        '[decay]\nname = "B"',
        ("decay", "[[decay]] in double brackets"),
    ),
    "mesh finer than anybody waits for": (
        "fineness = 0.5",
        "fineness = 5",
        ("[analysis] fineness = 5: with elements_per_limb = 12", "at most 3.21"),
    ),
    # Values and units
    "number without a unit": (
        'length = "28 in"',
        "length = 28",
        ("[draw] length = 28", "has no unit", '"25 mm"', "in quotes"),
    ),
    "unit of the wrong kind": (
        'length = "28 in"',
        'length = "28 lbf"',
        ('[draw] length = "28 lbf"', "is a force and must be a length"),
    ),
    "mass for a force": (
        'stiffness = "42 kN"',
        'stiffness = "4200 kg"',
        ("[string] stiffness", "is a mass and must be a force", '"kgf"'),
    ),
    "unknown unit": (
        'E_L = "9.3 GPa"',
        'E_L = "9.3 gpa"',
        ('[wood.sapwood] E_L = "9.3 gpa"', 'did you mean "GPa"?'),
    ),
    "decimal comma in a value": (
        'at = "340 mm"',
        'at = "34,0 cm"',
        ('knot "A": at = "34,0 cm"', "decimal point"),
    ),
    "not a number": ('at = "340 mm"', 'at = "far"', ('at = "far"', "is not a number with a unit")),
    "true for a length": ('at = "340 mm"', "at = true", ("at = true", "is not a length")),
    "infinite value": ('at = "340 mm"', "at = inf", ("at = inf", "is not a finite number")),
    "not-a-number in a column": (
        "[31, 31, 35, 33, 28, 21, 13]",
        "[31, 31, nan, 33, 28, 21, 13]",
        ("[limb.upper] width, value 3 = nan", "is not a finite number"),
    ),
    "text in a column": (
        "[31, 31, 35, 33, 28, 21, 13]",
        '[31, 31, "wide", 33, 28, 21, 13]',
        ('[limb.upper] width, value 3 = "wide"', "is not a number with a unit"),
    ),
    "column without a unit": (
        'unit = "mm"\n',
        "",
        ("[limb.upper] station, value 2 = 55", "has no unit", 'unit = "mm"'),
    ),
    "one value for a column": (
        "[31, 31, 35, 33, 28, 21, 13]",
        "31",
        ("[limb.upper] width = 31", "a list with one value for each station"),
    ),
    "unknown choice": (
        'hold = "hand"',
        'hold = "hands"',
        ('[grip] hold = "hands"', '"hand", "clamp" or "tiller"', 'did you mean "hand"?'),
    ),
    "unknown belly": (
        'belly = "round"',
        'belly = "oval"',
        ('[section] belly = "oval"', '"flat", "round" or { corner = "4 mm" }'),
    ),
    "misspelt crown": (
        'back = { crown = "70 mm" }',
        'back = { crwon = "70 mm" }',
        ("[section] back.crwon", 'did you mean "crown"?'),
    ),
    "fraction of a step": ("steps = 24", "steps = 24.5", ("[draw] steps = 24.5", "whole number")),
    "steps in quotes": ("steps = 24", 'steps = "24"', ('[draw] steps = "24"', "without quotes")),
    "no steps": ("steps = 24", "steps = 0", ("[draw] steps = 0", "must be 8 or more")),
    "too moist": ("moisture = 9", "moisture = 45", ("moisture = 45", "must be at most 30")),
    "bone dry": ("moisture = 9", "moisture = 1", ("heartwood", "moisture", "5")),
    "negative modulus": (
        'E_L = "9.3 GPa"',
        'E_L = "-9.3 GPa"',
        ('[wood.sapwood] E_L = "-9.3 GPa"', "must be above 0"),
    ),
    "title over two lines": (
        'title = "Practice stave, every key given"',
        'title = "Practice\\nstave"',
        ("title", "one line"),
    ),
    # Wood
    "unknown species": (
        'species = "shagbark hickory"',
        'species = "shagbark hickery"',
        ("backing", "shagbark hickery", "shagbark hickory"),
    ),
    "property the table lacks": (
        'species = "rock elm"\nE_L = "9.3 GPa"',
        'E_L = "9.3 GPa"',
        ("sapwood", "bending_strength", "species"),
    ),
    "impossible Poisson's ratio": (
        'E_L = "9.3 GPa"',
        'E_L = "9.3 GPa"\nnu_RT = 1.9',
        ("sapwood", "nu_RT"),
    ),
    "whole and heartwood": (
        "[wood.sapwood]",
        '[wood.whole]\nspecies = "rock elm"\n[wood.sapwood]',
        ("[wood.whole]", "stands beside [wood.heartwood]", "keep one"),
    ),
    "backing column without its wood": (
        '[wood.backing]\nspecies = "shagbark hickory"\n',
        "",
        ("[limb.upper] backing", "[wood.backing]"),
    ),
    "sapwood without its column": (
        "sapwood   = [6, 6, 5.5, 5, 4.5, 4, 3]\n",
        "",
        ("[limb.lower] sapwood", "differs from the other limb"),
    ),
    # Limbs
    "both and upper": (
        "[limb.lower]",
        "[limb.both]",
        ("[limb.upper]", "stands beside [limb.both]", "[limb.lower]"),
    ),
    "stations not from 0": (
        "station   = [0, 55,",
        "station   = [10, 55,",
        ("[limb.upper] station, value 1 = 10", "must be 0"),
    ),
    "stations not increasing": (
        "[0, 55, 130, 320, 510, 700, 880]",
        "[0, 55, 130, 320, 310, 700, 880]",
        ("[limb.upper] station, value 5 = 310", "must increase", "320 mm"),
    ),
    "column too short": (
        "[33, 30, 23, 21, 18.5, 15.5, 12]",
        "[33, 30, 23, 21, 18.5, 15.5]",
        ("[limb.upper] thickness", "6 values for 7 stations"),
    ),
    "no thickness at the nock": (
        "[33, 30, 23, 21, 18.5, 15.5, 12]",
        "[33, 30, 23, 21, 18.5, 15.5, 0]",
        ("[limb.upper] thickness, value 7 = 0", "above zero"),
    ),
    "negative width": (
        "[31, 31, 35, 33, 28, 21, 13]",
        "[31, 31, -35, 33, 28, 21, 13]",
        ("[limb.upper] width, value 3 = -35", "above zero"),
    ),
    "limb in the wrong unit": (
        'unit = "mm"\n',
        'unit = "in"\n',
        (
            "[limb.upper] station, value 7 = 880",
            "22352 mm (880.0 in) long",
            'unit = "mm" meant?',
            "besides: [limb.upper] width, value 1; [limb.upper] thickness, value 1",
        ),
    ),
    "thin as a hair": (
        "[33, 30, 23, 21, 18.5, 15.5, 12]",
        "[33, 30, 23, 21, 1.85, 15.5, 12]",
        ("[limb.upper] thickness, value 5 = 1.85", "2 mm (0.08 in)"),
    ),
    "limbs that do not meet": (
        '["31 mm", 1.22,',
        '["33 mm", 1.22,',
        ('[limb.lower] width, value 1 = "33 mm"', "station 0", "same value"),
    ),
    "sapwood thicker than the limb": (
        "[6, 6, 5.5, 5, 4.5, 4, 3]",
        "[6, 6, 5.5, 5, 4.5, 4, 11]",
        ("[limb.upper] sapwood, value 7 = 11", "leaves no heartwood", "12 mm (0.47 in) thick"),
    ),
    "lean past reason": (
        "[0, 1, 2, 3, 4, 3, 0]",
        "[0, 1, 2, 3, 75, 3, 0]",
        ("[limb.upper] lean, value 5 = 75", "60 degrees"),
    ),
    "reflex of half the limb": (
        "[0, 0, 1, 3, 9, 17, 28]",
        "[0, 0, 1, 3, 9, 17, 280]",
        ("[limb.upper] reflex, value 7 = 280", "straight line"),
    ),
    "crown too small": (
        'crown = "70 mm"',
        'crown = "15 mm"',
        ('[section] back.crown = "15 mm"', "less than half the width", "larger radius"),
    ),
    "belly corner too large": (
        'belly = "round"',
        'belly = { corner = "9 mm" }',
        ('[section] belly.corner = "9 mm"', "does not fit", "smaller"),
    ),
    # Grip, string, draw
    "hand outside the grip": (
        'hand_at = "-18 mm"',
        'hand_at = "-180 mm"',
        ('[grip] hand_at = "-180 mm"', "outside the grip", "50.8 mm"),
    ),
    "all handle": (
        'stiff_length = "4 in"',
        'stiff_length = "1.6 m"',
        ('[grip] stiff_length = "1.6 m"', "hardly any limb"),
    ),
    "negative handle": (
        'stiff_length = "4 in"',
        'stiff_length = "-4 in"',
        ('[grip] stiff_length = "-4 in"', "0 or more"),
    ),
    "arrow past the tip": (
        'arrow_at = "27 mm"',
        'arrow_at = "27 in"',
        ('[grip] arrow_at = "27 in"', "too far up"),
    ),
    "height and length of the string": (
        'brace_height = "152 mm"',
        'brace_height = "152 mm"\nlength = "1.68 m"',
        ('[string] length = "1.68 m"', "keep one"),
    ),
    "neither height nor length": (
        'brace_height = "152 mm"\n',
        "",
        ("[string]", "needs a brace height or a length"),
    ),
    "string of no stiffness": (
        'stiffness = "42 kN"\n',
        "",
        ("[string]", "needs a stiffness EA"),
    ),
    "strands uncounted": (
        'stiffness = "42 kN"\n',
        'material = "polyester"\n',
        ('[string] material = "polyester"', "strands = 12"),
    ),
    "unknown string": (
        'stiffness = "42 kN"\n',
        'material = "polyster"\nstrands = 12\n',
        ("polyster", 'did you mean "polyester"?'),
    ),
    "breaking load for stiffness": (
        'stiffness = "42 kN"',
        'stiffness = "42 lbf"',
        ('[string] stiffness = "42 lbf"', "not the load"),
    ),
    "brace above draw": (
        'brace_height = "152 mm"',
        'brace_height = "27.5 in"',
        ('[string] brace_height = "27.5 in"',),
    ),
    "brace just above draw": (
        'length = "28 in"\nsteps',
        'length = "7 in"\nsteps',
        ("[string] brace_height", "185 mm", "[draw] length is 178 mm"),
    ),
    "draw in the wrong unit": (
        'length = "28 in"\nsteps',
        'length = "28 mm"\nsteps',
        ('[draw] length = "28 mm"', "between 100 mm (3.94 in) and 1500 mm (59.1 in)"),
    ),
    "draw longer than the bow": (
        'length = "28 in"\nsteps',
        'length = "55 in"\nsteps',
        ('[draw] length = "55 in"', "out of reach"),
    ),
    "string that never tightens": (
        'brace_height = "152 mm"',
        'length = "2.4 m"',
        ('[string] length = "2.4 m"', "loose at full draw"),
    ),
    "string too short": (
        'brace_height = "152 mm"',
        'length = "90 cm"',
        ('[string] length = "90 cm"', "too short"),
    ),
    "steep grain": (
        'run_out = "1 in 30"',
        'run_out = "60 deg"',
        ('[grain] run_out = "60 deg"', '"1 in 25"'),
    ),
    "slope for a length": (
        'at = "340 mm"',
        'at = "1 in 30"',
        ('at = "1 in 30"', "is a slope and must be a length"),
    ),
    # Knots and patches
    "knot beyond the tip": (
        'at = "340 mm"',
        'at = "900 mm"',
        ('knot "A": at = "900 mm"', "beyond the nock", "880 mm"),
    ),
    "knot below the grip": (
        'at = "340 mm"',
        'at = "-340 mm"',
        ('knot "A": at = "-340 mm"', 'limb = "lower"'),
    ),
    "knot wider than the limb": (
        'diameter = "9 mm"',
        'diameter = "41 mm"',
        ('knot "A": diameter = "41 mm"', "only 32.7 mm (1.29 in) wide there"),
    ),
    "knot of no size": (
        'diameter = "9 mm"',
        'diameter = "0 mm"',
        ('knot "A": diameter = "0 mm"', "above 0"),
    ),
    "knot beside the limb": (
        'across = "-5 mm"',
        'across = "-45 mm"',
        ('knot "A": across = "-45 mm"', "outside the limb", "32.7 mm (1.29 in) wide"),
    ),
    "filled without filler": (
        'state = "live"',
        'state = "filled"',
        ('knot "A": state = "filled"', "filler = {"),
    ),
    "unknown filler": (
        '{ E = "2.4 GPa", tension = "38 MPa", shear = "19 MPa" }',
        '"expoxy"',
        ('knot "D": filler = "expoxy"', 'did you mean "epoxy"', '"wood dust and glue"'),
    ),
    "filler in a live knot": (
        'state = "filled"',
        'state = "live"',
        ('knot "D": state = "live"', "has a filler"),
    ),
    "half a filler": (
        ', shear = "19 MPa" }',
        " }",
        ('knot "D": filler.shear', "is missing"),
    ),
    "two of one name": (
        'name = "B"',
        'name = "A"',
        ('decay "A": name = "A"', "another knot or patch"),
    ),
    "overlapping knots": (
        'limb = "lower"\nat = "1 3/8 in"\nface = "left"\nacross = "3 mm"',
        'limb = "upper"\nat = "342 mm"\nface = "back"\nacross = "1 mm"',
        ('knot "D": at = "342 mm"', 'overlaps knot "A"', "one knot"),
    ),
    "patch deeper than the limb": (
        'depth = "5 mm"',
        'depth = "5 cm"',
        ('decay "B": depth = "5 cm"', "deep behind that face"),
    ),
    "patch wider than the limb": (
        'width = "9 mm"\n',
        'width = "9 cm"\n',
        ('decay "B": width = "9 cm"', "wide there"),
    ),
    "patch without a stage": (
        'stage = "moderate"\n',
        "",
        ('decay "B": multipliers', "lacks G, density"),
    ),
    "multiplier above one": (
        "multipliers = { E = 0.8 }",
        "multipliers = { E = 1.8 }",
        ('decay "B": multipliers.E = 1.8', "at most 1"),
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_case_is_refused_in_one_line(
    name: str, complete: str, refused: Callable[[str], CaseError]
) -> None:
    old, new, expected = BROKEN[name]
    assert old in complete
    error = refused(complete.replace(old, new, 1))
    message = str(error)
    assert "\n" not in message
    assert "stave.toml: " in message
    for words in expected:
        assert words in message
    # the same by place, in the same words, for whoever shows it beside its field
    assert error.faults[0].words in message
    assert all(fault.loc or fault.line for fault in error.faults)


@pytest.mark.parametrize("command", ["draw", "assess"])
def test_the_command_ends_with_2_and_one_line(
    command: str, complete: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "stave.toml"
    path.write_text(complete.replace('diameter = "9 mm"', 'diameter = "41 mm"'))
    assert main([command, str(path)]) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert (
        f'{path}: knot "A": diameter = "41 mm": the limb is only 32.7 mm (1.29 in) wide'
        in printed.err
    )
