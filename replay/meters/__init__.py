"""Meters: measurements of one track's samples, knowing no patch."""
