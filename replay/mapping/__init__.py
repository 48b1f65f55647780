"""Patch against evidence: which track carries which source, and how sure that is. Pure."""
