"""`python -m replay`."""

from replay.cli import main

if __name__ == "__main__":
    main()
