"""Evidence: comparisons of tracks over time, knowing no patch: who speaks when, which are alike, how each sounds."""
