"""``python -m limbfe``."""

import sys

from limbfe.cli import main

sys.exit(main())
