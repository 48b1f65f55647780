"""The command as its users run it, in a process of its own: interruptions, pipes, terminals, and what is loaded.

`check`'s answer is hand-made here (tests/report/shows.py).
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import replay

ROOT = Path(replay.__file__).parent.parent

ANSWERING = """
import sys, types, time
import replay.cli
fake = types.ModuleType("replay.simulate")
def check(show, **how):
    {body}
fake.check = check
sys.modules["replay.simulate"] = fake
import replay
replay.simulate = fake
replay.cli.main()
"""


def command(body: str, *words: str, **how) -> subprocess.Popen:
    environment = {**os.environ, "COLUMNS": "80", "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        [sys.executable, "-c", ANSWERING.format(body=body), *words],
        cwd=ROOT,
        env=environment,
        stdin=subprocess.DEVNULL,
        **{"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **how},
    )


WAITING = "print('working', flush=True)\n    time.sleep(60)"


@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM])
def test_interrupting_the_process(stop):
    process = command(WAITING, "check", "show")
    assert process.stdout.readline() == b"working\n"
    process.send_signal(stop)
    out, err = process.communicate(timeout=30)
    assert (process.returncode, out, err) == (130, b"", b"Interrupted.\n")


def test_threads_at_work_do_not_hold_up_an_interruption():
    body = (
        "from concurrent.futures import ThreadPoolExecutor\n"
        "    work = ThreadPoolExecutor(1).submit(time.sleep, 60)\n"
        "    print('working', flush=True)\n"
        "    work.result()"
    )
    process = command(body, "check", "show")
    assert process.stdout.readline() == b"working\n"
    begun = time.monotonic()
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=30)
    assert process.returncode == 130
    assert time.monotonic() - begun < 30


ANSWER = "from tests.report.shows import report; return report()"


def test_a_reader_that_goes_away_is_no_error():
    process = command(ANSWER, "check", "show")
    process.stdout.close()
    err = process.stderr.read()
    process.stderr.close()
    assert (process.wait(timeout=60), err) == (1, b"")


def test_a_full_disk_behind_standard_output_is_told():
    if not os.path.exists("/dev/full"):
        pytest.skip("this system has no /dev/full")
    with open("/dev/full", "w") as full:
        process = command(ANSWER, "check", "show", stdout=full)
        _, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (2, b"replay: No space left on device\n")


def test_a_terminal_of_another_alphabet_shows_question_marks():
    body = (
        "from tests.report.shows import report, CHANNELS; from dataclasses import replace; "
        "return report(channels=(replace(CHANNELS[0], name='太鼓'), *CHANNELS[1:]))"
    )
    os.environ["PYTHONIOENCODING"] = "ascii:strict"
    try:
        process = command(body, "check", "show")
    finally:
        del os.environ["PYTHONIOENCODING"]
    out, err = process.communicate(timeout=60)
    assert (process.returncode, err) == (1, b"")
    assert b" 1 ??  " in out


def test_help_answers_without_loading_anything_heavy():
    program = (
        "import sys\n"
        "from replay.cli import run\n"
        "assert run(['--help']) == 0\n"
        "print(sorted({'numpy', 'scipy', 'numba', 'soundfile', 'pyloudnorm', 'sounddevice'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_fresh_check_loads_no_package_for_a_handful_of_figures(tmp_path):
    """The weighting's design comes from a package that loads half of scipy: at the usual rates it is written down."""
    program = (
        "import sys\nfrom replay.cli import run\nassert run(['check', 'demo_audio', '--fresh', '--quiet']) == 1\n"
        "print(sorted({'numba', 'scipy.signal', 'pyloudnorm', 'soundfile', 'sounddevice'} & set(sys.modules)))"
    )
    environment = {**os.environ, "REPLAY_CACHE_DIR": str(tmp_path / "cache")}
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, timeout=120, env=environment
    )
    assert done.stdout.splitlines()[-1] == "['numba']"


@pytest.mark.parametrize("kept", [False, True])
def test_routes_loads_nothing_heavy(tmp_path, kept):
    """Where results are kept, they may say what an earlier check heard: that takes arrays, and still no compiler."""
    heavy = {"scipy", "numba", "soundfile", "pyloudnorm", "sounddevice"} | (set() if kept else {"numpy"})
    if kept:
        (tmp_path / "cache" / "kept").mkdir(parents=True)
    program = (
        f"import sys\nfrom replay.cli import run\nassert run(['routes', 'demo_audio']) == 0\n"
        f"print(sorted({heavy!r} & set(sys.modules)))"
    )
    environment = {**os.environ, "REPLAY_CACHE_DIR": str(tmp_path / "cache")}
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, timeout=60, env=environment
    )
    assert done.stdout.splitlines()[-1] == "[]"


def test_python_dash_m_replay():
    done = subprocess.run(
        [sys.executable, "-m", "replay", "--version"], cwd=ROOT, capture_output=True, text=True, timeout=60
    )
    assert re.fullmatch(r"replay \d+\.\d+\.\d+\n", done.stdout)
    assert done.returncode == 0
