"""Which comparison a call means; each is imported only when it is meant."""

from __future__ import annotations

from replay.compare.options import Options
from replay.errors import CallError, Place, Problem


def run(first: str, second: str, options: Options, *, takes: bool, patches: bool, same_pass: bool) -> int:
    """Compare two takes; two patches where `patches` says so or both are patch files (and `takes` does not say
    otherwise); two recordings of one pass where `same_pass` says so. Returns the exit status."""
    said = [
        word for word, is_said in (("--takes", takes), ("--patches", patches), ("--same-pass", same_pass)) if is_said
    ]
    if len(said) > 1:
        raise CallError(Problem("only one of these can be meant", Place(key=", ".join(said)), "give one"))
    options.tell_unusable()
    if same_pass:
        from replay.compare import recorders

        return recorders.compare(first, second, options)
    if patches or (not takes and _is_patch_file(first) and _is_patch_file(second)):
        from replay.compare import patches as changeover

        return changeover.compare(first, second, options)
    from replay.compare import takes as two_takes

    return two_takes.compare(first, second, options)


def _is_patch_file(name: str) -> bool:
    return name.casefold().endswith(".toml")
