"""What is said before anything sounds."""

from __future__ import annotations

MUTE_FIRST = "Mute all outputs and the amplifiers before anything is routed or played."

CAUTIONS = (
    f"CAUTION {MUTE_FIRST}",
    "        Bring levels up slowly, from nothing; loud sound harms hearing, yours and the audience's.",
    "        Switching phantom power and plugging into open channels thumps: mute first.",
    "        Local rules on noise and electrical work come first, and the licensed people in charge of both.",
)

ON_HEADPHONES = (
    "Begin with the headphones turned down: it starts at -20 dB and never passes -10 dBFS, but an amplifier follows.",
    "Over loudspeakers, mute the show's amplifiers first. Local rules on noise come first, and the licensed people.",
)


def underruns(count: int) -> str:
    """How well the reader kept up, as a sentence."""
    if not count:
        return "no underrun."
    times = "once" if count == 1 else f"{count} times"
    return (
        f"the reader fell behind {times}, and all outputs were silent for a moment each time. "
        "Close other programs, or play from a faster disk."
    )


def tell_preparing() -> None:
    """Say why nothing sounds yet, where the compiled reader has to be made first."""
    from replay.compiled import is_kept
    from replay.terminal import say

    if not is_kept():
        say("Preparing the reader, once for this installation; this takes some seconds.\n")
