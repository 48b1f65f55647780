"""Findings: what one is, which swallows which, and the answer that they make. It knows no check."""
