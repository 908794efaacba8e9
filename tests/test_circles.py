"""No circle of imports, not even of those that only type checkers follow."""

from __future__ import annotations

from .test_reach import MODULES, imports


def test_no_module_imports_its_way_back_to_itself():
    """Imports inside functions and under TYPE_CHECKING count; modules without any left go first."""
    left = {
        module: {
            f"{source}.{name}" if f"{source}.{name}" in MODULES else source
            for source, name in imports(module)
        }
        - {module}
        for module in MODULES
    }
    while free := [module for module, sources in left.items() if not sources & set(left)]:
        for module in free:
            del left[module]
    assert not left, "each of these imports another of them"
