"""What changed between two: two takes of one show, two patches at a changeover, two recorders' recordings of one pass.

`run` decides which of these a call means. Each has a module of its own with `compare(first, second, options)`, which
prints its answer and returns the exit status: 0 nothing worse, 1 something worse or new, 2 not answered.
"""
