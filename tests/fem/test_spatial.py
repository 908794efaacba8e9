"""The parts of ``scipy.spatial`` that are loaded without it are its own."""

import subprocess
import sys

import pytest

MOVED = """
class Moved:
    def find_spec(self, name, path=None, target=None):
        if name == "scipy.spatial._qhull":
            sys.meta_path.remove(self)
            raise ImportError
sys.meta_path.insert(0, Moved())
"""
"""As where SciPy keeps it in another module."""


@pytest.mark.parametrize("first", ["", "import scipy.spatial", MOVED])
def test_they_are_the_ones_of_scipy(first):
    code = (
        f"import sys\n{first}\n"
        "from limbfe.fem.spatial import Delaunay, cKDTree\n"
        "print('scipy.spatial' in sys.modules)\n"
        "import scipy.spatial, scipy.interpolate\n"
        "print(scipy.spatial.Delaunay is Delaunay, scipy.spatial.cKDTree is cKDTree)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == [str(first != ""), "True", "True"]
