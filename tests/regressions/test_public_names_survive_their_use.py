"""A subpackage named like a function of the package once replaced it on the first call."""

from pathlib import Path

import limbfe

CASE = Path(__file__).parents[2] / "cases" / "ash_flatbow.toml"


def test_every_function_can_be_called_twice():
    case = limbfe.read_case(CASE)
    for _ in range(2):
        assert limbfe.section_at(case, 0.3).stiffness.shape == (6, 6)
        for name in limbfe.__all__:
            assert name == "__version__" or callable(getattr(limbfe, name))
