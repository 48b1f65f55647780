"""Reads a show's patch definition: the patch file (TOML) and the input list that it names.

Everything is looked at before anything is told: one PatchError carries all problems of both files, and of those of
the house patches that the patch extends.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from replay.patch.channels import Listing
from replay.patch.extends import PATCH_FILE, house_lists, joined, read_chain
from replay.patch.fields import choice, number, runs, seconds, text, whole, word
from replay.patch.fields import path as path_of
from replay.patch.from_table import InputList, read_list
from replay.patch.kinds import KINDS
from replay.patch.model import OF, Bus, Desk, Headroom, Kind, LineCheckPlan, Patch, Range, Slot, TakeChoice
from replay.patch.problems import Problems, Unfit, span
from replay.patch.tables import Table
from replay.patch.wiring import MOST_TABLES, Wiring, read_wiring, slot_parser
from replay.text import clock, ranges

INPUTS_FILE = "inputs.csv"

_MOST_PLACED = 10_000
_MOST_CHANNEL = 100_000


def read_patch(path: Path) -> Patch:
    """The patch of a show.

    Parameters
    ----------
    path : Path
        A show's folder, with `patch.toml` in it, or a patch file of any name.

    Raises
    ------
    PatchError
        With everything that is wrong in the patch file and in the input list, each with its place.
    """
    problems = Problems()
    file = _patch_file(path)
    chain = read_chain(file, problems)
    if not chain.layers:
        problems.stop_if_any()
    top = Table(chain.layers, problems)

    folder = file.parent
    title = top.read("title", text(200), folder.resolve().name or "untitled")
    rate = top.read("rate", whole(8000, 192000), None)
    for known in ("extends", "house_inputs"):
        top.read(known, lambda name: name, None)  # looked at with the chain
    inputs_path = folder / top.read("inputs", path_of, INPUTS_FILE)
    headroom = _headroom(top.table("headroom"))
    kinds = _kinds(top.table("kind"))
    desk_table = top.table("desk")
    desk = _desk(desk_table)
    wiring = _wiring(top, rate, chain.whole)
    take = _take(top.table("take"), wiring)
    buses, all_buses = _buses(top)
    all_buses = all_buses and chain.whole
    limits_table = top.table("limits")
    limits = _limits(limits_table)
    line_check_table = top.table("line_check")
    line_check = _line_check(line_check_table) if "line_check" in top.raw else None
    top.done()

    own = read_list(inputs_path, problems) or InputList(rows=())
    listed = joined([own, *house_lists(chain, problems)])
    trim_stated = "trim" in desk_table.raw
    listing = Listing(wiring, buses, desk, all_buses=all_buses, trim_stated=trim_stated, problems=problems)
    channels = listing.channels(listed.rows)
    if line_check is not None and channels:
        _order_exists(line_check_table, line_check, {channel.number for channel in channels})
    problems.stop_if_any()
    return Patch(
        title=title,
        path=file,
        folder=folder,
        rate=rate,
        inputs_path=inputs_path,
        take=take,
        headroom=headroom,
        desk=desk,
        kinds=kinds,
        boxes=wiring.boxes,
        links=wiring.links,
        feeds=wiring.feeds,
        buses=buses,
        channels=channels,
        limits=limits,
        told=wiring.told + listed.told,
        line_check=line_check,
        houses=chain.houses,
        house_inputs=tuple(path for path, _ in chain.lists),
        limits_in={name: limits_table.place(name).file or "" for name in limits},
    )


def _patch_file(path: Path) -> Path:
    try:
        return path / PATCH_FILE if path.is_dir() else path
    except (OSError, ValueError):
        # A name that the system does not take; reading it tells why.
        return path


def _wiring(top: Table, rate: int | None, whole_chain: bool) -> Wiring:
    if rate is None and "rate" in top.raw:
        # An unreadable rate is told already; any will do to look at the rest.
        rate = 48000
    return read_wiring(top, rate, whole_chain=whole_chain)


def _take(table: Table, wiring: Wiring) -> TakeChoice:
    start = table.read("from", seconds, None)
    stop = table.read("to", seconds, None)
    if start is not None and stop is not None and start >= stop:
        table.problem("from", f"{clock(start)} is not before to, {clock(stop)}", "from < to")
    placed = table.table("tracks")
    tracks: dict[str, Slot] = {}
    if len(placed.raw) > _MOST_PLACED:
        table.problem("tracks", f"{len(placed.raw)} files are too many", f"at most {_MOST_PLACED}")
    elif wiring.all_links:
        slot = slot_parser(wiring.links)
        for name in placed.raw:
            found = placed.read(name, slot, None)
            if found is not None:
                tracks[name] = found
    choice_ = TakeChoice(
        folder=table.read("folder", path_of, None),
        of=table.read("of", choice(OF), OF[0]),
        from_s=start,
        to_s=stop,
        tracks=tracks,
    )
    table.done()
    return choice_


def _line_check(table: Table) -> LineCheckPlan:
    start = table.read("from", seconds, None)
    stop = table.read("to", seconds, None)
    if start is not None and stop is not None and start >= stop:
        table.problem("from", f"{clock(start)} is not before to, {clock(stop)}", "from < to")
    order = table.read("order", runs(_MOST_CHANNEL), ())
    if len(set(order)) < len(order):
        table.problem("order", "has a channel twice", "each channel once, in the order of the line check")
    table.done()
    return LineCheckPlan(from_s=start, to_s=stop, order=order)


def _order_exists(table: Table, plan: LineCheckPlan, numbers: set[int]) -> None:
    missing = sorted(set(plan.order) - numbers)
    if missing:
        table.problem("order", f"there is no channel {ranges(missing)} in the input list", "channels of the list")


def _headroom(table: Table) -> Headroom:
    headroom = Headroom(show_peak=table.read("show_peak", number(-60, 0), Headroom.show_peak))
    table.done()
    return headroom


def _kinds(table: Table) -> Mapping[str, Kind]:
    """The table of kinds with what the patch says otherwise."""
    kinds = {}
    for name, kind in KINDS.items():
        own = table.table(name)
        stated = own.read("rise", number(-20, 40), None)
        own.done()
        # A rise that the patch states holds in both directions.
        kinds[name] = kind if stated is None else replace(kind, rise=stated, most_rise=None)
    table.done()
    return kinds


def _desk(table: Table) -> Desk:
    # Where the range cannot be read, every trim of the list fits.
    anything = Range(min=-200.0, max=200.0, step=0.001)
    trim = table.range("trim", anything if "trim" in table.raw else Desk.trim)
    table.done()
    if trim.min > 0 or trim.max < 0:
        table.problem("trim", f"{span(trim.min, trim.max)} leaves out 0", "a channel without trim is at 0")
        trim = anything
    return Desk(trim=trim)


def _buses(top: Table) -> tuple[tuple[Bus, ...], bool]:
    table = top.table("bus")
    if len(table.raw) > MOST_TABLES:
        top.problem("bus", f"{len(table.raw)} of them are too many", f"at most {MOST_TABLES}")
        return (), False
    buses: list[Bus] = []
    complete = isinstance(top.raw.get("bus", {}), dict)
    for name, own in table.inner():
        ceiling = own.read("ceiling", number(-60, 0), Bus.ceiling)
        own.done()
        if any(name.casefold() == bus.name.casefold() for bus in buses):
            table.problem(name, "is already the name of a bus", "every name once")
            continue
        try:
            buses.append(Bus(name=word(name), ceiling=ceiling))
        except Unfit as unfit:
            table.problem(name, unfit.message, unfit.hint)
            complete = False
    return tuple(buses), complete


def _limit(value: object) -> float:
    try:
        return number(-1e9, 1e9)(value)
    except Unfit as unfit:
        raise Unfit(unfit.message, "a number") from None


def _limits(table: Table) -> Mapping[str, float]:
    """The limits as numbers; the checks own their names."""
    limits = {}
    for name in table.raw:
        value = table.read(name, _limit, None)
        if value is not None:
            limits[name] = value
    return limits
