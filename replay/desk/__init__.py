"""The desk: measurements put through the patch."""
