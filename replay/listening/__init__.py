"""The work of the commands that hear, play, confirm and write a take; as in `replay.commands`, each function takes what
was typed, says its answer on standard output, and hands back the exit status.
"""
