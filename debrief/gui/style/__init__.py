"""Colours, fonts, shapes, what is remembered."""
