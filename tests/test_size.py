"""Functions take what can be taken in at a glance: seven parameters, more are a group with a name.

Compiled kernels may take more, the arrays of one loop.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "limbfe"
MOST = 7
GOING = {"submodel.build_model", "window_places.window_centres"}
"""Of the plane layers, which the layered plate replaces."""


def long_ones() -> Iterator[str]:
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                kernel = any("compiled" in ast.unparse(one) for one in node.decorator_list)
                given = node.args
                names = [one.arg for one in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
                if len(names) - (names[:1] in (["self"], ["cls"])) > MOST and not kernel:
                    yield f"{path.stem}.{node.name}"


def test_no_function_takes_more_than_seven():
    assert set(long_ones()) <= GOING
