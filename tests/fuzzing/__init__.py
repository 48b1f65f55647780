"""Fuzzing of everything that reads other people's bytes, guided by coverage.

`pip install atheris`, then `python -m tests.fuzzing --minutes 60` tries all targets in turn, `python -m tests.fuzzing
header` one of them. What it finds that reaches new code goes into a scratch folder that the next run begins with; what
breaks is printed, kept there, and belongs into `corpus/TARGET/`, which the tests replay on every machine.
"""
