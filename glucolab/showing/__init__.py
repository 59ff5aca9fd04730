"""How does it look? Theme, words, charts, and the parts of a page."""
