"""SciPy's triangulation and its tree of points, without the rest of ``scipy.spatial``.

The package itself loads rotations, distances and special functions too: a twentieth of the time of
drawing a bow with a knot.  These two live in modules of their own, which need none of that; where
SciPy has moved them, they come with all of it.
"""

from __future__ import annotations

import sys
from importlib.util import find_spec, module_from_spec
from typing import Any


def _load() -> tuple[Any, Any]:
    package = "scipy.spatial"
    spec = None if package in sys.modules else find_spec(package)
    if spec is not None:
        sys.modules[package] = module_from_spec(spec)  # there, but not run
        try:
            from scipy.spatial._ckdtree import cKDTree
            from scipy.spatial._qhull import Delaunay

            return Delaunay, cKDTree
        except ImportError:
            pass
        finally:
            del sys.modules[package]
    from scipy.spatial import Delaunay, cKDTree

    return Delaunay, cKDTree


Delaunay, cKDTree = _load()
