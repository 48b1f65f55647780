"""How large the bench's takes are."""

from __future__ import annotations

from dataclasses import dataclass

RATE = 48000
BYTES = 3

CHECKS = ("fresh", "kept", "what-if")
ON_MAIN = ("read", "decode", "ebur128", "astats", "sox", "libebur128", "pyloudnorm", "profile", "growth", *CHECKS)
ALWAYS = (*ON_MAIN, "polyphonic", "start", "first-run", "hour")


@dataclass(frozen=True)
class Spec:
    """A show: `tracks` tracks of `minutes`, of which `real` are files of their own and the others links to them. `form`
    is mono, polyphonic, or of=NAME (all links to another show's files). `used_by` are the parts that read it."""

    name: str
    minutes: float
    tracks: int
    real: int
    form: str
    used_by: tuple[str, ...]

    @property
    def samples(self) -> int:
        return round(self.minutes * 60 * RATE) * self.tracks

    @property
    def bytes(self) -> int:
        """On disk."""
        return 0 if self.form.startswith("of=") else round(self.minutes * 60 * RATE) * self.real * BYTES

    @property
    def words(self) -> str:
        """As `tests.bench.shows` takes it."""
        return f"{self.name}:{self.minutes!r}:{self.tracks}:{self.real}:{self.form}"


@dataclass(frozen=True)
class Plan:
    """One size of bench. `core_s` seconds of music are recorded, of which longer takes are made; `growing` are the
    growth table's shows in its order; `repeat` says whether what is quick is run several times."""

    quick: bool
    core_s: float
    repeat: bool
    specs: tuple[Spec, ...]
    growing: tuple[str, ...]

    def spec(self, name: str) -> Spec:
        return next(spec for spec in self.specs if spec.name == name)

    @property
    def main_minutes(self) -> float:
        return self.spec("main").minutes

    @property
    def main_tracks(self) -> int:
        return self.spec("main").tracks

    @property
    def main_samples(self) -> int:
        return self.spec("main").samples


def _main(minutes: float) -> tuple[Spec, ...]:
    return (
        Spec("second", 1 / 60, 56, 56, "mono", ALWAYS),
        # Long enough for moments that are heard again: what compares them is compiled as well.
        Spec("short", 0.5, 16, 16, "mono", ALWAYS),
        Spec("main", minutes, 56, 56, "mono", ON_MAIN),
        Spec("polyphonic", minutes, 56, 56, "polyphonic", ("polyphonic", "profile")),
        *(Spec(start_of(tracks), 1 / 60, tracks, 0, "of=second", ("growth",)) for tracks in (8, 32, 128)),
    )


def start_of(tracks: int) -> str:
    """The show of so many tracks of one second, whose check is the fixed cost of checking so many tracks."""
    return "second" if tracks == 56 else f"second x {tracks}"


FULL = Plan(
    quick=False,
    core_s=90.0,
    repeat=True,
    specs=(
        *_main(5.0),
        Spec("5x8", 5.0, 8, 0, "of=main", ("growth",)),
        Spec("5x32", 5.0, 32, 0, "of=main", ("growth",)),
        Spec("5x128", 5.0, 128, 0, "of=main", ("growth",)),
        Spec("1x56", 1.0, 56, 56, "mono", ("growth",)),
        Spec("20x56", 20.0, 56, 16, "mono", ("growth",)),
        Spec("60x56", 60.0, 56, 8, "mono", ("hour",)),
    ),
    growing=("1x56", "5x8", "5x32", "main", "5x128", "20x56", "60x56"),
)

QUICK = Plan(
    quick=True,
    core_s=30.0,
    repeat=False,
    specs=(
        *_main(1.0),
        Spec("1x8", 1.0, 8, 0, "of=main", ("growth",)),
        Spec("1x128", 1.0, 128, 0, "of=main", ("growth",)),
        Spec("3x56", 3.0, 56, 8, "mono", ("hour",)),
    ),
    growing=("1x8", "main", "1x128", "3x56"),
)
