"""How often the mapping is told right: takes with known truth, many cases from each, a table of rates.

Run `python -m tests.mapping_rates` for the table (`--write docs/mapping.md` puts it into the page). Takes are built
from the sampled instruments of `tests.material`; nothing that makes them shares code with `replay`. The bands, seeds,
drum kits and voices of the table are those of `bands.TABLE`; the limits of the rule were chosen on `bands.TUNING` only.
"""
