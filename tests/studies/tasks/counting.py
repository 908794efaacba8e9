"""Work for the tests of `run_tasks`, importable by other processes."""

import sys
import time
from pathlib import Path

from limbfe.studies.tasks.run import run_tasks

NAMES = [f"n{k:02d}" for k in range(12)]
ITEMS = {name: (k, 0.3) for k, name in enumerate(NAMES)}
LONG = {name: (k, 0.0 if k < 2 else 60.0) for k, name in enumerate(NAMES)}


def slow_square(item: tuple[int, float]) -> dict[str, int]:
    number, seconds = item
    time.sleep(seconds)
    return {"square": number * number}


if __name__ == "__main__":

    def tell(done: int, total: int) -> None:
        print(done, flush=True)

    items = LONG if "long" in sys.argv else ITEMS
    try:
        run_tasks(
            slow_square,
            LONG if "long" in sys.argv else ITEMS,
            study="squares",
            workers=2,
            journal=Path(sys.argv[1]),
            tell=tell,
        )
    except KeyboardInterrupt:
        sys.exit(130)
