"""No module or function is there for tests alone: each is reached from the doors users have.

Imports inside functions count.  A name taken from a package is followed through its
``__init__`` to the module that defines it, so that an ``__init__`` keeps nothing alive.
"""

from __future__ import annotations

import ast
from functools import cache
from graphlib import TopologicalSorter
from itertools import chain
from pathlib import Path

ROOT = Path(__file__).parents[1]
DOORS = ("limbfe", "limbfe.__main__", "limbfe.api", "limbfe.cli", "limbfe.cli.__main__")


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {name_of(path): path for path in (ROOT / "limbfe").rglob("*.py")}


@cache
def tree(module: str) -> ast.Module:
    return ast.parse(MODULES[module].read_text(encoding="utf-8"))


@cache
def imports(module: str) -> list[tuple[str, str]]:
    """Every (module, name) that a module imports from the package."""
    found = []
    for node in ast.walk(tree(module)):
        if isinstance(node, ast.Import):
            found += [(alias.name, "") for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            found += [(node.module or "", alias.name) for alias in node.names]
    return [(source, name) for source, name in found if source in MODULES]


def defining(source: str, name: str) -> str:
    """The module a name comes from."""
    if f"{source}.{name}" in MODULES:
        return f"{source}.{name}"
    if MODULES[source].name == "__init__.py" and source not in DOORS:
        for inner, known in imports(source):
            if known == name:
                return defining(inner, name)
    return source


def test_every_module_is_reached_from_the_package_itself():
    seen: set[str] = set()
    waiting = list(DOORS)
    while waiting:
        module = waiting.pop()
        if module in seen:
            continue
        seen.add(module)
        waiting += [defining(source, name) for source, name in imports(module)]
    packages = {name for name, path in MODULES.items() if path.name == "__init__.py"}
    assert set(MODULES) - seen - packages == set()


UNNAMED = ["limbfe.defect.plate.profiles.layered", "limbfe.wood.belly.bending_strength"]
"""A third model of a plate's depth, by which the chosen one is checked; what a law means for the
standard bar, said in examples."""


def named(module: str) -> set[str]:
    """Every name that a module loads, or takes from another under a new name."""
    nodes = list(ast.walk(tree(module)))
    loaded = (n.id for n in nodes if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Load))
    reached = (n.attr for n in nodes if isinstance(n, ast.Attribute))
    taken = (a.name for n in nodes if isinstance(n, ast.ImportFrom) for a in n.names if a.asname)
    return {*loaded, *reached, *taken}


def test_no_circle_of_imports_even_for_types():
    needs = {
        module: {f"{s}.{n}" if f"{s}.{n}" in MODULES else s for s, n in imports(module)}
        for module in MODULES
    }
    assert len(tuple(TopologicalSorter(needs).static_order())) == len(MODULES)


def test_every_function_and_class_is_used_by_the_package_itself():
    used = set(chain.from_iterable(map(named, MODULES)))
    used |= {name for source, name in imports("limbfe.api")}
    idle = []
    for module in MODULES:
        for node in tree(module).body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name not in used:
                idle.append(f"{module}.{node.name}")
    idle = [n for n in idle if not n.startswith("limbfe.__")]
    assert sorted(idle) == UNNAMED
