"""A whole show on disk: the patch definition that matches a recording, and its take. Written as text, line by line."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from tests.material.recording import Input, Recording
from tests.material.take import Plan, write

COLUMNS = ("channel", "name", "kind", "use", "input", "mic", "box", "socket", "gain", "pad", "phantom")
COLUMNS += ("trim", "polarity", "pair", "pairing", "return", "bus", "note")
DIGITAL_BOX = "rack"


def inputs_csv(inputs: list[Input]) -> str:
    """The input list."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\n")
    writer.writeheader()
    for one in inputs:
        writer.writerow(
            {
                "channel": one.number,
                "name": one.name,
                "kind": one.kind,
                "use": one.use,
                "input": one.input,
                "box": one.box,
                "socket": one.socket,
                "gain": "" if one.gain is None else one.gain,
                "phantom": one.phantom,
                "trim": f"{one.trim:g}" if one.trim else "",
                "polarity": one.polarity,
                "pair": one.pair or "",
                "pairing": one.pairing,
                "note": one.note,
            }
        )
    return out.getvalue()


def feeds(inputs: list[Input]) -> list[tuple[str, int, int, int]]:
    """Runs of sockets onto runs of slots, as (box, first socket, first slot, length); slot = place in the list."""
    runs: list[tuple[str, int, int, int]] = []
    for slot, one in enumerate(inputs, start=1):
        if runs:
            box, socket, first, length = runs[-1]
            if one.box == box and one.socket == socket + length and slot == first + length:
                runs[-1] = (box, socket, first, length + 1)
                continue
        runs.append((one.box, one.socket, slot, 1))
    return runs


def _span(first: int, length: int) -> str:
    return str(first) if length == 1 else f"{first}-{first + length - 1}"


def patch_toml(recording: Recording, *, of: str = "show", title: str = "Mill Yard barn dance", more: str = "") -> str:
    """The patch: boxes as large as their highest socket asks, one link, the feeds. `more` is appended as it is
    (tables), lines of `more` before its first table go to the top."""
    inputs = recording.inputs
    top, _, tables = more.partition("[")
    lines = [f'title = "{title}"', f"rate = {recording.rate}", 'inputs = "inputs.csv"', top.strip(), ""]
    lines += ["[take]", 'folder = "audio"', f'of = "{of}"', ""]
    for box in dict.fromkeys(one.box for one in inputs):
        highest = max(one.socket for one in inputs if one.box == box)
        lines += ["[[box]]", f'name = "{box}"', f"sockets = {-(-highest // 8) * 8}"]
        if box != DIGITAL_BOX:
            lines += ["gain = { min = 0, max = 60, step = 1 }", "pad = 20"]
        lines.append("")
    lines += ["[[link]]", 'name = "main"', f"slots = {-(-len(inputs) // 8) * 8}", ""]
    for box, socket, slot, length in feeds(inputs):
        lines += ["[[feed]]", f'box = "{box}"', f'sockets = "{_span(socket, length)}"', 'link = "main"']
        lines += [f'slots = "{_span(slot, length)}"', 'point = "preamp"', ""]
    if tables:
        lines.append("[" + tables)
    return "\n".join(lines) + "\n"


def write_show(
    folder: Path,
    recording: Recording,
    form: str = "mono",
    encoding: str = "s24",
    *,
    of: str = "show",
    more: str = "",
    plan: Plan | None = None,
    cuts_s: tuple[float, ...] = (),
    metadata: bool = False,
) -> Path:
    """Write patch.toml, inputs.csv and audio/ into `folder`; the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "patch.toml").write_text(patch_toml(recording, of=of, more=more), encoding="utf-8")
    (folder / "inputs.csv").write_text(inputs_csv(recording.inputs), encoding="utf-8")
    write(folder / "audio", recording, form, encoding, plan=plan, cuts_s=cuts_s, metadata=metadata)
    return folder
