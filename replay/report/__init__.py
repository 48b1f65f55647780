"""Report formats: they turn the result into something to look at, and compute nothing."""
