"""What do the notebooks say? Sentences of the explorers, the first steps, and what a file would bring."""
