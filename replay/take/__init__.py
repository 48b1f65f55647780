"""The take: its files found, opened, put on one clock, and read block by block."""
