"""What the figures were measured on."""

from __future__ import annotations

import os
import platform
import shutil
import subprocess
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

PACKAGES = ("numpy", "numba", "scipy", "soundfile", "pyebur128", "pyloudnorm")


def description() -> list[str]:
    """Lines about the machine and the versions of everything that is compared."""
    return [
        f"Processor: {_processor()}, {os.cpu_count()} in use; memory {_memory_bytes() / 1e9:.0f} GB",
        f"System: {_system()}, kernel {platform.release()}",
        f"Python {platform.python_version()}; " + ", ".join(f"{name} {_version(name)}" for name in PACKAGES),
        f"{_first_line('ffmpeg', '-version')}; {_first_line('sox', '--version')}",
        f"Load at the start: {os.getloadavg()[0]:.1f} (anything else that runs makes wall times longer)",
    ]


def _processor() -> str:
    try:
        for line in Path("/proc/cpuinfo").read_text().splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip() + _vectors()
    except OSError:
        pass
    return platform.processor() or platform.machine()


def _vectors() -> str:
    flags = Path("/proc/cpuinfo").read_text()
    return next((f" ({name})" for flag, name in (("avx512f", "AVX-512"), ("avx2", "AVX2")) if flag in flags), "")


def _memory_bytes() -> int:
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")


def _system() -> str:
    try:
        return platform.freedesktop_os_release()["PRETTY_NAME"]
    except (OSError, KeyError):
        return platform.system()


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "missing"


def _first_line(*command: str) -> str:
    if shutil.which(command[0]) is None:
        return f"{command[0]} missing"
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    first = (done.stdout or done.stderr).splitlines()[:1]
    return first[0].partition(" Copyright")[0].strip() if first else command[0]
