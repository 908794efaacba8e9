"""A shipped case with few elements and steps, for what does not ask how exact its figures are."""

from __future__ import annotations

from pathlib import Path

CASES = Path(__file__).parents[1] / "cases"


def coarse(folder: Path, name: str = "ash_flatbow") -> str:
    """Write the case into `folder` and return its path."""
    text = (CASES / f"{name}.toml").read_text("utf-8").replace("steps = 30", "steps = 8")
    path = folder / f"{name}.toml"
    path.write_text(text + "\n[analysis]\nelements_per_limb = 5\nfineness = 0.5\n", "utf-8")
    return str(path)
