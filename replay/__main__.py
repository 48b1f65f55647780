"""`python -m replay`."""

import os


def main() -> None:
    """The `replay` command; an interruption while it is still being loaded is quiet too."""
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
