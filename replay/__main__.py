"""`python -m replay`."""

import gc
import os

COLLECT_AFTER = 200_000
"""Objects made before Python looks for cycles among them. A command makes few cycles and ends soon; looking through all
that the compiler's package has loaded took 0.2 s of a check of 9 s, with every thread waiting."""


def main() -> None:
    """The `replay` command; an interruption while it is still being loaded is quiet too."""
    gc.set_threshold(COLLECT_AFTER, 20, 100)
    # Threads of numpy's linear algebra gain nothing on our small sums, and spin at the cost of those that measure.
    for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
        os.environ.setdefault(name, "1")
    try:
        from replay.cli import main as command
    except KeyboardInterrupt:
        raise SystemExit(130) from None
    command()


if __name__ == "__main__":
    main()
