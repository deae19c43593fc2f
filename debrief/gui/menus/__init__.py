"""Menus and keys."""
