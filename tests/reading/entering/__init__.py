"""Tests of what is typed by hand."""
