"""Showing: theme, words, charts."""
