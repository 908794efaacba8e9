"""Small bows for the tests of sizing."""

from pathlib import Path

CASES = Path(__file__).parents[3] / "cases"
COARSE = "\n[analysis]\nelements_per_limb = 8\nfineness = 0.5\n"


def coarse_ash(folder: Path) -> Path:
    """The shipped ash flatbow with few elements."""
    path = folder / "ash.toml"
    path.write_text((CASES / "ash_flatbow.toml").read_text() + COARSE)
    return path


def strong_bow(folder: Path, *, width: float = 40.0, hold: str = "clamp") -> Path:
    """Uneven limbs of a wood that stays elastic, thickness changing only outside the grip."""
    path = folder / "strong.toml"
    path.write_text(f"""title = "Elastic bow with uneven limbs"
[wood.whole]
species = "European ash"
moisture = 12
E_L = "12 GPa"
compression_proportional_limit = "299 MPa"
compression_plateau = "299 MPa"
compression_strength = "300 MPa"
tension_strength = "400 MPa"
bending_strength = "400 MPa"
[section]
back = "flat"
belly = "flat"
[limb.upper]
unit = "mm"
station   = [0, 60, 64, 300, 560, 850]
width     = [{width}, {width}, {width}, {width}, {0.9 * width}, {0.6 * width}]
thickness = [24, 24, 13, 12.5, 11.5, 10]
[limb.lower]
unit = "mm"
station   = [0, 60, 64, 310, 550, 820]
width     = [{width}, {width}, {width}, {width}, {0.9 * width}, {0.6 * width}]
thickness = [24, 24, 13, 12.6, 11.4, 10]
[grip]
stiff_length = "120 mm"
hold = "{hold}"
[string]
brace_height = "150 mm"
stiffness = "400 kN"
mass = "0 g"
[draw]
length = "650 mm"
steps = 8
{COARSE}""")
    return path


def knotty_bow(folder: Path) -> Path:
    """The elastic bow in weaker wood with a hole in its upper limb."""
    path = strong_bow(folder)
    text = path.read_text().replace('"299 MPa"', '"125 MPa"')
    text = text.replace('"300 MPa"', '"130 MPa"').replace('"400 MPa"', '"130 MPa"')
    text += """
[[knot]]
name = "hole"
limb = "upper"
at = "290 mm"
face = "back"
across = "3 mm"
diameter = "12 mm"
state = "missing"
"""
    path = folder / "knotty.toml"
    path.write_text(text)
    return path
