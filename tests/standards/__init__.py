"""Published test signals and figures, through the same code that `check` uses, from WAV files on disk.

The signals are synthesised from the documents' own words; no file of theirs is here, since their licences forbid it.
"""
