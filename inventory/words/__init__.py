"""Figures, days, crates, rooms and refusals in words, in the reader's language.

What a person reads is made here, late; templates reach it through templatetags/words.py.
"""
