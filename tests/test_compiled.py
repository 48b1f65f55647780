"""The folder of compiled code is named by the sources of all kernels."""

from __future__ import annotations

from pathlib import Path

import replay
from replay.compiled import MEASURING, OTHER_KERNELS


def test_every_source_with_a_kernel_is_in_the_name() -> None:
    package = Path(replay.__file__).parent
    named = {path for pattern in (*MEASURING, *OTHER_KERNELS) for path in package.glob(pattern)}
    kernels = {path for path in package.rglob("*.py") if "\n@kernel\n" in path.read_text()}
    assert len(kernels) > 10
    assert kernels <= named
