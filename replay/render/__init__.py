"""Writes the modeled channels and buses as wave files, or the take as if it had been recorded at other gains."""
