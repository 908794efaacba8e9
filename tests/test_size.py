"""Functions take what can be taken in at a glance: seven parameters, more are a group with a name.

Compiled kernels may take more, the arrays of one loop.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator

from .test_reach import MODULES, tree

MOST = 7
GOING = {"window_places.window_centres"}
"""Of the plane layers, which the layered plate replaces."""


def long_ones() -> Iterator[str]:
    for module in MODULES:
        for node in ast.walk(tree(module)):
            if isinstance(node, ast.FunctionDef):
                kernel = any("compiled" in ast.unparse(one) for one in node.decorator_list)
                given = node.args
                names = [one.arg for one in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
                if len(names) - (names[:1] in (["self"], ["cls"])) > MOST and not kernel:
                    yield f"{module.rpartition('.')[2]}.{node.name}"


def test_no_function_takes_more_than_seven():
    assert set(long_ones()) <= GOING
