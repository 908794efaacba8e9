"""Every command the README shows can be typed, and every command there is stands in it."""

import re
import shlex
from pathlib import Path

import pytest

from limbfe.cli.parser import COMMANDS, build_parser

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
SHOWN = sorted(set(re.findall(r"`limbfe ([a-z]+ [^`]+)`", README)))


@pytest.mark.parametrize("line", SHOWN)
def test_a_command_that_is_shown_can_be_typed(line):
    words = shlex.split(re.sub(r"\[[A-Z]+\]", "", line))
    options = build_parser().parse_args(words)
    assert options.command == words[0]
    for word in words:
        if word.startswith("cases/"):
            assert list(ROOT.glob(word)), word


def test_every_command_is_shown():
    names = {command.__name__.rsplit(".", 1)[1] for command in COMMANDS}
    assert {line.split()[0] for line in SHOWN} == names


def test_what_the_readme_links_to_is_there():
    links = re.findall(r'\]\(([^)#]+)\)|<img src="([^"]+)"', README)
    paths = [one or two for one, two in links if not (one or two).startswith("http")]
    assert paths
    assert all((ROOT / path).exists() for path in paths)
