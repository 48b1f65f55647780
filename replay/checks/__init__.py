"""Checks: small independent functions from the simulated show to findings. Listed in this file."""
