"""How often each fault is found, and how often something healthy is told as one: measured, and written to a table.

    faults (planted at random places and amounts) --> material --> replay check --> found, missed, false --> table

`python -m tests.detection` runs a few seeds and prints; `--write docs/detection.md` fills in the table there. The
seeds, kits and voices of the table (TABLE) are others than those that the checks' limits were chosen with (TUNING). A
new fault is one function in a module of PLANTERS.
"""
