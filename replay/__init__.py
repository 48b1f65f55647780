"""Replays recorded multitracks through a modeled patch and says whether the recording can be trusted."""
