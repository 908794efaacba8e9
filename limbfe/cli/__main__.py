"""``python -m limbfe.cli``."""

import sys

from limbfe.cli import main

if __name__ == "__main__":
    sys.exit(main())
