"""Evidence: comparisons of tracks over time, knowing no patch. Who speaks when, which are alike, what each sounds like."""
