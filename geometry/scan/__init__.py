"""Scanned teeth: reading, mending, finding their axes, cervix and crest."""
