"""Rehearsals walked through the pages in a browser, by a thumb that counts its taps."""
