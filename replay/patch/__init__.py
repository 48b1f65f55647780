"""The patch definition: read, validated, and turned into routes."""
