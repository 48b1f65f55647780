"""Channels signed off by ear: what was answered, about which take, kept in the show's folder."""
