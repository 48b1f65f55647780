"""Checks: small independent functions from the simulated show to findings. Listed in this file.

Every module of this folder is a check, named as its code; what checks share lies in `shared/`. A new one is a module
(see `shared.page.Check` for what it needs), imported and listed in CHECKS.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from replay.checks import (
    bus_over,
    buzz,
    channel_count,
    click,
    clipped,
    clock_slip,
    crackle,
    cuts_out,
    dc_offset,
    depth_mismatch,
    dropout,
    duplicate,
    empty_file,
    extra_track,
    flat_topped,
    gain_moved,
    hot,
    hum,
    input_over,
    length_mismatch,
    low,
    moved_block,
    name_mismatch,
    no_track,
    noise,
    noise_only,
    not_a_number,
    not_raw,
    not_recorded,
    old_take,
    one_side_dead,
    over_full_scale,
    polarity,
    rate_mismatch,
    return_mismatch,
    rf_mute,
    ringing,
    segment_missing,
    shared_socket,
    shifted,
    silent,
    stale_confirmation,
    still_recording,
    swapped,
    thump,
    time_offset,
    track_clash,
    track_order,
    truncated,
    unexpected_signal,
    unfed_channel,
    unlikely_source,
    unread_confirmation,
    unreadable,
    wrong_by_ear,
    wrong_return,
    wrong_speed,
)
from replay.checks.shared.limit import Limit, in_force, nearest
from replay.checks.shared.page import Check, as_text
from replay.desk.model import Show
from replay.errors import CallError, Problem
from replay.findings.finding import Finding

CHECKS: tuple[Check, ...] = (
    # Is the recording whole and playable?
    unreadable,
    truncated,
    empty_file,
    segment_missing,
    track_clash,
    not_a_number,
    rate_mismatch,
    depth_mismatch,
    length_mismatch,
    wrong_speed,
    track_order,
    still_recording,
    old_take,
    # Is every channel fed by the track that the patch says?
    swapped,
    shifted,
    moved_block,
    wrong_by_ear,
    name_mismatch,
    duplicate,
    unlikely_source,
    channel_count,
    no_track,
    extra_track,
    unexpected_signal,
    not_recorded,
    return_mismatch,
    wrong_return,
    shared_socket,
    unfed_channel,
    stale_confirmation,
    unread_confirmation,
    # What is dead?
    silent,
    noise_only,
    cuts_out,
    one_side_dead,
    polarity,
    time_offset,
    # What is sick?
    clock_slip,
    dropout,
    click,
    flat_topped,
    crackle,
    rf_mute,
    ringing,
    not_raw,
    hum,
    buzz,
    thump,
    noise,
    dc_offset,
    gain_moved,
    # What level does every channel get?
    clipped,
    over_full_scale,
    input_over,
    bus_over,
    hot,
    low,
)
"""All checks, in the order of the questions that they answer and of docs/findings.md."""

LIMITS: Mapping[str, Limit] = {name: limit for check in CHECKS for name, limit in check.LIMITS.items()}


OF_IDENT: tuple[Check, ...] = (unreadable, truncated, empty_file, segment_missing, rate_mismatch, wrong_return)
"""What is asked of a recorded-back ident take: its bursts are no music, and most of every track is rightly silent."""


def find_all(show: Show) -> list[Finding]:
    """What every check finds, unsettled, in the order of CHECKS; no two have the same id."""
    findings: list[Finding] = []
    seen: dict[str, int] = {}
    for check in CHECKS if show.returns_heard is None else OF_IDENT:
        for finding in check.check(show):
            number = seen[finding.id] = seen.get(finding.id, 0) + 1
            if number > 1:
                # Names of files can be alike once they are made fit for an id.
                finding = replace(finding, key="-".join(filter(None, [finding.key, str(number)])))
                seen[finding.id] = 1
            findings.append(finding)
    return findings


def explain(code: str) -> str:
    """The manual page of a finding; CallError, with the nearest code, where there is none of that name."""
    for check in CHECKS:
        if code == check.CODE:
            return as_text(check)
    known = [check.CODE for check in CHECKS]
    raise CallError(Problem(f"there is no finding '{code}'", hint=nearest(code, known)))


def default_limits() -> dict[str, float]:
    """Every limit's default by name."""
    return in_force(LIMITS, {})


def limits_of(written: Mapping[str, object], file: str | Mapping[str, str] | None = None) -> dict[str, float]:
    """The limits in force under a patch whose `[limits]` table holds `written`.

    Raises PatchError (place: `file`, key `limits.NAME`) with every unknown name and every value that makes no sense.
    """
    return in_force(LIMITS, written, file)
