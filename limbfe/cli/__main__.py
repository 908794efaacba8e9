"""``python -m limbfe.cli``."""

import sys

from limbfe.cli import main

sys.exit(main())
