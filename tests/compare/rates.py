"""How often a microphone that lost 6 dB is found, and what else is claimed: `python -m tests.compare.rates`.

The same songs on evenings of other hands, each player louder or softer by 2 dB as a rule. On the second evening every
microphone in turn loses 6 dB; the others stay as they are. Then evenings to which nothing happened are held against
each other, both ways. Takes a few minutes.
"""

from __future__ import annotations

import os
import tempfile
from itertools import permutations
from pathlib import Path

import numpy as np
import soundfile

from replay.compare.put_together import compare
from replay.compare.sides import Side
from replay.simulate import check
from tests.compare.evenings import Evening, evening, first
from tests.compare.test_two_evenings import some_play_louder
from tests.material.show import write_show

INPUTS, LOST_DB, EVENINGS = 32, 6.0, 4


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder, kept = Path(name), Path(name) / "kept"
        base = first(INPUTS)
        shows = [
            write_show(folder / str(number), evening(base, Evening(hands=30 + number, loud=some_play_louder(number))))
            for number in range(EVENINGS)
        ]
        sides = [Side(letter="A", name=show.name, report=check(show, kept_in=kept)) for show in shows]
        told = [one for a, b in permutations(sides, 2) for one in compare(a, b).told]
        worse, rest = sum(one.worse for one in told), sorted({one.code for one in told if not one.worse})
        print(
            f"{INPUTS * EVENINGS * (EVENINGS - 1)} channels compared with nothing changed: {worse} called worse, "
            f"{len(told) - worse} notes ({', '.join(rest)})"
        )
        files = sorted((shows[1] / "audio").iterdir())
        found = others = asked = 0
        for view in sides[1].report.show.channels:
            channel = view.channel
            if channel.input != "mic" or channel.kind in ("talkback", "other", "ambience"):
                continue
            file = files[channel.number - 1]
            whole, times = file.read_bytes(), file.stat()
            samples, rate = soundfile.read(file)
            soundfile.write(file, samples * np.float64(10 ** (-LOST_DB / 20)), rate, "PCM_24")
            told = compare(sides[0], Side(letter="B", name="1", report=check(shows[1], kept_in=kept))).told
            asked += 1
            found += any(one.worse and channel.number in one.channels for one in told)
            others += sum(one.worse and channel.number not in one.channels for one in told)
            file.write_bytes(whole)
            os.utime(file, ns=(times.st_atime_ns, times.st_mtime_ns))
        print(
            f"{asked} microphones that lost {LOST_DB:g} dB, one at a time: {found} found, {others} others called worse"
        )


if __name__ == "__main__":
    main()
