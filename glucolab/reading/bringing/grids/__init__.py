"""Which cells has a foreign file? Any delimited file or sheet as a grid of text, and where its table lies."""
