"""`python -m replay`."""


def main() -> None:
    """The `replay` command; an interruption while it is still being loaded is quiet too."""
    try:
        from replay.cli import main as command
    except KeyboardInterrupt:
        raise SystemExit(130) from None
    command()


if __name__ == "__main__":
    main()
