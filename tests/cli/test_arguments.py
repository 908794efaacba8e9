"""Words that do not fit: one line, exit code 2, what is allowed, where to look."""

from __future__ import annotations

import pytest

from limbfe.cli import main
from limbfe.cli.parser import COMMANDS

WORDS = {
    "asess x.toml": ('"asess": no such command; did you mean "assess"?', "limbfe --help"),
    "tune x.toml": ('"tune": no such command', "limbfe --help"),
    "--verson": ('"--verson": no such option; did you mean "--version"?', "limbfe --help"),
    "draw": ("draw: CASE: missing", "limbfe draw --help"),
    "fit x.toml": ("fit: READINGS: missing", "limbfe fit --help"),
    "section x.toml": ("section: --at: missing", "limbfe section --help"),
    "draw x.toml --tp 30": ('draw: "--tp": no such option; did you mean "--to"?', "draw --help"),
    "draw x.toml y.toml": ('draw: "y.toml": one word too many', "limbfe draw --help"),
    "section x.toml --at": ("section: --at: needs a value after it", "limbfe section --help"),
    "section x.toml --at 9 --limb midle": ('--limb "midle": must be upper or lower', "--help"),
    "rules --bows many": ('rules: --bows "many": must be a whole number', "limbfe rules --help"),
    "size x.toml --even --scale": ("--scale: does not go with --even; keep one", "size --help"),
    "size x.toml --s": ("--s: may be --scale, --sapwood; write it in full", "size --help"),
    "chance x.toml --held": ("chance: --held: needs a value after it", "limbfe chance --help"),
    "chance x.toml --bows some": ('--bows "some": must be a whole number', "chance --help"),
    "chance x.toml --sampels 9": (
        '"--sampels": no such option; did you mean "--samples"?',
        "--help",
    ),
    "draw x.toml --json=3": ('draw: --json "3": takes no value', "limbfe draw --help"),
}


@pytest.mark.parametrize("typed", WORDS)
def test_words_that_do_not_fit(typed: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(typed.split()) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.count("\n") == 1
    assert shown.err.startswith("limbfe: ")
    for words in WORDS[typed]:
        assert words in shown.err


def test_a_name_that_would_steer_the_terminal_is_spelt_out(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["draw", "\x1b[31m\u202ered\n\udcff.toml"]) == 2
    assert capsys.readouterr().err == (
        "limbfe: \\x1b[31m\\u202ered\\n\\udcff.toml: no such file; check the name and the folder\n"
    )


@pytest.mark.parametrize("command", ["", *(one.__name__.rpartition(".")[2] for one in COMMANDS)])
def test_help_fits_eighty_columns(
    command: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit) as ended:
        main([*command.split(), "--help"])
    assert ended.value.code == 0
    told = capsys.readouterr().out
    assert told.startswith(f"usage: limbfe {command}".rstrip())
    assert [line for line in told.splitlines() if len(line) > 80] == []
