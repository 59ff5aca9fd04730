"""How is it said? Every sentence that holds a figure, one place, from tables and summaries."""
