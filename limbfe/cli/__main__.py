"""``python -m limbfe.cli``."""

import sys

from limbfe.cli import command

if __name__ == "__main__":
    sys.exit(command())
