"""The bench: what a check costs, beside what other tools cost on the same files. `python -m tests.bench --help`.

The process that starts the others imports nothing but the standard library and stays small: a child's peak memory, as
the system counts it, is never less than that of the process that started it.
"""
