"""Compiling is announced once; machine code kept from an earlier run is loaded in silence."""

from __future__ import annotations

import importlib

from limbfe.fem.compiled import announce_compilation, compiled

SOURCE = """
def double(x):
    return 2.0 * x

def triple(x):
    return 3.0 * x
"""


def test_compiling_is_announced_once_and_loading_is_silent(tmp_path, monkeypatch):
    (tmp_path / "never_compiled_yet.py").write_text(SOURCE)
    monkeypatch.syspath_prepend(tmp_path)
    module = importlib.import_module("never_compiled_yet")
    said: list[list[str]] = []
    for _ in range(2):
        module = importlib.reload(module)
        said.append([])
        with announce_compilation(said[-1].append):
            assert compiled(module.double)(2.0) == 4.0
            assert compiled(module.triple)(2.0) == 6.0
    assert [len(words) for words in said] == [1, 0]
